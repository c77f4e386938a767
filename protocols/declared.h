// SPDX-License-Identifier: MIT
#pragma once
/*
 * A format that a user declares in bismard.conf: a number at a fixed place of a value or broadcast, with a factor and
 * a unit. For scales of no standard, without C.
 * Above: daemon/config (reads it), the desk (decodes with it). Below: payload, mass, bytes. Pure.
 */
#include "bytes.h"
#include "payload.h"
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define DECLARED_NAME_SIZE 65
#define DECLARED_UUID_SIZE 37
#define DECLARED_OFFSET_MAX 511
#define DECLARED_WIDTH_MAX 8
#define DECLARED_NO_BIT UINT16_MAX

enum declared_source {
	DECLARED_CHARACTERISTIC, /* uuid: of a characteristic that indicates or notifies */
	DECLARED_SERVICE_DATA,   /* uuid: of service data in a broadcast */
	DECLARED_MANUFACTURER,   /* company: of manufacturer data in a broadcast */
};

enum declared_reports {
	DECLARED_STREAM, /* many values while something is on the scale: bismar settles them itself */
	DECLARED_RESULT, /* one value a weighing, settled by the scale */
};

struct declared {
	char name[DECLARED_NAME_SIZE]; /* of the section, for people */
	enum declared_source source;
	char uuid[DECLARED_UUID_SIZE]; /* 36 characters, lower case */
	uint16_t company;
	uint16_t offset;      /* octets before the mass; 0..DECLARED_OFFSET_MAX */
	uint8_t width;        /* octets of the mass; 1..DECLARED_WIDTH_MAX */
	bool is_signed;       /* two's complement */
	bool big_endian;
	int64_t factor;       /* mass = raw * factor * 10^exponent of unit; not 0 */
	int exponent;
	enum mass_unit unit;
	uint16_t steady_bit;  /* octet * 8 + bit (0: least significant) of what is set when the mass is steady; or DECLARED_NO_BIT */
	uint16_t tare_bit;    /* the same of what is set while the scale's own tare is on; or DECLARED_NO_BIT */
	enum declared_reports reports;
};

/* The value as received. PAYLOAD_OK and *ret with mass, step (of one count), unit, steady, tared; or TRUNCATED or
 * OUT_OF_RANGE (also when raw * factor is over 63 bits), *ret untouched. Octets after the last one named are no concern
 * of the format's. */
enum payload_refusal declared_decode(const struct declared *declared, struct bytes value, struct payload *ret);
/* The first of list[n] that source and uuid (DECLARED_MANUFACTURER: "0x04d2"; any case) fit, or NULL. */
const struct declared *declared_for(const struct declared *list, size_t n, enum declared_source source,
				    const char *uuid);
