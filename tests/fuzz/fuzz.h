// SPDX-License-Identifier: MIT
#pragma once
/*
 * What fuzz targets share. A target is one function of octets; with libFuzzer it is driven by coverage, else seeds.c runs
 * it over the files of seeds/TARGET, each at every length. What it states must hold whatever comes: FUZZ_HOLDS.
 */
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

#define FUZZ_HOLDS(what)                                                                                               \
	do {                                                                                                           \
		if (!(what)) {                                                                                         \
			(void)fprintf(stderr, "%s:%d: doesn't hold: %s\n", __FILE__, __LINE__, #what);                 \
			abort();                                                                                       \
		}                                                                                                      \
	} while (0)

/* The octets as a text, ended by a zero; free() it. */
static inline char *fuzz_text(const uint8_t *data, size_t size)
{
	char *text = malloc(size + 1);

	if (!text)
		abort();
	if (size)
		memcpy(text, data, size);
	text[size] = '\0';
	return text;
}
