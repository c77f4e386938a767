// SPDX-License-Identifier: MIT
#include "daemon/ctl/import_when.h"
#include <ctype.h>
#include <strings.h>

/* ---- pieces ---- */

static void skip(const char **at, const char *these)
{
	*at += strspn(*at, these);
}

static bool sign(const char **at, char c)
{
	if (**at != c)
		return false;
	(*at)++;
	return true;
}

/* From min to max digits. How many, 0: not so. */
static int digits(const char **at, int min, int max, int *ret)
{
	size_t n = strspn(*at, "0123456789");

	if (n < (size_t)min || n > (size_t)max)
		return 0;
	*ret = 0;
	for (size_t i = 0; i < n; i++)
		*ret = *ret * 10 + (*(*at)++ - '0');
	return (int)n;
}

/* An English month's name, or three letters of it and more, with or without a point: 1 to 12; 0: none. */
static int month_name(const char **at)
{
	static const char *const names[] = { "january", "february", "march",     "april",   "may",      "june",
					     "july",    "august",   "september", "october", "november", "december" };
	size_t n = 0;

	while (isalpha((unsigned char)(*at)[n]))
		n++;
	for (int i = 0; n >= 3 && i < 12; i++) {
		if (n > strlen(names[i]) || strncasecmp(*at, names[i], n) != 0)
			continue;
		*at += n;
		(void)sign(at, '.');
		return i + 1;
	}
	return 0;
}

/* ---- dates ---- */

/* The year of a date whose other parts are known: four digits. */
static enum import_when_outcome year(const char **at, struct import_when *ret)
{
	int n = digits(at, 1, 4, &ret->year);

	if (n == 0)
		return IMPORT_WHEN_MALFORMED;
	return n == 4 ? IMPORT_WHEN_READ : IMPORT_WHEN_SHORT_YEAR;
}

static enum import_when_outcome year_first(const char **at, struct import_when *ret)
{
	char parts;

	(void)digits(at, 4, 4, &ret->year);
	parts = **at;
	if ((parts != '-' && parts != '/' && parts != '.') || !sign(at, parts) || !digits(at, 1, 2, &ret->month) ||
	    !sign(at, parts) || !digits(at, 1, 2, &ret->day))
		return IMPORT_WHEN_MALFORMED;
	return IMPORT_WHEN_READ;
}

/* "3/4/2026": one that is over 12 is the day. */
static enum import_when_outcome order(int a, int b, enum import_first first, struct import_when *ret)
{
	if (first == IMPORT_FIRST_UNTOLD && a <= 12 && b <= 12 && a != b)
		return IMPORT_WHEN_WHICH_FIRST;
	if (first == IMPORT_FIRST_MONTH || (first == IMPORT_FIRST_UNTOLD && b > 12)) {
		ret->month = a;
		ret->day = b;
	} else {
		ret->day = a;
		ret->month = b;
	}
	return IMPORT_WHEN_READ;
}

static enum import_when_outcome number_first(const char **at, enum import_first first, struct import_when *ret)
{
	enum import_when_outcome outcome;
	char parts;
	int a, b;

	(void)digits(at, 1, 2, &a);
	parts = **at;
	if ((parts == '-' || parts == '/' || parts == '.') && isdigit((unsigned char)(*at)[1])) {
		(void)sign(at, parts);
		if (!digits(at, 1, 2, &b) || !sign(at, parts))
			return IMPORT_WHEN_MALFORMED;
		outcome = year(at, ret);
		return outcome == IMPORT_WHEN_READ ? order(a, b, first, ret) : outcome;
	}
	ret->day = a;
	skip(at, ".- ");
	ret->month = month_name(at);
	if (!ret->month)
		return IMPORT_WHEN_MALFORMED;
	skip(at, ".-, ");
	return year(at, ret);
}

