// SPDX-License-Identifier: MIT
#pragma once
/*
 * The table of formats: what bismar can decode. Adding one is one file and one row in formats.c.
 * Above: the radio (which characteristics to subscribe to) and the daemon (decode). Below: the decoders.
 * Pure: no I/O, no clock, no allocation, no log, no globals but the constant table.
 */
#include "bytes.h"
#include "payload.h"
#include <stddef.h>
#include <stdint.h>

struct presentation;

struct format {
	const char *name;  /* the standard's name, for people */
	uint16_t uuid16;   /* the characteristic's assigned number; 0: chosen by its description (0x2904) */
	/* value: the octets as received. description: the 0x2904 of the characteristic, or NULL; only the
	 * described format looks at it. Returns PAYLOAD_OK and *ret, or why not (then *ret is untouched). */
	enum payload_refusal (*decode)(struct bytes value, const struct presentation *description,
				       struct payload *ret);
};

/* All rows, in order of preference when one scale reports a weighing twice. */
const struct format *format_table(size_t *ret_n);

/*
 * The format for a characteristic. uuid: 36 characters, any case, as BlueZ writes it
 * ("00002a9d-0000-1000-8000-00805f9b34fb"). description may be NULL.
 * An assigned number of the table wins; else a description of a mass; else NULL: not for us.
 */
const struct format *format_for(const char *uuid, const struct presentation *description);

/* 16-bit assigned number of a UUID on the Bluetooth base, or 0 for any other UUID or text. */
uint16_t format_assigned_number(const char *uuid);

/* The decoders, one file each. */
enum payload_refusal decode_weight_measurement(struct bytes, const struct presentation *, struct payload *);
enum payload_refusal decode_body_composition(struct bytes, const struct presentation *, struct payload *);
enum payload_refusal decode_weight(struct bytes, const struct presentation *, struct payload *);
enum payload_refusal decode_described(struct bytes, const struct presentation *, struct payload *);
