// SPDX-License-Identifier: MIT
#pragma once
/*
 * Comma-separated values as RFC 4180 has them: lines end in CR LF, a field with a comma, quote, CR or LF is quoted, a
 * quote in it doubled. What a field holds stays exact.
 * Above: export. Below: nothing.
 */
#include <stddef.h>
#include <stdio.h>

/* n octets as one field, without separator. Failures stay in the stream's error flag. */
void csv_field(FILE *to, const char *text, size_t n);
