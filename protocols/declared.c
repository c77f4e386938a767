// SPDX-License-Identifier: MIT
#include "protocols/declared.h"
#include <stdio.h>
#include <strings.h>

#define COMPANY_SIZE sizeof("0x04d2")

static bool take_big_endian(struct bytes *b, size_t n, uint64_t *ret)
{
	uint64_t value = 0;
	uint8_t octet;

	for (size_t i = 0; i < n; i++) {
		if (!bytes_u8(b, &octet))
			return false;
		value = value << 8 | octet;
	}
	*ret = value;
	return true;
}

/* Two's complement of n octets. */
static int64_t extend(uint64_t value, size_t n)
{
	if (n < sizeof value && value >> (8 * n - 1))
		value |= UINT64_MAX << 8 * n;
	return (int64_t)value;
}

static enum payload_refusal take_raw(const struct declared *d, struct bytes value, int64_t *ret)
{
	uint64_t raw;

	if (!bytes_skip(&value, d->offset) ||
	    !(d->big_endian ? take_big_endian(&value, d->width, &raw) : bytes_uint(&value, d->width, &raw)))
		return PAYLOAD_TRUNCATED;
	if (!d->is_signed && raw > INT64_MAX)
		return PAYLOAD_OUT_OF_RANGE;
	*ret = d->is_signed ? extend(raw, d->width) : (int64_t)raw;
	return PAYLOAD_OK;
}

/* False when the octet isn't there. */
static bool take_bit(struct bytes value, uint16_t bit, bool *ret)
{
	uint8_t octet;

	if (!bytes_skip(&value, bit / 8) || !bytes_u8(&value, &octet))
		return false;
	*ret = octet >> bit % 8 & 1;
	return true;
}

static bool take_marks(const struct declared *d, struct bytes value, struct payload *p)
{
	bool steady;

	if (d->steady_bit != DECLARED_NO_BIT) {
		if (!take_bit(value, d->steady_bit, &steady))
			return false;
		p->steady = steady ? PAYLOAD_STEADY_YES : PAYLOAD_STEADY_NO;
	}
	return d->tare_bit == DECLARED_NO_BIT || take_bit(value, d->tare_bit, &p->tared);
}

/* One count, held to 1 mg .. MASS_MAX_MG. */
static int64_t step_mg(const struct declared *d)
{
	int64_t step;

	if (!mass_from_decimal(d->factor, d->exponent, d->unit, &step))
		return MASS_MAX_MG;
	if (step < 0)
		step = -step;
	return step > 0 ? step : 1;
}

enum payload_refusal declared_decode(const struct declared *declared, struct bytes value, struct payload *ret)
{
	struct payload p = { .unit = declared->unit };
	enum payload_refusal refusal;
	int64_t raw, mantissa;

	refusal = take_raw(declared, value, &raw);
	if (refusal != PAYLOAD_OK)
		return refusal;
	if (!take_marks(declared, value, &p))
		return PAYLOAD_TRUNCATED;
	if (__builtin_mul_overflow(raw, declared->factor, &mantissa) ||
	    !mass_from_decimal(mantissa, declared->exponent, declared->unit, &p.mass_mg))
		return PAYLOAD_OUT_OF_RANGE;
	p.step_mg = step_mg(declared);
	*ret = p;
	return PAYLOAD_OK;
}

static bool fits(const struct declared *declared, enum declared_source source, const char *uuid)
{
	char company[COMPANY_SIZE];

	if (declared->source != source)
		return false;
	if (source != DECLARED_MANUFACTURER)
		return strcasecmp(declared->uuid, uuid) == 0;
	(void)snprintf(company, sizeof company, "0x%04x", declared->company);
	return strcasecmp(company, uuid) == 0;
}

const struct declared *declared_for(const struct declared *list, size_t n, enum declared_source source,
				    const char *uuid)
{
	for (size_t i = 0; i < n; i++)
		if (fits(&list[i], source, uuid))
			return &list[i];
	return NULL;
}
