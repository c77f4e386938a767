// SPDX-License-Identifier: MIT
#pragma once
/*
 * Characteristic Presentation Format (descriptor 0x2904): what kind of number a characteristic holds.
 * Above: the decoder for described masses, the radio (which reads the descriptor). Below: bytes, mass.
 * Source: GATT descriptor gatt.characteristic_presentation_format; facts, 3.2.
 */
#include "mass.h"
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct bytes;

#define PRESENTATION_LENGTH 7

struct presentation {
	uint8_t format;       /* code of the table in the facts, 3.2 */
	int8_t exponent;      /* integer formats only: value = raw * 10^exponent */
	uint16_t unit;        /* 0x2702 kilogram, 0x27B8 pound, ... */
	uint8_t name_space;
	uint16_t description;
};

/* Takes exactly the 7 octets; false when there are fewer or more. */
bool presentation_read(struct bytes value, struct presentation *ret);
/* True when this describes a mass that decode_described() can read: kilogram or pound; (u|s)int of whole
 * octets up to 64 bits, float32/64 excluded, SFLOAT and FLOAT included. */
bool presentation_is_mass(const struct presentation *p);

/* For the decoder: how the number is written, and in how many octets. */
enum presentation_kind {
	PRESENTATION_UNSIGNED,
	PRESENTATION_SIGNED,
	PRESENTATION_SFLOAT,
	PRESENTATION_FLOAT,
};

struct presentation_number {
	enum presentation_kind kind;
	size_t octets;
};

/* The number of a format code; false when decode_described() can't read it. */
bool presentation_number(uint8_t format, struct presentation_number *ret);
/* The mass unit of a unit number; false when it is no mass that decode_described() can read. */
bool presentation_mass_unit(uint16_t unit, enum mass_unit *ret);
