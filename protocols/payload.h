// SPDX-License-Identifier: MIT
#pragma once
/*
 * What a decoder makes of one value: a payload, or a typed refusal.
 * Above: formats.h, the daemon. Below: mass, date_time, bytes. No I/O, no clock, no allocation, no log.
 */
#include "date_time.h"
#include "mass.h"
#include <stdbool.h>
#include <stdint.h>

struct bytes;

enum payload_refusal {
	PAYLOAD_OK = 0,
	PAYLOAD_TRUNCATED,    /* fewer octets than the flags announce */
	PAYLOAD_RESERVED,     /* a reserved or special number where a mass should be (NaN, NRes, infinity) */
	PAYLOAD_UNSUCCESSFUL, /* the scale says that the measurement failed (0xFFFF) */
	PAYLOAD_OUT_OF_RANGE, /* a number, but no possible mass */
	PAYLOAD_NO_MASS,      /* well formed, and carries no mass (fat percentage alone, height alone) */
	PAYLOAD_UNSUPPORTED,  /* the description names a unit or format that is no mass */
	PAYLOAD_ENCRYPTED,    /* encrypted, and no key is known for it */
	PAYLOAD_FORGED,       /* doesn't fit the key: a wrong key, or not from this scale */
	PAYLOAD_REPLAYED,     /* its counter isn't above the last one */
	PAYLOAD_PLAIN,        /* not encrypted, from a scale whose key is known */
	PAYLOAD_KEYLESS,      /* it has a key, which can't be read; told by the desk, never by a decoder */
};

/* What else is worth keeping beside the mass. */
enum payload_note {
	PAYLOAD_NOTE_RESERVED_BITS = 1 << 0, /* flag bits that the standard reserves were set; ignored */
	PAYLOAD_NOTE_TRAILING = 1 << 1,      /* octets after the last known field; ignored */
	PAYLOAD_NOTE_MULTI_PACKET = 1 << 2,  /* half of a measurement that came in two indications */
	PAYLOAD_NOTE_BAD_STAMP = 1 << 3,     /* a time stamp was there, and can't be a date */
};

/* Whether the scale itself calls the mass steady. */
enum payload_steady {
	PAYLOAD_STEADY_UNSAID = 0, /* the format has no such mark */
	PAYLOAD_STEADY_YES,
	PAYLOAD_STEADY_NO,
};

struct payload {
	int64_t mass_mg;       /* as sent; may be negative where the format is signed */
	int64_t step_mg;       /* the smallest difference the wire can show, rounded, at least 1 */
	enum mass_unit unit;   /* as sent */
	bool has_stamp;        /* a time stamp field was present, valid or not */
	struct date_time stamp; /* the scale's local time, as sent */
	bool has_user;
	uint8_t user;          /* user index; 0xFF = the scale doesn't know who */
	unsigned notes;        /* of enum payload_note */
	enum payload_steady steady;
	bool tared;            /* the scale's own tare is on: mass_mg is net of what it was zeroed with */
};

/* One lower-case phrase for a log or the frame's `why`, for instance "truncated". Static storage. */
const char *payload_refusal_text(enum payload_refusal refusal);

/* For decoders: the fields that the weight formats share. The octets come from the front of b. */

/* Sets mass, step and unit from a weight field: 0.005 kg a count, or 0.01 lb (facts, 1.3, 2.2 and 3.1). */
void payload_set_weight(struct payload *p, uint16_t raw, bool pounds);
/* Takes a Date Time and notes a stamp that is no date; false, p and b untouched, when fewer octets are left. */
bool payload_take_stamp(struct payload *p, struct bytes *b);
/* Takes a user index; false, p and b untouched, when no octet is left. */
bool payload_take_user(struct payload *p, struct bytes *b);
/* Notes octets that no field claimed. */
void payload_note_trailing(struct payload *p, const struct bytes *b);