static enum import_when_outcome name_first(const char **at, struct import_when *ret)
{
	ret->month = month_name(at);
	skip(at, "- ");
	if (!ret->month || !digits(at, 1, 2, &ret->day))
		return IMPORT_WHEN_MALFORMED;
	skip(at, ".-, ");
	return year(at, ret);
}

static bool is_date(int year_, int month, int day)
{
	static const int days[] = { 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31 };
	bool leap = (year_ % 4 == 0 && year_ % 100 != 0) || year_ % 400 == 0;

	return year_ >= 2000 && year_ <= 2199 && month >= 1 && month <= 12 && day >= 1 &&
	       day <= days[month - 1] + (month == 2 && leap);
}

static enum import_when_outcome date(const char **at, enum import_first first, struct import_when *ret)
{
	size_t n = strspn(*at, "0123456789");
	enum import_when_outcome outcome = n == 4             ? year_first(at, ret)
					   : n == 1 || n == 2 ? number_first(at, first, ret)
					   : n == 0           ? name_first(at, ret)
							      : IMPORT_WHEN_MALFORMED;

	if (outcome != IMPORT_WHEN_READ)
		return outcome;
	ret->has_date = true;
	return is_date(ret->year, ret->month, ret->day) ? IMPORT_WHEN_READ : IMPORT_WHEN_NO_SUCH_DATE;
}

/* ---- times ---- */

/* "am", "a.m.", "PM": 'a' or 'p'; '\0': none. */
static char half_day(const char **at)
{
	const char *from = *at;
	char half = (char)tolower((unsigned char)*from);

	if (half != 'a' && half != 'p')
		return '\0';
	from++;
	(void)sign(&from, '.');
	if (tolower((unsigned char)*from) != 'm')
		return '\0';
	from++;
	(void)sign(&from, '.');
	*at = from;
	return half;
}

static enum import_when_outcome offset(const char **at, struct import_when *ret)
{
	bool west = **at == '-';
	int hours, minutes = 0;

	if (sign(at, 'Z') || sign(at, 'z')) {
		ret->has_offset = true;
		return IMPORT_WHEN_READ;
	}
	if (!sign(at, '+') && !sign(at, '-'))
		return IMPORT_WHEN_READ;
	if (!digits(at, 2, 2, &hours) || !sign(at, ':') || !digits(at, 2, 2, &minutes) || hours > 23 || minutes > 59)
		return IMPORT_WHEN_MALFORMED;
	ret->has_offset = true;
	ret->offset_min = (west ? -1 : 1) * (hours * 60 + minutes);
	return IMPORT_WHEN_READ;
}

static enum import_when_outcome clock_time(const char **at, struct import_when *ret)
{
	bool minutes;
	char half;

	if (!digits(at, 1, 2, &ret->hour))
		return IMPORT_WHEN_MALFORMED;
	minutes = sign(at, ':');
	if (minutes && !digits(at, 2, 2, &ret->minute))
		return IMPORT_WHEN_MALFORMED;
	if (minutes && sign(at, ':')) {
		if (!digits(at, 2, 2, &ret->second))
			return IMPORT_WHEN_MALFORMED;
		if (sign(at, '.')) /* parts of a second, as RFC 3339 may have them */
			skip(at, "0123456789");
	}
	skip(at, " ");
	half = half_day(at);
	if (!minutes && !half)
		return IMPORT_WHEN_MALFORMED;
	ret->has_time = true;
	if (ret->hour > 23 || ret->minute > 59 || ret->second > 59 || (half && (ret->hour < 1 || ret->hour > 12)))
		return IMPORT_WHEN_NO_SUCH_TIME;
	if (half)
		ret->hour = ret->hour % 12 + (half == 'p' ? 12 : 0);
	skip(at, " ");
	return offset(at, ret);
}

enum import_when_outcome import_when_read(const char *text, enum import_first first, struct import_when *ret)
{
	const char *at = text;
	size_t n;
	enum import_when_outcome outcome = IMPORT_WHEN_READ;

