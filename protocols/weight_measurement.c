// SPDX-License-Identifier: MIT
/*
 * Weight Measurement (0x2A9D) of the Weight Scale Service:
 * flags, weight, [time stamp], [user], [BMI and height] (GATT characteristic weight_measurement;
 * facts, 1.3).
 */
#include "protocols/formats.h"

enum {
	FLAG_POUNDS = 1 << 0,
	FLAG_STAMP = 1 << 1,
	FLAG_USER = 1 << 2,
	FLAG_BMI_AND_HEIGHT = 1 << 3,
	FLAGS_RESERVED = 0xF0,
};

#define BMI_AND_HEIGHT_LENGTH 4
#define WEIGHT_UNSUCCESSFUL 0xFFFF

enum payload_refusal decode_weight_measurement(struct bytes value,
					       const struct presentation *description,
					       struct payload *ret)
{
	struct payload p = { 0 };
	uint8_t flags;
	uint16_t raw;

	(void)description; /* the characteristic's own definition says it all */
	if (!bytes_u8(&value, &flags) || !bytes_u16(&value, &raw))
		return PAYLOAD_TRUNCATED;
	if (flags & FLAG_STAMP && !payload_take_stamp(&p, &value))
		return PAYLOAD_TRUNCATED;
	if (flags & FLAG_USER && !payload_take_user(&p, &value))
		return PAYLOAD_TRUNCATED;
	if (flags & FLAG_BMI_AND_HEIGHT && !bytes_skip(&value, BMI_AND_HEIGHT_LENGTH))
		return PAYLOAD_TRUNCATED;
	if (raw == WEIGHT_UNSUCCESSFUL)
		return PAYLOAD_UNSUCCESSFUL;
	payload_set_weight(&p, raw, flags & FLAG_POUNDS);
	if (flags & FLAGS_RESERVED)
		p.notes |= PAYLOAD_NOTE_RESERVED_BITS;
	payload_note_trailing(&p, &value);
	*ret = p;
	return PAYLOAD_OK;
}
