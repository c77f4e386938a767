// SPDX-License-Identifier: MIT
#include "daemon/litter/concern_text.h"
#include "daemon/weigh/quantity.h"
#include <math.h>
#include <stdio.h>

#define HOUR_MS 3600000.0
#define IN_HOURS 96 /* longer spans are told in days */

/* 24 bytes hold any of these. */
#define PRINT(ret, ...) ((void)snprintf((ret).text, sizeof(ret).text, __VA_ARGS__))

struct concern_text concern_text_mass(int64_t mg)
{
	struct concern_text ret = { 0 };

	(void)quantity_format(ret.text, sizeof ret.text, mg, 1000, QUANTITY_GRAMS);
	return ret;
}

struct concern_text concern_text_believed(double g)
{
	return concern_text_mass(g > 0 && g < 1e9 ? (int64_t)llround(g) * 1000 : 0);
}

struct concern_text concern_text_change(int64_t mg)
{
	struct concern_text ret, mass = concern_text_mass(mg < 0 ? -mg : mg);

	PRINT(ret, "%s%.22s", mg > 0 ? "+" : mg < 0 ? "-" : "", mass.text);
	return ret;
}

struct concern_text concern_text_change_pct(double pct)
{
	struct concern_text ret;
	double tenths = (double)llround(10 * fmin(1e6, fmax(-1e6, pct)));

	PRINT(ret, tenths > 0 || tenths < 0 ? "%+.1f %%" : "%.1f %%", tenths / 10);
	return ret;
}

static double hours(int64_t ms)
{
	return (double)ms / HOUR_MS;
}

struct concern_text concern_text_age(int64_t ms)
{
	struct concern_text ret;

	if (hours(ms) < IN_HOURS)
		PRINT(ret, "at hour %.0f", hours(ms));
	else
		PRINT(ret, "on day %.0f", floor(hours(ms) / 24));
	return ret;
}

struct concern_text concern_text_span(int64_t ms)
{
	struct concern_text ret;

	if (hours(ms) < IN_HOURS)
		PRINT(ret, "%.0f h", hours(ms));
	else
		PRINT(ret, "%.0f days", hours(ms) / 24);
	return ret;
}

struct concern_text concern_text_sure(double p)
{
	struct concern_text ret;

	if (p > 0.99)
		PRINT(ret, "over 99 %% sure");
	else
		PRINT(ret, "%.0f %% sure", 100 * fmax(0, p));
	return ret;
}
