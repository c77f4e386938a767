// SPDX-License-Identifier: MIT
#include "daemon/weigh/quantity.h"
#include "protocols/date_time.h"
#include "protocols/mass.h"
#include <inttypes.h>
#include <stdio.h>

/* The ninth decimal of a kilogram is a microgram: nobody weighs finer. */
#define MAX_DECIMALS 9
/* Over MASS_MAX_MG in every unit, and with nine decimals it still fits 64 bits. */
#define MAX_WHOLE INT64_C(999999999)
#define EARLIEST_S INT64_C(946684800)  /* 2000-01-01T00:00:00Z */
#define TOO_LATE_S INT64_C(7258118400) /* 2200-01-01T00:00:00Z */

/* A decimal number as written: mantissa * 10^-decimals. */
struct number {
	int64_t mantissa;
	int decimals;
	bool negative;
	bool thousands; /* "1,304": the comma may be a decimal comma, or part thousands */
};

static bool is_digit(char c)
{
	return c >= '0' && c <= '9';
}

static void skip_blanks(const char **at)
{
	while (**at == ' ' || **at == '\t')
		(*at)++;
}

static bool take_char(const char **at, char c)
{
	if (**at != c)
		return false;
	(*at)++;
	return true;
}

/* The digits after a point or comma that was just taken: 1 to MAX_DECIMALS. */
static bool take_decimals(const char **at, struct number *n)
{
	for (; is_digit(**at); (*at)++) {
		if (n->decimals == MAX_DECIMALS)
			return false;
		n->mantissa = n->mantissa * 10 + (**at - '0');
		n->decimals++;
	}
	return n->decimals > 0;
}

/* Digits, and perhaps a point or comma with more of them. */
static bool take_number(const char **at, struct number *ret)
{
	struct number n = { 0 };
	const char *start;
	bool comma;

	n.negative = take_char(at, '-');
	start = *at;
	for (; is_digit(**at); (*at)++) {
		n.mantissa = n.mantissa * 10 + (**at - '0');
		if (n.mantissa > MAX_WHOLE) /* no mass any more, whatever follows */
			n.mantissa = MAX_WHOLE;
	}
	if (*at == start)
		return false;
	n.thousands = *start != '0' && *at - start <= 3; /* so far: groups never start with 0 */
	comma = **at == ',';
	if ((take_char(at, '.') || take_char(at, ',')) && !take_decimals(at, &n))
		return false;
	n.thousands = n.thousands && comma && n.decimals == 3;
	*ret = n;
	return true;
}

static char lower(char c)
{
	return c >= 'A' && c <= 'Z' ? (char)(c - 'A' + 'a') : c;
}

static bool take_unit(const char **at, enum mass_unit *ret)
{
	static const struct {
		char text[3];
		enum mass_unit unit;
	} units[] = { { "kg", MASS_KILOGRAM },
		      { "g", MASS_GRAM },
		      { "lb", MASS_POUND },
		      { "oz", MASS_OUNCE } };

	for (size_t i = 0; i < sizeof units / sizeof units[0]; i++) {
		const char *name = units[i].text, *here = *at;

		while (*name && *name == lower(*here)) {
			name++;
			here++;
		}
		if (!*name) {
			*at = here;
			*ret = units[i].unit;
			return true;
		}
	}
	return false;
}

/* A number and its unit, with the blanks after each. */
static enum quantity_outcome take_part(const char **at, struct number *ret_number,
				       enum mass_unit *ret_unit)
{
	if (!take_number(at, ret_number))
		return QUANTITY_MALFORMED;
	skip_blanks(at);
	if (!**at)
		return QUANTITY_NO_UNIT;
	if (!take_unit(at, ret_unit))
		return QUANTITY_MALFORMED;
	/* As kilograms it can only be the decimal comma: a thousand of them is no mass of ours. */
	if (ret_number->thousands && *ret_unit != MASS_KILOGRAM)
		return QUANTITY_MALFORMED;
	skip_blanks(at);
	return QUANTITY_OK;
}

/* Pounds are in *number, ounces follow: all becomes ounces, so that only the sum is rounded. */
static enum quantity_outcome add_ounces(const char **at, struct number *number)
{
	struct number ounces;
	enum mass_unit unit;
	enum quantity_outcome outcome = take_part(at, &ounces, &unit);
	int64_t scale = 1;

