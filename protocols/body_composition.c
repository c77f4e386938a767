// SPDX-License-Identifier: MIT
/*
 * Body Composition Measurement (0x2A9C) of the Body Composition Service. In the order of the flag
 * bits: flags, body fat, [time stamp], [user], seven optional fields of two octets, [weight],
 * [height] (GATT characteristic body_composition_measurement; facts, 2.2).
 */
#include "protocols/formats.h"

enum {
	FLAG_POUNDS = 1 << 0,
	FLAG_STAMP = 1 << 1,
	FLAG_USER = 1 << 2,
	FLAGS_BEFORE_WEIGHT = 0x03F8, /* basal metabolism to impedance, two octets each */
	FLAG_WEIGHT = 1 << 10,
	FLAG_HEIGHT = 1 << 11,
	FLAG_MULTI_PACKET = 1 << 12,
	FLAGS_RESERVED = 0xE000,
};

#define FAT_UNSUCCESSFUL 0xFFFF

/* Passes over the fields of two octets, one for each bit set. */
static bool skip_fields(struct bytes *b, unsigned flags)
{
	for (; flags != 0; flags &= flags - 1)
		if (!bytes_skip(b, 2))
			return false;
	return true;
}

static bool take_fields(struct bytes *b, uint16_t *ret_flags, uint16_t *ret_fat,
			uint16_t *ret_weight, struct payload *p)
{
	uint16_t flags;

	if (!bytes_u16(b, &flags) || !bytes_u16(b, ret_fat))
		return false;
	*ret_flags = flags;
	return (!(flags & FLAG_STAMP) || payload_take_stamp(p, b)) &&
	       (!(flags & FLAG_USER) || payload_take_user(p, b)) &&
	       skip_fields(b, flags & FLAGS_BEFORE_WEIGHT) &&
	       (!(flags & FLAG_WEIGHT) || bytes_u16(b, ret_weight)) &&
	       skip_fields(b, flags & FLAG_HEIGHT);
}

enum payload_refusal decode_body_composition(struct bytes value,
					     const struct presentation *description,
					     struct payload *ret)
{
	struct payload p = { 0 };
	uint16_t flags = 0, fat = 0, weight = 0;

	(void)description; /* the characteristic's own definition says it all */
	if (!take_fields(&value, &flags, &fat, &weight, &p))
		return PAYLOAD_TRUNCATED;
	if (fat == FAT_UNSUCCESSFUL)
		return PAYLOAD_UNSUCCESSFUL;
	if (!(flags & FLAG_WEIGHT))
		return PAYLOAD_NO_MASS;
	payload_set_weight(&p, weight, flags & FLAG_POUNDS);
	if (flags & FLAGS_RESERVED)
		p.notes |= PAYLOAD_NOTE_RESERVED_BITS;
	if (flags & FLAG_MULTI_PACKET)
		p.notes |= PAYLOAD_NOTE_MULTI_PACKET;
	payload_note_trailing(&p, &value);
	*ret = p;
	return PAYLOAD_OK;
}
