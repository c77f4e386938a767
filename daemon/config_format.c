// SPDX-License-Identifier: MIT
#include "daemon/config_format.h"
#include "daemon/config_file.h"
#include "daemon/log.h"
#include "protocols/hex.h"
#include <stdarg.h>

#define QUOTE_SIZE 160
#define WHAT_SIZE 400
#define VALUE_MAX (DECLARED_OFFSET_MAX + 1) /* octets of the longest value */
#define FACTOR_DIGITS 18                    /* that count; they fit 63 bits */
#define EXPONENT_MAX 30
#define UUID_LENGTH (DECLARED_UUID_SIZE - 1)

/* The 16-bit numbers' place in the Bluetooth base UUID (Core Specification, Vol 3, Part B, 2.5.1). */
static const char base_uuid[] = "0000xxxx-0000-1000-8000-00805f9b34fb";

/* Decimal digits from the front, moving on; false: none, or over max. */
static bool take_digits(const char **at, unsigned max, unsigned *ret)
{
	unsigned value = 0;
	const char *from = *at;

	for (; **at >= '0' && **at <= '9'; ++*at) {
		value = value * 10 + (unsigned)(**at - '0');
		if (value > max)
			return false;
	}
	*ret = value;
	return *at > from;
}

static bool parse_number(const char *text, unsigned min, unsigned max, unsigned *ret)
{
	unsigned value;

	if (!take_digits(&text, max, &value) || *text || value < min)
		return false;
	*ret = value;
	return true;
}

/* One of two words. */
static bool parse_choice(const char *text, const char *no, const char *yes, bool *ret)
{
	if (strcmp(text, no) != 0 && strcmp(text, yes) != 0)
		return false;
	*ret = strcmp(text, yes) == 0;
	return true;
}

/* 36 characters, or the four digits of an assigned number. */
static bool take_uuid(struct declared *d, const char *value)
{
	bool is_short = strlen(value) == 4;
	char uuid[DECLARED_UUID_SIZE];

	if (!is_short && strlen(value) != UUID_LENGTH)
		return false;
	for (size_t i = 0; i < UUID_LENGTH; i++) {
		char c = !is_short ? value[i] : i >= 4 && i < 8 ? value[i - 4] : base_uuid[i];
		int digit = hex_digit(c);

		if (base_uuid[i] == '-' ? c != '-' : digit < 0)
			return false;
		uuid[i] = digit < 0 ? c : "0123456789abcdef"[digit];
	}
	uuid[UUID_LENGTH] = '\0';
	memcpy(d->uuid, uuid, sizeof uuid);
	return true;
}

/* The settings, a row each. */
static bool take_characteristic(struct declared *d, const char *value)
{
	d->source = DECLARED_CHARACTERISTIC;
	return take_uuid(d, value);
}

static bool take_service_data(struct declared *d, const char *value)
{
	d->source = DECLARED_SERVICE_DATA;
	return take_uuid(d, value);
}

static bool take_manufacturer(struct declared *d, const char *value)
{
	unsigned company = 0;
	size_t n = strlen(value);

	d->source = DECLARED_MANUFACTURER;
	if (n < 3 || n > 6 || value[0] != '0' || (value[1] != 'x' && value[1] != 'X'))
		return false;
	for (value += 2; *value; value++) {
		if (hex_digit(*value) < 0)
			return false;
		company = company << 4 | (unsigned)hex_digit(*value);
	}
	d->company = (uint16_t)company;
	return true;
}

static bool take_offset(struct declared *d, const char *value)
{
	unsigned offset;

	if (!parse_number(value, 0, DECLARED_OFFSET_MAX, &offset))
		return false;
	d->offset = (uint16_t)offset;
	return true;
}

static bool take_width(struct declared *d, const char *value)
{
	unsigned width;

	if (!parse_number(value, 1, DECLARED_WIDTH_MAX, &width))
		return false;
	d->width = (uint8_t)width;
	return true;
}

static bool take_signed(struct declared *d, const char *value)
{
	return parse_choice(value, "no", "yes", &d->is_signed);
}

static bool take_endian(struct declared *d, const char *value)
{
	return parse_choice(value, "little", "big", &d->big_endian);
}

/* Digits with a point anywhere, as mantissa * 10^exponent. */
static bool take_mantissa(const char **at, int64_t *ret_mantissa, int *ret_exponent)
{
	int64_t mantissa = 0;
	int exponent = 0, counting = 0;
	bool point = false, digit = false;

	for (; (**at >= '0' && **at <= '9') || (**at == '.' && !point); ++*at) {
		if (**at == '.') {
			point = true;
			continue;
		}
		digit = true;
		mantissa = mantissa * 10 + (**at - '0');
		exponent -= point;
		counting += mantissa > 0;
		if (counting > FACTOR_DIGITS || exponent < -EXPONENT_MAX)
			return false;
	}
	*ret_mantissa = mantissa;
	*ret_exponent = exponent;
	return digit;
}

