// SPDX-License-Identifier: MIT
#pragma once
/*
 * A cursor over octets that came from outside. Every wire octet of the project is read through it.
 * Above: the decoders of this folder. Below: nothing. It never reads past the end and never allocates.
 *
 * All multi-octet fields are little-endian, the order of GATT (Bluetooth Core Specification, Vol 3,
 * Part G, 2.4). Each bytes_*() takes the field from the front and moves on, or returns false, changes
 * nothing and leaves *ret alone when fewer octets are left than the field needs.
 */
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct bytes {
	const uint8_t *at; /* borrowed from the caller */
	size_t left;       /* octets that may still be read */
};

bool bytes_u8(struct bytes *b, uint8_t *ret);
bool bytes_u16(struct bytes *b, uint16_t *ret);
bool bytes_u24(struct bytes *b, uint32_t *ret);
bool bytes_u32(struct bytes *b, uint32_t *ret);
/* An unsigned little-endian integer of n octets, n in 1..8. */
bool bytes_uint(struct bytes *b, size_t n, uint64_t *ret);
/* The same, in two's complement. */
bool bytes_sint(struct bytes *b, size_t n, int64_t *ret);
bool bytes_skip(struct bytes *b, size_t n);
