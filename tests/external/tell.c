// SPDX-License-Identifier: MIT
/*
 * What the project's pure code makes of a value, for the checks of this folder that know the answer
 * from elsewhere: reads one request a line, writes one answer a line. `tell --help` lists the
 * requests. Above: the check_*.py. Below: the pure rooms and the store's uuid7. It judges nothing.
 */
#include "daemon/litter/round.h"
#include "daemon/store/uuid7.h"
#include "daemon/weigh/quantity.h"
#include "daemon/weigh/weigh.h"
#include "protocols/date_time.h"
#include "protocols/formats.h"
#include "protocols/medfloat.h"
#include "protocols/presentation.h"
#include <inttypes.h>

#define WORDS_MAX 8
#define OCTETS_MAX 64

static const char help[] =
	"Usage: tell < REQUESTS\n"
	"  2a9d HEX, 2a9c HEX, 2a98 HEX      decodes a value: mg, step in mg, unit; or 'refused'\n"
	"  described HEX7 HEX                the same, for a 0x2904 and a value\n"
	"  mass TEXT                         a mass as people write it: 'ok', mg, step in mg\n"
	"  decimal MANTISSA EXPONENT UNIT    a decimal number of kg, g, lb or oz in mg\n"
	"  grams MG STEP, ounces MG          a mass as text\n"
	"  rfc3339 TEXT                      a time as people write it: 'ok', ms, minutes east\n"
	"  utc MS                            a time as text\n"
	"  seconds Y M D H M S               a date as seconds since 1970, or 'invalid'\n"
	"  date SECONDS                      the inverse\n"
	"  current-time Y M D H M S          a Current Time value, in hexadecimal\n"
	"  sfloat RAW, float RAW             mantissa and exponent, or 'special'; RAW in "
	"hexadecimal\n"
	"  presentation HEX                  the parts of a 0x2904, and whether it is a mass\n"
	"  step-u MG                         standard uncertainty of a reading, in mg\n"
	"  net GROSS STEP TARE U             net mass and its standard uncertainty, all in mg\n"
	"  uuid7 MS COUNT HEX8               a key of the store from its parts\n"
	"  uuid7-next MS                     the next key of this process\n"
	"  assign N M COST,COST,...          the cheapest assignment of N rows to M columns; costs and sum "
	"in thousandths\n";

static int64_t number(const char *text)
{
	return strtoll(text, NULL, 10);
}

static struct bytes octets(const char *hex, uint8_t buffer[OCTETS_MAX])
{
	size_t n = 0;

	for (; n < OCTETS_MAX && hex[2 * n] && hex[2 * n + 1]; n++) {
		char pair[3] = { hex[2 * n], hex[2 * n + 1], '\0' };

		buffer[n] = (uint8_t)strtoul(pair, NULL, 16);
	}
	return (struct bytes){ buffer, n };
}

static void tell_payload(enum payload_refusal refusal, const struct payload *p)
{
	if (refusal != PAYLOAD_OK)
		printf("refused %s\n", payload_refusal_text(refusal));
	else
		printf("%" PRId64 " %" PRId64 " %s\n", p->mass_mg, p->step_mg,
		       p->unit == MASS_POUND ? "lb" : "kg");
}

static void tell_2a9d(char **words)
{
	uint8_t buffer[OCTETS_MAX];
	struct payload p;

	tell_payload(decode_weight_measurement(octets(words[1], buffer), NULL, &p), &p);
}

static void tell_2a9c(char **words)
{
	uint8_t buffer[OCTETS_MAX];
	struct payload p;

	tell_payload(decode_body_composition(octets(words[1], buffer), NULL, &p), &p);
}

static void tell_2a98(char **words)
{
	uint8_t buffer[OCTETS_MAX];
	struct payload p;

	tell_payload(decode_weight(octets(words[1], buffer), NULL, &p), &p);
}

static void tell_described(char **words)
{
	uint8_t buffer[OCTETS_MAX];
	struct presentation description;
	struct payload p;

	if (!presentation_read(octets(words[1], buffer), &description))
		puts("refused description");
	else
		tell_payload(decode_described(octets(words[2], buffer), &description, &p), &p);
}

