// SPDX-License-Identifier: MIT
#include "protocols/formats.h"
#include "protocols/hex.h"
#include "protocols/presentation.h"

/*
 * The order is the preference. Weight comes last: it is first of all a profile value that a scale
 * keeps about a user (facts, 3.1), and it knows neither time nor a step finer than 5 g.
 */
static const struct format table[] = {
	{ "Weight Measurement", 0x2A9D, decode_weight_measurement },
	{ "Body Composition Measurement", 0x2A9C, decode_body_composition },
	{ "mass described by 0x2904", 0, decode_described },
	{ "Weight", 0x2A98, decode_weight },
};

#define N_FORMATS (sizeof table / sizeof table[0])

const struct format *format_table(size_t *ret_n)
{
	*ret_n = N_FORMATS;
	return table;
}

/* The row of an assigned number; of 0, the row for described masses. */
static const struct format *row(uint16_t uuid16)
{
	for (size_t i = 0; i < N_FORMATS; i++)
		if (table[i].uuid16 == uuid16)
			return &table[i];
	return NULL;
}

const struct format *format_for(const char *uuid, const struct presentation *description)
{
	uint16_t number = format_assigned_number(uuid);
	const struct format *assigned = number != 0 ? row(number) : NULL;

	if (assigned)
		return assigned;
	return description && presentation_is_mass(description) ? row(0) : NULL;
}

uint16_t format_assigned_number(const char *uuid)
{
	/* The Bluetooth base UUID (Core Specification, Vol 3, Part B, 2.5.1); x: assigned. */
	static const char base[] = "0000xxxx-0000-1000-8000-00805f9b34fb";
	unsigned number = 0;

	/* With the NUL: the text must end where the base does; a shorter one differs there. */
	for (size_t i = 0; i < sizeof base; i++) {
		int digit = hex_digit(uuid[i]);

		if (base[i] == 'x' && digit >= 0)
			number = number << 4 | (unsigned)digit;
		else if (base[i] == 'x' ||
			 (base[i] != uuid[i] && (digit < 0 || digit != hex_digit(base[i]))))
			return 0;
	}
	return (uint16_t)number;
}
