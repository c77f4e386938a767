// SPDX-License-Identifier: MIT
#pragma once
/*
 * For tests: wire octets written as hexadecimal text, laid so that they end where their memory
 * ends. A sanitizer or valgrind sees a read of one octet too many.
 */
#include "protocols/bytes.h"
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <setjmp.h>

#include <cmocka.h>

#define N_OF(array) (sizeof(array) / sizeof((array)[0]))

struct octets {
	uint8_t *memory;
	struct bytes value;
};

static inline uint8_t octets_digit(char c)
{
	const char *digits = "0123456789ABCDEF";
	const char *found = c ? strchr(digits, c) : NULL;

	assert_non_null(found);
	return (uint8_t)(found - digits);
}

/* The first n octets of "00 58 1B", or all of them when it has fewer. */
static inline struct octets octets_first(const char *hex, size_t n)
{
	size_t all = (strlen(hex) + 1) / 3;
	size_t take = n < all ? n : all;
	/* Memory of no octets may be one octet long; its end is what counts. */
	struct octets o = { .memory = malloc(take ? take : 1) };
	uint8_t *at;

	assert_non_null(o.memory);
	at = o.memory + (take ? 0 : 1);
	for (size_t i = 0; i < take; i++)
		at[i] = (uint8_t)(octets_digit(hex[3 * i]) << 4 | octets_digit(hex[3 * i + 1]));
	o.value = (struct bytes){ .at = at, .left = take };
	return o;
}

static inline struct octets octets_of(const char *hex)
{
	return octets_first(hex, SIZE_MAX);
}

static inline void octets_free(struct octets *o)
{
	free(o->memory);
	*o = (struct octets){ 0 };
}