	if (outcome != QUANTITY_OK)
		return outcome;
	if (**at || unit != MASS_OUNCE || number->decimals > 0 || ounces.negative)
		return QUANTITY_MALFORMED;
	for (int i = 0; i < ounces.decimals; i++)
		scale *= 10;
	if (ounces.mantissa >= 16 * scale)
		return QUANTITY_MALFORMED;
	if (number->mantissa > MASS_MAX_MG / 453592)
		return QUANTITY_OUT_OF_RANGE;
	number->mantissa = number->mantissa * 16 * scale + ounces.mantissa;
	number->decimals = ounces.decimals;
	return QUANTITY_OK;
}

enum quantity_outcome quantity_mass(const char *text, int64_t *ret_mg, int64_t *ret_step_mg)
{
	struct number number;
	enum mass_unit unit;
	enum quantity_outcome outcome;
	int64_t mass_mg, step_mg;

	skip_blanks(&text);
	outcome = take_part(&text, &number, &unit);
	if (outcome == QUANTITY_OK && *text) {
		outcome = unit == MASS_POUND ? add_ounces(&text, &number) : QUANTITY_MALFORMED;
		unit = MASS_OUNCE;
	}
	if (outcome != QUANTITY_OK)
		return outcome;
	if (number.negative ||
	    !mass_from_decimal(number.mantissa, -number.decimals, unit, &mass_mg) || mass_mg == 0 ||
	    !mass_from_decimal(1, -number.decimals, unit, &step_mg))
		return QUANTITY_OUT_OF_RANGE;
	*ret_mg = mass_mg;
	if (ret_step_mg)
		*ret_step_mg = step_mg > 0 ? step_mg : 1;
	return QUANTITY_OK;
}

const char *quantity_mass_hint(enum quantity_outcome outcome)
{
	switch (outcome) {
	case QUANTITY_OK:
		return "nothing is wrong with this mass";
	case QUANTITY_NO_UNIT:
		return "the unit is missing: write for instance 304g, 0.304kg, 10.7oz or 0lb10.7oz";
	case QUANTITY_MALFORMED:
		return "this is no mass: write one number and its unit, without parting thousands, "
		       "for instance 304g, 0.304kg, 10.7oz or 0lb10.7oz (ounces after pounds: "
		       "below 16)";
	case QUANTITY_OUT_OF_RANGE:
		return "this mass can't be: write one above zero and at most 1000 kg, for instance "
		       "304g";
	}
	return "this is no mass";
}

/* A signed value's magnitude; the smallest has one too. */
static uint64_t magnitude(int64_t value)
{
	return value < 0 ? -(uint64_t)value : (uint64_t)value;
}

/* What rounds to zero has no sign. */
static const char *sign(int64_t value, uint64_t shown)
{
	return value < 0 && shown > 0 ? "-" : "";
}

static int format_grams(char *buffer, size_t size, int64_t mass_mg, int64_t step_mg)
{
	bool coarse = step_mg >= 1000 || step_mg == 0;
	uint64_t value = magnitude(mass_mg), per_gram = 1000;
	int decimals = 3;

	if (coarse) { /* tenths of a gram, halves away from zero */
		value = value / 100 + (value % 100 >= 50);
		per_gram = 10;
		decimals = 1;
	}
	for (; decimals > 0 && value % 10 == 0; decimals--) {
		value /= 10;
		per_gram /= 10;
	}
	if (decimals == 0)
		return snprintf(buffer, size, "%s%" PRIu64 " g", sign(mass_mg, value), value);
	return snprintf(buffer, size, "%s%" PRIu64 ".%0*" PRIu64 " g", sign(mass_mg, value),
			value / per_gram, decimals, value % per_gram);
}

static int format_ounces(char *buffer, size_t size, int64_t mass_mg)
{
	/* 1 oz = 28 349.523 125 mg exactly; the hundredth of it, in 10^-8 mg */
	const unsigned __int128 hundredth = INT64_C(28349523125);
	const unsigned __int128 scaled = (unsigned __int128)magnitude(mass_mg) * 100000000;
	uint64_t value = (uint64_t)((scaled + hundredth / 2) / hundredth);
	uint64_t pounds = value / 1600, rest = value % 1600;

	if (pounds == 0)
		return snprintf(buffer, size, "%s%" PRIu64 ".%02" PRIu64 " oz",
				sign(mass_mg, value), rest / 100, rest % 100);
	return snprintf(buffer, size, "%s%" PRIu64 " lb %" PRIu64 ".%02" PRIu64 " oz",
			sign(mass_mg, value), pounds, rest / 100, rest % 100);
}

int quantity_format(char *buffer, size_t size, int64_t mass_mg, int64_t step_mg,
		    enum quantity_unit unit)
{
	switch (unit) {
	case QUANTITY_GRAMS:
		return format_grams(buffer, size, mass_mg, step_mg);
	case QUANTITY_OUNCES:
		return format_ounces(buffer, size, mass_mg);
	}
	return -1;
}

