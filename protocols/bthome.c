// SPDX-License-Identifier: MIT
/*
 * The value: device info, then objects of an id and a number whose size the id alone tells; encrypted: device info,
 * the objects enciphered, counter, MIC (bthome.io/format, bthome.io/encryption; facts, 6).
 */
#include "protocols/bthome.h"
#include <string.h>

enum {
	INFO_ENCRYPTED = 1 << 0,
	INFO_TRIGGER = 1 << 2,
	INFO_RESERVED = 1 << 1 | 1 << 3 | 1 << 4,
};

#define INFO_VERSION_SHIFT 5
#define VERSION 2

enum {
	ID_PACKET = 0x00,
	ID_BATTERY = 0x01,
	ID_KILOGRAMS = 0x06,
	ID_POUNDS = 0x07,
	ID_BATTERY_LOW = 0x15,
	ID_BUTTON = 0x3A,
};

#define COUNTER_SIZE 4
#define PER_CENT_MAX 100

/* An object's size stands in the octet after its id. */
#define PREFIXED UINT8_MAX

/* Octets by id, from the format's tables; 0: not in them, and nobody can tell where the next object begins. */
// clang-format off
static const uint8_t sizes[256] = {
	[0x00] = 1, [0x01] = 1, [0x02] = 2, [0x03] = 2, [0x04] = 3, [0x05] = 3, [0x06] = 2, [0x07] = 2,
	[0x08] = 2, [0x09] = 1, [0x0A] = 3, [0x0B] = 3, [0x0C] = 2, [0x0D] = 2, [0x0E] = 2, [0x0F] = 1,
	[0x10] = 1, [0x11] = 1, [0x12] = 2, [0x13] = 2, [0x14] = 2, [0x15] = 1, [0x16] = 1, [0x17] = 1,
	[0x18] = 1, [0x19] = 1, [0x1A] = 1, [0x1B] = 1, [0x1C] = 1, [0x1D] = 1, [0x1E] = 1, [0x1F] = 1,
	[0x20] = 1, [0x21] = 1, [0x22] = 1, [0x23] = 1, [0x24] = 1, [0x25] = 1, [0x26] = 1, [0x27] = 1,
	[0x28] = 1, [0x29] = 1, [0x2A] = 1, [0x2B] = 1, [0x2C] = 1, [0x2D] = 1, [0x2E] = 1, [0x2F] = 1,
	[0x3A] = 1, [0x3B] = 2, [0x3C] = 2, [0x3D] = 2, [0x3E] = 4, [0x3F] = 2,
	[0x40] = 2, [0x41] = 2, [0x42] = 3, [0x43] = 2, [0x44] = 2, [0x45] = 2, [0x46] = 1, [0x47] = 2,
	[0x48] = 2, [0x49] = 2, [0x4A] = 2, [0x4B] = 3, [0x4C] = 4, [0x4D] = 4, [0x4E] = 4, [0x4F] = 4,
	[0x50] = 4, /* the table's type says 48 bits, its size, its example and its text 4 octets */
	[0x51] = 2, [0x52] = 2, [0x53] = PREFIXED, [0x54] = PREFIXED, [0x55] = 4, [0x56] = 2, [0x57] = 1,
	[0x58] = 1, [0x59] = 1, [0x5A] = 2, [0x5B] = 4, [0x5C] = 4, [0x5D] = 2, [0x5E] = 2, [0x5F] = 2,
	[0xF0] = 2, [0xF1] = 4, [0xF2] = 3,
};
// clang-format on

/* The id and the octets of the front object; false, b untouched, when it is unknown or cut. */
static bool take_object(struct bytes *b, uint8_t *ret_id, struct bytes *ret_value)
{
	struct bytes at = *b, value;
	uint8_t id, size;

	if (!bytes_u8(&at, &id))
		return false;
	size = sizes[id];
	if (size == 0 || (size == PREFIXED && !bytes_u8(&at, &size)))
		return false;
	value = (struct bytes){ .at = at.at, .left = size };
	if (!bytes_skip(&at, size))
		return false;
	*b = at;
	*ret_id = id;
	*ret_value = value;
	return true;
}

static void take_mass(struct bthome *b, uint16_t raw, enum mass_unit unit)
{
	struct payload *p = &b->masses[b->n_masses];

	if (b->n_masses == BTHOME_MASSES) {
		b->notes |= PAYLOAD_NOTE_TRAILING;
		return;
	}
	*p = (struct payload){ .unit = unit };
	/* Can't fail: 655.35 kg at most. The format has no special value: 0xFFFF is that mass. */
	(void)mass_from_decimal(raw, -2, unit, &p->mass_mg);
	(void)mass_from_decimal(1, -2, unit, &p->step_mg);
	b->n_masses++;
}

static enum bthome_button button(uint8_t event)
{
	return event <= BTHOME_LONG_TRIPLE_PRESS || event == BTHOME_HOLD ? event : BTHOME_NO_PRESS;
}