/* Exact: "0.001" is 1 * 10^-3, and so is "1e-3". */
static bool take_factor(struct declared *d, const char *value)
{
	int64_t mantissa;
	int exponent;
	unsigned power = 0;

	if (!take_mantissa(&value, &mantissa, &exponent) || mantissa == 0)
		return false;
	if (*value == 'e' || *value == 'E') {
		int sign = *++value == '-' ? -1 : 1;

		value += *value == '-' || *value == '+';
		if (!take_digits(&value, EXPONENT_MAX, &power))
			return false;
		exponent += sign * (int)power;
	}
	for (; mantissa % 10 == 0; mantissa /= 10)
		exponent++;
	if (*value || exponent < -EXPONENT_MAX || exponent > EXPONENT_MAX)
		return false;
	d->factor = mantissa;
	d->exponent = exponent;
	return true;
}

static bool take_unit(struct declared *d, const char *value)
{
	static const char *const units[] = {
		[MASS_KILOGRAM] = "kg",
		[MASS_GRAM] = "g",
		[MASS_POUND] = "lb",
		[MASS_OUNCE] = "oz",
	};

	for (size_t i = 0; i < sizeof units / sizeof *units; i++)
		if (strcmp(units[i], value) == 0) {
			d->unit = (enum mass_unit)i;
			return true;
		}
	return false;
}

static bool take_bit(uint16_t *bit, const char *value)
{
	unsigned octet, of_octet;

	if (!take_digits(&value, DECLARED_OFFSET_MAX, &octet) || *value++ != '.' ||
	    !parse_number(value, 0, 7, &of_octet))
		return false;
	*bit = (uint16_t)(octet * 8 + of_octet);
	return true;
}

static bool take_steady_bit(struct declared *d, const char *value)
{
	return take_bit(&d->steady_bit, value);
}

static bool take_tare_bit(struct declared *d, const char *value)
{
	return take_bit(&d->tare_bit, value);
}

static bool take_reports(struct declared *d, const char *value)
{
	bool result;

	if (!parse_choice(value, "stream", "result", &result))
		return false;
	d->reports = result ? DECLARED_RESULT : DECLARED_STREAM;
	return true;
}

enum row {
	ROW_CHARACTERISTIC,
	ROW_SERVICE_DATA,
	ROW_MANUFACTURER,
	ROW_OFFSET,
	ROW_WIDTH,
	ROW_SIGNED,
	ROW_ENDIAN,
	ROW_FACTOR,
	ROW_UNIT,
	ROW_STEADY_BIT,
	ROW_TARE_BIT,
	ROW_REPORTS,
	N_ROWS,
};

#define SOURCES "characteristic, service-data and manufacturer"
#define UUID_TAKES "a UUID of 36 characters, or of the four digits of an assigned number"
#define BIT_TAKES "OCTET.BIT, each counted from 0, like 1.0"

static const struct setting {
	const char *key, *takes;
	bool (*take)(struct declared *d, const char *value);
	bool source;
} settings[] = {
	[ROW_CHARACTERISTIC] = { "characteristic", UUID_TAKES, take_characteristic, true },
	[ROW_SERVICE_DATA] = { "service-data", UUID_TAKES, take_service_data, true },
	[ROW_MANUFACTURER] = { "manufacturer", "a company's number like 0x04d2", take_manufacturer, true },
	[ROW_OFFSET] = { "offset", "the octets before the mass, 0 to 511", take_offset, false },
	[ROW_WIDTH] = { "width", "the octets of the mass, 1 to 8", take_width, false },
	[ROW_SIGNED] = { "signed", "yes or no", take_signed, false },
	[ROW_ENDIAN] = { "endian", "little or big", take_endian, false },
	[ROW_FACTOR] = { "factor", "a number above 0 with a point, like 1, 0.001 or 5e-3", take_factor, false },
	[ROW_UNIT] = { "unit", "kg, g, lb or oz", take_unit, false },
	[ROW_STEADY_BIT] = { "steady-bit", BIT_TAKES, take_steady_bit, false },
	[ROW_TARE_BIT] = { "tare-bit", BIT_TAKES, take_tare_bit, false },
	[ROW_REPORTS] = { "reports", "stream or result", take_reports, false },
};

_Static_assert(sizeof settings / sizeof *settings == N_ROWS, "a row each");
_Static_assert(N_ROWS <= CONFIG_FORMAT_SETTINGS, "a line each");

/* Tells it, and leaves the format out. */
__attribute__((format(printf, 4, 5))) static void refuse(struct config_format *format, const struct config_file *file,
							 int line, const char *what, ...)
{
	char text[WHAT_SIZE], quoted[QUOTE_SIZE];
	va_list arguments;

	va_start(arguments, what);
	(void)vsnprintf(text, sizeof text, what, arguments); /* a cut line is better than none */
	va_end(arguments);
	config_file_say(file, line, "format \"%s\": %s; leaving the format out",
			log_quote(format->declared.name, quoted, sizeof quoted), text);
	format->wrong = true;
}