/* A number of exactly n digits. */
static bool take_digits(const char **at, int n, int *ret)
{
	int value = 0;

	for (; n > 0; n--, (*at)++) {
		if (!is_digit(**at))
			return false;
		value = value * 10 + (**at - '0');
	}
	*ret = value;
	return true;
}

/* ".5" and the like, or nothing. */
static bool take_fraction(const char **at, int *ret_ms)
{
	int ms = 0, worth = 100;

	if (take_char(at, '.')) {
		if (!is_digit(**at))
			return false;
		for (; is_digit(**at); (*at)++) {
			ms += worth * (**at - '0');
			worth /= 10;
		}
	}
	*ret_ms = ms;
	return true;
}

/* "Z", "+01:00", "-08:00". */
static bool take_offset(const char **at, int *ret_min)
{
	bool west;
	int hours, minutes;

	if (take_char(at, 'Z') || take_char(at, 'z')) {
		*ret_min = 0;
		return true;
	}
	west = take_char(at, '-');
	if (!west && !take_char(at, '+'))
		return false;
	if (!take_digits(at, 2, &hours) || !take_char(at, ':') || !take_digits(at, 2, &minutes) ||
	    hours > 23 || minutes > 59)
		return false;
	*ret_min = (west ? -1 : 1) * (hours * 60 + minutes);
	return true;
}

/* A text of RFC 3339, section 5.6, taken apart but not yet checked against the calendar. */
struct written_time {
	int year, month, day, hour, minute, second, ms, offset_min;
};

static bool take_time(const char *at, struct written_time *ret)
{
	return take_digits(&at, 4, &ret->year) && take_char(&at, '-') &&
	       take_digits(&at, 2, &ret->month) && take_char(&at, '-') &&
	       take_digits(&at, 2, &ret->day) && (take_char(&at, 'T') || take_char(&at, 't')) &&
	       take_digits(&at, 2, &ret->hour) && take_char(&at, ':') &&
	       take_digits(&at, 2, &ret->minute) && take_char(&at, ':') &&
	       take_digits(&at, 2, &ret->second) && take_fraction(&at, &ret->ms) &&
	       take_offset(&at, &ret->offset_min) && !*at;
}

/* Leap seconds end the last minute of a UTC month (RFC 3339, section 5.7). */
static bool ends_a_month(int64_t second)
{
	struct date_time next;

	return date_time_from_seconds(second + 1, &next) && next.day == 1 && next.hour == 0 &&
	       next.minute == 0 && next.second == 0;
}

enum quantity_outcome quantity_rfc3339(const char *text, int64_t *ret_ms, int *ret_offset_min)
{
	struct written_time w;
	struct date_time t;
	bool leap;
	int64_t at_s;

	if (!take_time(text, &w))
		return QUANTITY_MALFORMED;
	leap = w.second == 60;
	t = (struct date_time){
		/* RFC 3339 knows the years 0 to 1581 too; the calendar repeats every 400 years. */
		.year = (uint16_t)(w.year < 1600 ? w.year + 1600 : w.year),
		.month = (uint8_t)w.month,
		.day = (uint8_t)w.day,
		.hour = (uint8_t)w.hour,
		.minute = (uint8_t)w.minute,
		.second = leap ? 59 : (uint8_t)w.second,
	};
	if (!date_time_valid(&t))
		return QUANTITY_MALFORMED;
	at_s = date_time_seconds(&t) - INT64_C(60) * w.offset_min;
	if (leap && !ends_a_month(at_s))
		return QUANTITY_MALFORMED;
	if (w.year < 1600 || at_s < EARLIEST_S || at_s >= TOO_LATE_S)
		return QUANTITY_OUT_OF_RANGE;
	*ret_ms = at_s * 1000 + w.ms;
	*ret_offset_min = w.offset_min;
	return QUANTITY_OK;
}

void quantity_rfc3339_utc(char buffer[QUANTITY_RFC3339_SIZE], int64_t ms)
{
	int64_t seconds = ms / 1000, rest = ms % 1000;
	struct date_time t;

	if (rest < 0) {
		rest += 1000;
		seconds--;
	}
	if (!date_time_from_seconds(seconds, &t)) {
		buffer[0] = '\0';
		return;
	}
	/* Years have four digits here, so this is 24 octets and always fits. */
	(void)snprintf(buffer, QUANTITY_RFC3339_SIZE, "%04d-%02d-%02dT%02d:%02d:%02d.%03dZ", t.year,
		       t.month, t.day, t.hour, t.minute, t.second, (int)rest);
}
