// SPDX-License-Identifier: MIT
#include "daemon/ctl/when.h"
#include "daemon/weigh/quantity.h"
#include <inttypes.h>
#include <stdbool.h>

/* Clocks of two programs on one machine agree; a time typed as the minute turns may still be ahead. */
#define AHEAD_MS INT64_C(60000)
#define FARTHEST_MS (INT64_C(400) * 24 * 3600 * 1000) /* a slip in the year lies beyond */
#define NEAR_DAYS 6 /* a weekday's name is that of one day before and one after */
#define EARLIEST_S INT64_C(946684800) /* 2000-01-01T00:00:00Z, as in quantity.h */

struct civil {
	int year, month, day, hour, minute, second;
};

static struct tm local(int64_t ms)
{
	time_t s = (time_t)((ms - (ms % 1000 + 1000) % 1000) / 1000);
	struct tm tm = { 0 };

	(void)localtime_r(&s, &tm); /* fails for years beyond an int alone */
	return tm;
}

static bool shows(const struct tm *tm, const struct civil *c)
{
	return tm->tm_year == c->year - 1900 && tm->tm_mon == c->month - 1 && tm->tm_mday == c->day &&
	       tm->tm_hour == c->hour && tm->tm_min == c->minute && tm->tm_sec == c->second;
}

/* The instant at which local clocks show c: of several the latest up to now, else the earliest. */
static enum when_outcome instant(const struct civil *c, int64_t now_ms, int64_t *ret_ms)
{
	static const int dst[] = { 0, 1, -1 };
	bool found = false;
	int64_t best = 0;

	for (size_t i = 0; i < sizeof dst / sizeof *dst; i++) {
		struct tm tm = {
			.tm_year = c->year - 1900,
			.tm_mon = c->month - 1,
			.tm_mday = c->day,
			.tm_hour = c->hour,
			.tm_min = c->minute,
			.tm_sec = c->second,
			.tm_isdst = dst[i],
		};
		int64_t ms = (int64_t)mktime(&tm) * 1000;
		struct tm back = local(ms);
		if (!shows(&back, c))
			continue;
		if (!found || (ms <= now_ms ? best > now_ms || ms > best : best > now_ms && ms < best))
			best = ms;
		found = true;
	}
	if (!found)
		return WHEN_NO_SUCH_TIME;
	*ret_ms = best;
	return WHEN_OK;
}

/* Exactly n digits. */
static bool digits(const char **at, int n, int *ret)
{
	int value = 0;

	for (int i = 0; i < n; i++) {
		if (**at < '0' || **at > '9')
			return false;
		value = value * 10 + (*(*at)++ - '0');
	}
	*ret = value;
	return true;
}

static bool sign(const char **at, char c)
{
	if (**at != c)
		return false;
	(*at)++;
	return true;
}

/* HH:MM or HH:MM:SS (H:MM too), up to the end of the text. */
static bool clock_time(const char *at, struct civil *c)
{
	int n = at[0] && at[1] == ':' ? 1 : 2;

	c->second = 0;
	if (!digits(&at, n, &c->hour) || !sign(&at, ':') || !digits(&at, 2, &c->minute))
		return false;
	if (sign(&at, ':') && !digits(&at, 2, &c->second))
		return false;
	return !*at && c->hour < 24 && c->minute < 60 && c->second < 60;
}

/* YYYY-MM-DD, alone or with a time after a T or blank. */
static bool date_time(const char *at, struct civil *c)
{
	if (!digits(&at, 4, &c->year) || !sign(&at, '-') || !digits(&at, 2, &c->month) || !sign(&at, '-') ||
	    !digits(&at, 2, &c->day))
		return false;
	if (!*at) {
		c->hour = c->minute = c->second = 0;
		return true;
	}
	if (*at != 'T' && *at != 't' && *at != ' ')
		return false;
	return clock_time(at + 1, c);
}

static int64_t unit_ms(const char *at, size_t n)
{
	static const struct {
		const char *word;
		int64_t ms;
	} units[] = { { "s", 1000 }, { "min", 60000 }, { "h", 3600000 }, { "d", 86400000 } };

	for (size_t i = 0; i < sizeof units / sizeof *units; i++)
		if (strlen(units[i].word) == n && strncmp(at, units[i].word, n) == 0)
			return units[i].ms;
	return 0;
}

/* "20min", "1h30min": what comes after the sign. */
static enum when_outcome before(const char *at, int64_t now_ms, int64_t *ret_ms)
{
	int64_t sum = 0;

	if (!*at)
		return WHEN_MALFORMED;
	while (*at) {
		int64_t n = 0, ms;
		size_t n_digits = strspn(at, "0123456789"), n_word;
		if (n_digits == 0)
			return WHEN_MALFORMED;
		if (n_digits > 7)
			return WHEN_OUT_OF_RANGE;
		for (size_t i = 0; i < n_digits; i++)
			n = n * 10 + (at[i] - '0');
		at += n_digits;
		at += strspn(at, " ");
		n_word = strcspn(at, "0123456789 ");
		ms = unit_ms(at, n_word);
		if (ms == 0)
			return WHEN_MALFORMED;
		at += n_word;
		at += strspn(at, " ");
		if (n > (now_ms - sum) / ms)
			return WHEN_OUT_OF_RANGE;
		sum += n * ms;
	}
	*ret_ms = now_ms - sum;
	return WHEN_OK;
}