static const struct declared *named(const struct config *config, const char *name)
{
	for (size_t i = 0; i < config->n_formats; i++)
		if (strcmp(config->formats[i].name, name) == 0)
			return &config->formats[i];
	return NULL;
}

void config_format_begin(struct config_format *format, const struct config_file *file, const char *name)
{
	size_t n = strlen(name);

	*format = (struct config_format){
		.declared = { .steady_bit = DECLARED_NO_BIT, .tare_bit = DECLARED_NO_BIT },
		.line = file->line,
	};
	memcpy(format->declared.name, name, n < DECLARED_NAME_SIZE ? n : DECLARED_NAME_SIZE - 1);
	if (n == 0)
		refuse(format, file, file->line, "it needs a name, as in [format kitchen]");
	else if (n >= DECLARED_NAME_SIZE)
		refuse(format, file, file->line, "its name has more than %d octets", DECLARED_NAME_SIZE - 1);
	else if (named(file->config, name))
		refuse(format, file, file->line, "there is one of that name above; give it another");
}

/* The line of a source that was given before, or 0. */
static int source_line(const struct config_format *format)
{
	for (size_t i = 0; i < N_ROWS; i++)
		if (settings[i].source && format->given[i])
			return format->given[i];
	return 0;
}

static void take_row(struct config_format *format, const struct config_file *file, size_t row, const char *value)
{
	const struct setting *setting = &settings[row];
	char quoted[QUOTE_SIZE];
	int source = setting->source ? source_line(format) : 0;

	if (format->given[row])
		refuse(format, file, file->line, "%s stands in line %d already", setting->key, format->given[row]);
	else if (source)
		refuse(format, file, file->line, "it takes one of " SOURCES ", and line %d has one already", source);
	else if (!setting->take(&format->declared, value))
		refuse(format, file, file->line, "%s takes %s, not \"%s\"", setting->key, setting->takes,
		       log_quote(value, quoted, sizeof quoted));
	if (!format->given[row])
		format->given[row] = file->line;
}

void config_format_take(struct config_format *format, const struct config_file *file, const char *key,
			const char *value)
{
	char quoted[QUOTE_SIZE], keys[WHAT_SIZE] = "";
	size_t used = 0;

	for (size_t i = 0; i < N_ROWS; i++) {
		if (strcmp(settings[i].key, key) == 0) {
			take_row(format, file, i, value);
			return;
		}
		used += (size_t)snprintf(keys + used, sizeof keys - used, "%s%s", i ? ", " : "", settings[i].key);
	}
	refuse(format, file, file->line, "there is no setting \"%s\" in a format, only %s",
	       log_quote(key, quoted, sizeof quoted), keys);
}

void config_format_spoil(struct config_format *format, const struct config_file *file, const char *why)
{
	refuse(format, file, file->line, "%s", why);
}

/* What must be said: nobody can guess it. The rest has a usual value. */
static void check_whole(struct config_format *format, const struct config_file *file)
{
	static const enum row needed[] = { ROW_WIDTH, ROW_FACTOR, ROW_UNIT };

	if (!source_line(format))
		refuse(format, file, format->line, "it needs one of " SOURCES);
	for (size_t i = 0; i < sizeof needed / sizeof *needed; i++)
		if (!format->given[needed[i]])
			refuse(format, file, format->line, "it needs %s: %s", settings[needed[i]].key,
			       settings[needed[i]].takes);
}

/* What fits each for itself, and not together. */
static void check_sense(struct config_format *format, const struct config_file *file)
{
	struct declared *d = &format->declared;
	const struct declared *other;
	char quoted[QUOTE_SIZE], company[sizeof "0x04d2"];
	int64_t step_mg;

	if (d->offset + d->width > VALUE_MAX)
		refuse(format, file, format->line, "offset and width go past %d octets, the longest value there is",
		       VALUE_MAX);
	if (!mass_from_decimal(d->factor, d->exponent, d->unit, &step_mg))
		refuse(format, file, format->given[ROW_FACTOR],
		       "with this factor and unit, a count of 1 is over a tonne");
	(void)snprintf(company, sizeof company, "0x%04x", d->company);
	other = declared_for(file->config->formats, file->config->n_formats, d->source,
			     d->source == DECLARED_MANUFACTURER ? company : d->uuid);
	if (other)
		refuse(format, file, source_line(format), "format \"%s\" reads the same already",
		       log_quote(other->name, quoted, sizeof quoted));
	if (file->config->n_formats == CONFIG_FORMATS)
		refuse(format, file, format->line, "there are %d formats already, and no more are read",
		       CONFIG_FORMATS);
}

void config_format_end(struct config_format *format, struct config_file *file)
{
	check_whole(format, file);
	if (format->wrong)
		return;
	check_sense(format, file);
	if (format->wrong)
		return;
	/* A broadcast is a result unless the file says otherwise: many of the same are sent for one weighing. */
	if (!format->given[ROW_REPORTS] && format->declared.source != DECLARED_CHARACTERISTIC)
		format->declared.reports = DECLARED_RESULT;
	file->config->formats[file->config->n_formats++] = format->declared;
}
