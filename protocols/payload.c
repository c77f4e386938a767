// SPDX-License-Identifier: MIT
#include "protocols/payload.h"
#include "protocols/bytes.h"

const char *payload_refusal_text(enum payload_refusal refusal)
{
	switch (refusal) {
	case PAYLOAD_OK:
		return "decoded";
	case PAYLOAD_TRUNCATED:
		return "truncated";
	case PAYLOAD_RESERVED:
		return "a special number instead of a mass";
	case PAYLOAD_UNSUCCESSFUL:
		return "measurement unsuccessful";
	case PAYLOAD_OUT_OF_RANGE:
		return "out of range";
	case PAYLOAD_NO_MASS:
		return "no mass in it";
	case PAYLOAD_UNSUPPORTED:
		return "unit or format not supported";
	case PAYLOAD_ENCRYPTED:
		return "encrypted, and its key isn't known";
	case PAYLOAD_FORGED:
		return "doesn't fit the key";
	case PAYLOAD_REPLAYED:
		return "its counter isn't above the last one";
	case PAYLOAD_PLAIN:
		return "not encrypted, though its key is known";
	case PAYLOAD_KEYLESS:
		return "its key can't be read";
	}
	return "unknown refusal";
}

void payload_set_weight(struct payload *p, uint16_t raw, bool pounds)
{
	p->unit = pounds ? MASS_POUND : MASS_KILOGRAM;
	/* Can't fail: 65535 counts are 328 kg or 298 kg, far below MASS_MAX_MG. */
	if (pounds) {
		(void)mass_from_decimal(raw, -2, MASS_POUND, &p->mass_mg);
		(void)mass_from_decimal(1, -2, MASS_POUND, &p->step_mg);
	} else {
		(void)mass_from_decimal(INT64_C(5) * raw, -3, MASS_KILOGRAM, &p->mass_mg);
		(void)mass_from_decimal(5, -3, MASS_KILOGRAM, &p->step_mg);
	}
}

bool payload_take_stamp(struct payload *p, struct bytes *b)
{
	if (!date_time_read(b, &p->stamp))
		return false;
	p->has_stamp = true;
	if (!date_time_valid(&p->stamp))
		p->notes |= PAYLOAD_NOTE_BAD_STAMP;
	return true;
}

bool payload_take_user(struct payload *p, struct bytes *b)
{
	if (!bytes_u8(b, &p->user))
		return false;
	p->has_user = true;
	return true;
}

void payload_note_trailing(struct payload *p, const struct bytes *b)
{
	if (b->left > 0)
		p->notes |= PAYLOAD_NOTE_TRAILING;
}
