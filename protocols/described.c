// SPDX-License-Identifier: MIT
/*
 * Any characteristic whose Characteristic Presentation Format (0x2904) says that it is a mass: the
 * standard's way to a step finer than 0.005 kg (GATT descriptor
 * gatt.characteristic_presentation_format; facts, 3.2).
 */
#include "protocols/formats.h"
#include "protocols/medfloat.h"
#include "protocols/presentation.h"

struct decimal {
	int64_t mantissa;
	int exponent;
};

static enum payload_refusal take_unsigned(struct bytes *b, size_t octets, int64_t *ret)
{
	uint64_t raw;

	if (!bytes_uint(b, octets, &raw))
		return PAYLOAD_TRUNCATED;
	if (raw > INT64_MAX)
		return PAYLOAD_OUT_OF_RANGE;
	*ret = (int64_t)raw;
	return PAYLOAD_OK;
}

static enum payload_refusal take_medfloat(struct bytes *b, size_t octets, struct decimal *ret)
{
	uint64_t raw;
	int32_t mantissa;
	int exponent;
	bool number;

	if (!bytes_uint(b, octets, &raw))
		return PAYLOAD_TRUNCATED;
	number = octets == sizeof(uint16_t) ? medfloat16((uint16_t)raw, &mantissa, &exponent)
					    : medfloat32((uint32_t)raw, &mantissa, &exponent);
	if (!number)
		return PAYLOAD_RESERVED;
	*ret = (struct decimal){ mantissa, exponent };
	return PAYLOAD_OK;
}

static enum payload_refusal take_number(struct bytes *b, const struct presentation_number *number,
					int integer_exponent, struct decimal *ret)
{
	switch (number->kind) {
	case PRESENTATION_UNSIGNED:
		ret->exponent = integer_exponent;
		return take_unsigned(b, number->octets, &ret->mantissa);
	case PRESENTATION_SIGNED:
		ret->exponent = integer_exponent;
		return bytes_sint(b, number->octets, &ret->mantissa) ? PAYLOAD_OK
								     : PAYLOAD_TRUNCATED;
	case PRESENTATION_SFLOAT:
	case PRESENTATION_FLOAT:
		/* These carry their own; the description's exponent is for integers only. */
		return take_medfloat(b, number->octets, ret);
	}
	return PAYLOAD_UNSUPPORTED;
}

/* One count of the number, held to 1 mg .. MASS_MAX_MG. */
static int64_t step_mg(int exponent, enum mass_unit unit)
{
	int64_t step;

	if (!mass_from_decimal(1, exponent, unit, &step))
		return MASS_MAX_MG;
	return step > 0 ? step : 1;
}

enum payload_refusal decode_described(struct bytes value, const struct presentation *description,
				      struct payload *ret)
{
	struct payload p = { 0 };
	struct presentation_number number;
	struct decimal decimal;
	enum payload_refusal refusal;

	if (!description || !presentation_number(description->format, &number) ||
	    !presentation_mass_unit(description->unit, &p.unit))
		return PAYLOAD_UNSUPPORTED;
	refusal = take_number(&value, &number, description->exponent, &decimal);
	if (refusal != PAYLOAD_OK)
		return refusal;
	if (!mass_from_decimal(decimal.mantissa, decimal.exponent, p.unit, &p.mass_mg))
		return PAYLOAD_OUT_OF_RANGE;
	p.step_mg = step_mg(decimal.exponent, p.unit);
	payload_note_trailing(&p, &value);
	*ret = p;
	return PAYLOAD_OK;
}
