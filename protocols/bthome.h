// SPDX-License-Identifier: MIT
#pragma once
/*
 * BTHome v2 broadcasts: service data of UUID 0xFCD2, format and encryption as published at bthome.io (facts, 6).
 * Above: the desk, which keeps keys and counters and has the cipher. Below: payload, bytes.
 * Pure: no I/O, no clock, no allocation, no log, no cipher of its own.
 */
#include "bytes.h"
#include "payload.h"
#include <stddef.h>
#include <stdint.h>

#define BTHOME_UUID16 0xFCD2
#define BTHOME_MASSES 4      /* of one broadcast that are kept; further ones are noted as trailing */
#define BTHOME_BUTTONS 8     /* the same */
#define BTHOME_KEY_SIZE 16
#define BTHOME_ADDRESS_SIZE 6
#define BTHOME_NONCE_SIZE 13
#define BTHOME_MIC_SIZE 4
#define BTHOME_PLAIN_SIZE 255

/* What a button did; the numbers are the format's (object 0x3A). Numbers that aren't here stand for nothing. */
enum bthome_button {
	BTHOME_NO_PRESS = 0x00,
	BTHOME_PRESS = 0x01,
	BTHOME_DOUBLE_PRESS = 0x02,
	BTHOME_TRIPLE_PRESS = 0x03,
	BTHOME_LONG_PRESS = 0x04,
	BTHOME_LONG_DOUBLE_PRESS = 0x05,
	BTHOME_LONG_TRIPLE_PRESS = 0x06,
	BTHOME_HOLD = 0x80,
};

struct bthome {
	bool encrypted;          /* it came encrypted */
	uint32_t counter;        /* with encrypted */
	bool trigger;            /* sends when something happens, not at an interval */
	bool has_packet_id;
	uint8_t packet_id;
	bool has_battery;
	uint8_t battery;         /* 0..100 per cent */
	bool has_battery_low;
	bool battery_low;        /* object 0x15 */
	size_t n_masses;
	struct payload masses[BTHOME_MASSES]; /* in the order sent */
	size_t n_buttons;
	enum bthome_button buttons[BTHOME_BUTTONS]; /* in the order sent; BTHOME_NO_PRESS kept: the order tells which */
	unsigned notes;          /* of enum payload_note: TRAILING: stopped at an unknown or cut object, or there were
				  * more masses or buttons than are kept; RESERVED_BITS: of the device info */
};

/* The cipher: AES-128-CCM, no associated data. True and the plain octets in ret[n], or false when mic doesn't fit. */
typedef bool bthome_decrypt(void *userdata, const uint8_t key[BTHOME_KEY_SIZE], const uint8_t nonce[BTHOME_NONCE_SIZE],
			    const uint8_t *cipher, size_t n, const uint8_t mic[BTHOME_MIC_SIZE], uint8_t *ret);

struct bthome_lock { /* what it takes to read encrypted ones */
	const uint8_t *key;                    /* BTHOME_KEY_SIZE; NULL: none known */
	uint8_t address[BTHOME_ADDRESS_SIZE];  /* in reading order: "54:48:E6:8F:80:A5" is 0x54, 0x48, ... */
	bool has_counter;
	uint32_t counter;                      /* the highest seen; with has_counter */
	bthome_decrypt *decrypt;
	void *userdata;
};

/*
 * value: the octets after the UUID, as BlueZ gives them (first the device-info octet). lock may be NULL: no key.
 * PAYLOAD_OK and *ret, also without any mass in it (a button alone); else why not, *ret untouched:
 * TRUNCATED (no device info, or too short to be encrypted), UNSUPPORTED (not version 2, or longer than an advertisement
 * can be), ENCRYPTED, FORGED, REPLAYED (told of genuine ones alone), PLAIN. An object that is cut or unknown ends the
 * reading; what came before it counts.
 */
enum payload_refusal bthome_read(struct bytes value, const struct bthome_lock *lock, struct bthome *ret);