static void take_button(struct bthome *b, uint8_t event)
{
	if (b->n_buttons == BTHOME_BUTTONS)
		b->notes |= PAYLOAD_NOTE_TRAILING;
	else
		b->buttons[b->n_buttons++] = button(event);
}

/* Of what can't be several things of one scale, the first counts. */
static void take_octet(struct bthome *b, uint8_t id, uint8_t octet)
{
	switch (id) {
	case ID_PACKET:
		b->packet_id = b->has_packet_id ? b->packet_id : octet;
		b->has_packet_id = true;
		break;
	case ID_BATTERY:
		b->battery = b->has_battery || octet > PER_CENT_MAX ? b->battery : octet;
		b->has_battery = b->has_battery || octet <= PER_CENT_MAX;
		break;
	case ID_BATTERY_LOW:
		b->battery_low = b->battery_low || octet == 1;
		b->has_battery_low = true;
		break;
	case ID_BUTTON:
		take_button(b, octet);
		break;
	}
}

static void take_value(struct bthome *b, uint8_t id, struct bytes value)
{
	uint16_t raw;
	uint8_t octet;

	if (id == ID_KILOGRAMS || id == ID_POUNDS) {
		if (bytes_u16(&value, &raw))
			take_mass(b, raw, id == ID_KILOGRAMS ? MASS_KILOGRAM : MASS_POUND);
	} else if (bytes_u8(&value, &octet)) {
		take_octet(b, id, octet);
	}
}

static void take_objects(struct bthome *b, struct bytes objects)
{
	struct bytes value;
	uint8_t id;

	while (take_object(&objects, &id, &value))
		take_value(b, id, value);
	if (objects.left > 0)
		b->notes |= PAYLOAD_NOTE_TRAILING;
}

/* Address, UUID as sent, device info, counter as sent (bthome.io/encryption). */
static void make_nonce(const struct bthome_lock *lock, uint8_t info, uint32_t counter, uint8_t ret[BTHOME_NONCE_SIZE])
{
	uint8_t *at = ret;

	memcpy(at, lock->address, BTHOME_ADDRESS_SIZE);
	at += BTHOME_ADDRESS_SIZE;
	*at++ = BTHOME_UUID16 & 0xFF;
	*at++ = BTHOME_UUID16 >> 8;
	*at++ = info;
	for (unsigned i = 0; i < COUNTER_SIZE; i++)
		*at++ = (uint8_t)(counter >> 8 * i);
}

/* sealed: what follows the device info. The counter is looked at last: only a genuine one says anything. */
static enum payload_refusal unseal(struct bytes sealed, uint8_t info, const struct bthome_lock *lock,
				   uint8_t ret[BTHOME_PLAIN_SIZE], size_t *ret_n, uint32_t *ret_counter)
{
	const uint8_t *cipher = sealed.at;
	uint8_t nonce[BTHOME_NONCE_SIZE];
	uint32_t counter;
	size_t n;

	if (sealed.left < COUNTER_SIZE + BTHOME_MIC_SIZE)
		return PAYLOAD_TRUNCATED;
	n = sealed.left - COUNTER_SIZE - BTHOME_MIC_SIZE;
	if (!lock || !lock->key)
		return PAYLOAD_ENCRYPTED;
	if (n > BTHOME_PLAIN_SIZE) /* longer than any advertisement */
		return PAYLOAD_UNSUPPORTED;
	if (!bytes_skip(&sealed, n) || !bytes_u32(&sealed, &counter))
		return PAYLOAD_TRUNCATED;
	make_nonce(lock, info, counter, nonce);
	if (!lock->decrypt(lock->userdata, lock->key, nonce, cipher, n, sealed.at, ret))
		return PAYLOAD_FORGED;
	if (lock->has_counter && counter <= lock->counter)
		return PAYLOAD_REPLAYED;
	*ret_n = n;
	*ret_counter = counter;
	return PAYLOAD_OK;
}

enum payload_refusal bthome_read(struct bytes value, const struct bthome_lock *lock, struct bthome *ret)
{
	struct bthome b = { 0 };
	uint8_t info, plain[BTHOME_PLAIN_SIZE];
	enum payload_refusal refusal;

	if (!bytes_u8(&value, &info))
		return PAYLOAD_TRUNCATED;
	if (info >> INFO_VERSION_SHIFT != VERSION)
		return PAYLOAD_UNSUPPORTED;
	b.encrypted = info & INFO_ENCRYPTED;
	if (!b.encrypted && lock && lock->key)
		return PAYLOAD_PLAIN;
	if (b.encrypted) {
		refusal = unseal(value, info, lock, plain, &value.left, &b.counter);
		if (refusal != PAYLOAD_OK)
			return refusal;
		value.at = plain;
	}
	b.trigger = info & INFO_TRIGGER;
	b.notes = info & INFO_RESERVED ? PAYLOAD_NOTE_RESERVED_BITS : 0;
	take_objects(&b, value);
	*ret = b;
	return PAYLOAD_OK;
}