static enum when_outcome parse(const char *text, int64_t now_ms, int64_t *ret_ms)
{
	struct tm today = local(now_ms);
	struct civil c = { today.tm_year + 1900, today.tm_mon + 1, today.tm_mday, 0, 0, 0 };
	int offset_min;

	if (*text == '-')
		return before(text + 1, now_ms, ret_ms);
	if (clock_time(text, &c) || date_time(text, &c))
		return c.month < 1 || c.month > 12 || c.day < 1 || c.day > 31 ? WHEN_NO_SUCH_TIME
									      : instant(&c, now_ms, ret_ms);
	switch (quantity_rfc3339(text, ret_ms, &offset_min)) {
	case QUANTITY_OK:
		return WHEN_OK;
	case QUANTITY_OUT_OF_RANGE:
		return WHEN_OUT_OF_RANGE;
	case QUANTITY_NO_UNIT:
	case QUANTITY_MALFORMED:
		break;
	}
	return WHEN_MALFORMED;
}

enum when_outcome when_parse(const char *text, int64_t now_ms, int64_t *ret_ms)
{
	int64_t ms = 0;
	enum when_outcome outcome = parse(text, now_ms, &ms);

	if (outcome != WHEN_OK)
		return outcome;
	if (ms > now_ms + AHEAD_MS)
		return WHEN_NOT_YET;
	if (ms < EARLIEST_S * 1000)
		return WHEN_OUT_OF_RANGE;
	*ret_ms = ms;
	return WHEN_OK;
}

enum when_outcome when_parse_ahead(const char *text, int64_t now_ms, int64_t *ret_ms)
{
	int64_t ms = 0;
	enum when_outcome outcome = *text == '+' ? before(text + 1, now_ms, &ms) : parse(text, now_ms, &ms);

	if (outcome != WHEN_OK)
		return outcome;
	if (*text == '+')
		ms = now_ms + (now_ms - ms);
	if (ms < EARLIEST_S * 1000 || ms > now_ms + FARTHEST_MS)
		return WHEN_OUT_OF_RANGE;
	*ret_ms = ms;
	return WHEN_OK;
}

const char *when_hint(enum when_outcome outcome)
{
	switch (outcome) {
	case WHEN_OK:
		return "";
	case WHEN_MALFORMED:
		return "this isn't a time: write 13:45, -20min, -2h, -1d, \"2026-11-25 13:45\" or "
		       "2026-11-25T13:45:00+01:00.";
	case WHEN_NO_SUCH_TIME:
		return "clocks never showed this (no such date, or summer time began then).";
	case WHEN_NOT_YET:
		return "this time hasn't come yet; for yesterday write the date too, \"2026-11-25 13:45\", or -20min.";
	case WHEN_OUT_OF_RANGE:
		return "this time is too far away.";
	}
	return "";
}

void when_rfc3339(char buffer[WHEN_SIZE], int64_t ms)
{
	struct tm tm = local(ms);
	int offset_min = (int)(tm.tm_gmtoff / 60 % (24 * 60));
	char text[24];

	(void)strftime(text, sizeof text, "%Y-%m-%dT%H:%M:%S", &tm);
	(void)snprintf(buffer, WHEN_SIZE, "%s.%03u%c%02u:%02u", text, (unsigned)((ms % 1000 + 1000) % 1000),
		       offset_min < 0 ? '-' : '+', (unsigned)abs(offset_min) / 60, (unsigned)abs(offset_min) % 60);
}

void when_show(char buffer[WHEN_SIZE], int64_t ms)
{
	struct tm tm = local(ms);

	(void)strftime(buffer, WHEN_SIZE, "%Y-%m-%d %H:%M", &tm);
}

static bool same_day(const struct tm *a, const struct tm *b)
{
	return a->tm_year == b->tm_year && a->tm_yday == b->tm_yday;
}

/* Noon some days from a day: safe from days of 23 or 25 hours. */
static struct tm noon(const struct tm *day, int days)
{
	struct tm tm = {
		.tm_year = day->tm_year, .tm_mon = day->tm_mon, .tm_mday = day->tm_mday + days, .tm_hour = 12, .tm_isdst = -1
	};

	(void)mktime(&tm); /* normalises the day; the instant isn't needed */
	return tm;
}

void when_show_near(char buffer[WHEN_SIZE], int64_t ms, int64_t now_ms)
{
	/* English, as all that is said here: no locale but for characters is set (main.c) */
	struct tm tm = local(ms), now = local(now_ms);
	struct tm eve = noon(&now, -1), morrow = noon(&now, 1);
	bool near = false;

	for (int days = 2; days <= NEAR_DAYS; days++) {
		struct tm before = noon(&now, -days), after = noon(&now, days);
		near = near || same_day(&tm, &before) || same_day(&tm, &after);
	}

	if (same_day(&tm, &now))
		(void)strftime(buffer, WHEN_SIZE, "%H:%M", &tm);
	else if (same_day(&tm, &eve))
		(void)strftime(buffer, WHEN_SIZE, "yesterday %H:%M", &tm);
	else if (same_day(&tm, &morrow))
		(void)strftime(buffer, WHEN_SIZE, "tomorrow %H:%M", &tm);
	else if (near)
		(void)strftime(buffer, WHEN_SIZE, "%a %H:%M", &tm);
	else
		when_show(buffer, ms);
}
