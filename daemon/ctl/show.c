// SPDX-License-Identifier: MIT
#include "daemon/ctl/show.h"
#include <math.h>

#define TAIL 6 /* of base 16: one in 16 million for two at random; the daemon refuses a tail that fits two */
#define ABSURD_G 1e6
#define FINE_MG 2000 /* an uncertainty below this is shown to a tenth of a gram, or hundredth of an ounce */
#define OUNCE_MG 28349.523125 /* NIST SP 811, appendix B.8: exact */
#define POUND_MG 453592.37    /* the same */

const char *show_mass(char buffer[SHOW_SIZE], int64_t mg, enum quantity_unit unit)
{
	char *at = buffer;
	size_t size = SHOW_SIZE;

	if (mg < 0) {
		*at++ = '-';
		size--;
		mg = -mg;
	}
	(void)quantity_format(at, size, mg, 0, unit);
	return buffer;
}

const char *show_about(char buffer[SHOW_SIZE], int64_t mg, enum quantity_unit unit)
{
	if (unit == QUANTITY_GRAMS && mg >= 10000)
		mg = (mg + 500) / 1000 * 1000;
	return show_mass(buffer, mg, unit);
}

const char *show_heavy(char buffer[SHOW_SIZE], int64_t mg, enum quantity_unit unit)
{
	if (unit == QUANTITY_GRAMS)
		(void)snprintf(buffer, SHOW_SIZE, "%.4g kg", (double)mg / 1e6);
	else
		(void)snprintf(buffer, SHOW_SIZE, "%.3g lb", (double)mg / POUND_MG);
	return buffer;
}

/* Without the sign of a zero: "-0" says nothing. */
static double rounded(double value, int decimals)
{
	double step = pow(10, -decimals);

	return fabs(value) < step / 2 ? 0 : value;
}

const char *show_gain(char buffer[SHOW_SIZE], int64_t mg, int64_t u_mg, enum quantity_unit unit, const char *plus_minus)
{
	bool grams = unit == QUANTITY_GRAMS;
	int decimals = (grams ? 0 : 1) + (u_mg < FINE_MG ? 1 : 0);
	double each = grams ? 1000 : OUNCE_MG, gain = rounded((double)mg / each, decimals);
	int n = snprintf(buffer, SHOW_SIZE, gain > 0 ? "+%.*f" : "%.*f", decimals, gain);

	if (plus_minus && n > 0 && n < SHOW_SIZE)
		n += snprintf(buffer + n, (size_t)(SHOW_SIZE - n), " %s %.*f", plus_minus, decimals, (double)u_mg / each);
	if (n > 0 && n < SHOW_SIZE)
		(void)snprintf(buffer + n, (size_t)(SHOW_SIZE - n), grams ? " g" : " oz");
	return buffer;
}

int64_t show_mg(double grams)
{
	if (!(fabs(grams) < ABSURD_G))
		return 0;
	return llround(grams * 1000);
}

const char *show_plus_minus(bool utf8)
{
	return utf8 ? "\xc2\xb1" : "+-";
}

const char *show_link(const char *state)
{
	static const char *const words[][2] = {
		{ "subscribed", "connected" },  { "away", "away" },
		{ "lost", "asleep" },           { "seen", "connecting" },
		{ "connecting", "connecting" }, { "resolving", "connecting" },
		{ "waiting", "trying again" }, { "listening", "listening" },
	};

	for (size_t i = 0; i < sizeof words / sizeof *words; i++)
		if (strcmp(words[i][0], state) == 0)
			return words[i][1];
	return state;
}

const char *show_tail(const char *id)
{
	size_t n = strlen(id);

	return n > TAIL ? id + n - TAIL : id;
}