	*ret = (struct import_when){ 0 };
	skip(&at, " ");
	if (!*at)
		return IMPORT_WHEN_NO_DATE;
	n = strspn(at, "0123456789");
	if (!(n && (at[n] == ':' || strspn(at + n, " apmAPM.") == strlen(at + n))))
		outcome = date(&at, first, ret);
	if (outcome != IMPORT_WHEN_READ)
		return outcome;
	if (ret->has_date && (sign(&at, 'T') || sign(&at, 't')))
		return *at && clock_time(&at, ret) == IMPORT_WHEN_READ && !*at ? IMPORT_WHEN_READ
									       : IMPORT_WHEN_MALFORMED;
	skip(&at, ", ");
	if (*at)
		outcome = clock_time(&at, ret);
	if (outcome == IMPORT_WHEN_READ && *at)
		return IMPORT_WHEN_MALFORMED;
	return outcome;
}

/* ---- the instant ---- */

static bool shows(const struct tm *tm, const struct import_when *when)
{
	return tm->tm_year == when->year - 1900 && tm->tm_mon == when->month - 1 && tm->tm_mday == when->day &&
	       tm->tm_hour == when->hour && tm->tm_min == when->minute && tm->tm_sec == when->second;
}

static struct tm broken_down(const struct import_when *when, int dst)
{
	return (struct tm){ .tm_year = when->year - 1900,
			    .tm_mon = when->month - 1,
			    .tm_mday = when->day,
			    .tm_hour = when->hour,
			    .tm_min = when->minute,
			    .tm_sec = when->second,
			    .tm_isdst = dst };
}

enum import_when_outcome import_when_instant(const struct import_when *when, int64_t *ret_ms, int *ret_offset_min)
{
	bool found = false;
	time_t known = 0;

	if (!when->has_date)
		return IMPORT_WHEN_NO_DATE;
	if (!when->has_time)
		return IMPORT_WHEN_NO_TIME;
	if (when->has_offset) {
		struct tm tm = broken_down(when, 0);
		*ret_ms = ((int64_t)timegm(&tm) - (int64_t)when->offset_min * 60) * 1000;
		*ret_offset_min = when->offset_min;
		return IMPORT_WHEN_READ;
	}
	for (int dst = -1; dst <= 1; dst++) { /* each may give another instant where clocks were set */
		struct tm tm = broken_down(when, dst), back;
		time_t s = mktime(&tm);
		if (!localtime_r(&s, &back) || !shows(&back, when))
			continue;
		if (found && s != known)
			return IMPORT_WHEN_TWICE;
		found = true;
		known = s;
		*ret_ms = (int64_t)s * 1000;
		*ret_offset_min = (int)(back.tm_gmtoff / 60);
	}
	return found ? IMPORT_WHEN_READ : IMPORT_WHEN_SKIPPED;
}

const char *import_when_hint(enum import_when_outcome outcome)
{
	switch (outcome) {
	case IMPORT_WHEN_READ:
		return "";
	case IMPORT_WHEN_MALFORMED:
		return "is no date or time: write 2026-01-03 or 3 Jan 2026, and 7:30 or 7:30 pm";
	case IMPORT_WHEN_WHICH_FIRST:
		return "may be two days: say --dates day-first or --dates month-first";
	case IMPORT_WHEN_SHORT_YEAR:
		return "has no year of four digits";
	case IMPORT_WHEN_NO_DATE:
		return "has no date";
	case IMPORT_WHEN_NO_TIME:
		return "has no time of day: write it, or say --time 08:00 if all were weighed about then";
	case IMPORT_WHEN_NO_SUCH_DATE:
		return "is no day of the calendar";
	case IMPORT_WHEN_NO_SUCH_TIME:
		return "is no time of the day";
	case IMPORT_WHEN_SKIPPED:
		return "is a time that clocks didn't show: summer time began then";
	case IMPORT_WHEN_TWICE:
		return "is a time that clocks showed twice, for summer time ended: write the offset from UTC too, "
		       "02:30 +01:00";
	}
	return "";
}