static const char *outcome_text(enum quantity_outcome outcome)
{
	switch (outcome) {
	case QUANTITY_OK:
		return "ok";
	case QUANTITY_NO_UNIT:
		return "no-unit";
	case QUANTITY_MALFORMED:
		return "malformed";
	case QUANTITY_OUT_OF_RANGE:
		return "out-of-range";
	}
	return "unknown";
}

static void tell_mass(char **words)
{
	int64_t mg = 0, step_mg = 0;
	enum quantity_outcome outcome = quantity_mass(words[1], &mg, &step_mg);

	printf("%s %" PRId64 " %" PRId64 "\n", outcome_text(outcome), mg, step_mg);
}

static void tell_decimal(char **words)
{
	static const char units[][3] = {
		[MASS_KILOGRAM] = "kg", [MASS_GRAM] = "g", [MASS_POUND] = "lb", [MASS_OUNCE] = "oz"
	};
	int64_t mg;

	for (enum mass_unit unit = MASS_KILOGRAM; unit <= MASS_OUNCE; unit++) {
		if (strcmp(words[3], units[unit]) != 0)
			continue;
		if (mass_from_decimal(number(words[1]), (int)number(words[2]), unit, &mg))
			printf("%" PRId64 "\n", mg);
		else
			puts("out-of-range");
		return;
	}
	puts("unknown unit");
}

static void tell_grams(char **words)
{
	char text[64];

	(void)quantity_format(text, sizeof text, number(words[1]), number(words[2]),
			      QUANTITY_GRAMS);
	puts(text);
}

static void tell_ounces(char **words)
{
	char text[64];

	(void)quantity_format(text, sizeof text, number(words[1]), 0, QUANTITY_OUNCES);
	puts(text);
}

static void tell_rfc3339(char **words)
{
	int64_t ms = 0;
	int offset_min = 0;
	enum quantity_outcome outcome = quantity_rfc3339(words[1], &ms, &offset_min);

	printf("%s %" PRId64 " %d\n", outcome_text(outcome), ms, offset_min);
}

static void tell_utc(char **words)
{
	char text[QUANTITY_RFC3339_SIZE];

	quantity_rfc3339_utc(text, number(words[1]));
	puts(text);
}

static struct date_time date_of(char **words)
{
	return (struct date_time){
		.year = (uint16_t)number(words[1]),
		.month = (uint8_t)number(words[2]),
		.day = (uint8_t)number(words[3]),
		.hour = (uint8_t)number(words[4]),
		.minute = (uint8_t)number(words[5]),
		.second = (uint8_t)number(words[6]),
	};
}

static void tell_seconds(char **words)
{
	struct date_time t = date_of(words);

	if (date_time_valid(&t))
		printf("%" PRId64 "\n", date_time_seconds(&t));
	else
		puts("invalid");
}

static void tell_date(char **words)
{
	struct date_time t;

	if (date_time_from_seconds(number(words[1]), &t))
		printf("%d %d %d %d %d %d\n", t.year, t.month, t.day, t.hour, t.minute, t.second);
	else
		puts("outside");
}

static void tell_current_time(char **words)
{
	struct date_time t = date_of(words);
	uint8_t value[CURRENT_TIME_LENGTH];

	current_time_write(&t, value);
	for (size_t i = 0; i < sizeof value; i++)
		printf("%02x", value[i]);
	putchar('\n');
}

static void tell_medfloat(bool known, int32_t mantissa, int exponent)
{
	if (known)
		printf("%" PRId32 " %d\n", mantissa, exponent);
	else
		puts("special");
}

static void tell_sfloat(char **words)
{
	int32_t mantissa = 0;
	int exponent = 0;
	bool known = medfloat16((uint16_t)strtoul(words[1], NULL, 16), &mantissa, &exponent);

	tell_medfloat(known, mantissa, exponent);
}

static void tell_float(char **words)
{
	int32_t mantissa = 0;
	int exponent = 0;
	bool known = medfloat32((uint32_t)strtoul(words[1], NULL, 16), &mantissa, &exponent);

	tell_medfloat(known, mantissa, exponent);
}

static void tell_presentation(char **words)
{
	uint8_t buffer[OCTETS_MAX];
	struct presentation p;

	if (!presentation_read(octets(words[1], buffer), &p))
		puts("refused");
	else
		printf("%d %d %d %d %d %s\n", p.format, p.exponent, p.unit, p.name_space,
		       p.description, presentation_is_mass(&p) ? "mass" : "other");
}

static void tell_step_u(char **words)
{
	printf("%" PRId64 "\n", weigh_step_u_mg(number(words[1])));
}

static void tell_net(char **words)
{
	struct weigh_memory memory = { 0 };
	struct weigh_result result = { .gross_mg = number(words[1]), .step_mg = number(words[2]) };
	struct tare tare = { .mass_mg = number(words[3]), .u_mg = number(words[4]) };
	struct weighing weighing;

	(void)weigh_take(&memory, &result, &tare,
			 &weighing); /* the figures are the same for each outcome */
	printf("%" PRId64 " %" PRId64 "\n", weighing.net_mg, weighing.u_mg);
}

static void tell_uuid7(char **words)
{
	uint8_t random[OCTETS_MAX] = { 0 };
	char key[UUID7_SIZE];

	(void)octets(words[3], random);
	uuid7_format(key, number(words[1]), (uint16_t)number(words[2]), random);
	puts(key);
}

static void tell_uuid7_next(char **words)
{
	static struct uuid7_clock clock;
	char key[UUID7_SIZE];
	int r = uuid7_next(&clock, number(words[1]), key);

	if (r < 0)
		printf("%s\n", strerror(-r));
	else
		puts(key);
}

/* Costs in thousandths, row by row, with commas between; the cheapest sum in thousandths. */
static void tell_assign(char **words)
{
	size_t n = (size_t)number(words[1]), m = (size_t)number(words[2]), column[GROWTH_ANIMALS];
	double cost[GROWTH_ANIMALS * GROWTH_ANIMALS] = { 0 };
	char *at = words[3];

	for (size_t k = 0; k < n * m && at; k++)
		cost[k] = (double)number(strsep(&at, ",")) / 1000;
	printf("%.0f\n", 1000 * round_assign(cost, n, m, column));
}

static const struct request {
	const char *word;
	size_t words; /* 0: all that follows is one text */
	void (*tell)(char **words);
} requests[] = {
	{ "2a9d", 2, tell_2a9d },
	{ "2a9c", 2, tell_2a9c },
	{ "2a98", 2, tell_2a98 },
	{ "described", 3, tell_described },
	{ "mass", 0, tell_mass },
	{ "decimal", 4, tell_decimal },
	{ "grams", 3, tell_grams },
	{ "ounces", 2, tell_ounces },
	{ "rfc3339", 0, tell_rfc3339 },
	{ "utc", 2, tell_utc },
	{ "seconds", 7, tell_seconds },
	{ "date", 2, tell_date },
	{ "current-time", 7, tell_current_time },
	{ "sfloat", 2, tell_sfloat },
	{ "float", 2, tell_float },
	{ "presentation", 2, tell_presentation },
	{ "step-u", 2, tell_step_u },
	{ "net", 5, tell_net },
	{ "uuid7", 4, tell_uuid7 },
	{ "uuid7-next", 2, tell_uuid7_next },
	{ "assign", 4, tell_assign },
};

static const struct request *request_of(const char *word)
{
	for (size_t i = 0; i < sizeof requests / sizeof requests[0]; i++)
		if (strcmp(word, requests[i].word) == 0)
			return &requests[i];
	return NULL;
}

static bool answer(char *line)
{
	char *words[WORDS_MAX] = { strsep(&line, " ") };
	const struct request *request = request_of(words[0]);
	size_t n = 1;

	if (!request || !line)
		return false;
	if (request->words == 0) {
		words[1] = line;
		line = NULL;
	}
	while (line && n < request->words)
		words[n++] = strsep(&line, " ");
	if (line || n < request->words)
		return false;
	request->tell(words);
	return true;
}

int main(int argc, char **argv)
{
	char line[8192];

	if (argc != 1) {
		bool asked = argc == 2 && strcmp(argv[1], "--help") == 0;

		fputs(help, asked ? stdout : stderr);
		return asked ? 0 : 2;
	}
	while (fgets(line, sizeof line, stdin)) {
		line[strcspn(line, "\n")] = '\0';
		if (!answer(line)) {
			fprintf(stderr, "tell: not understood: %s\n", line);
			return 2;
		}
	}
	return 0;
}
