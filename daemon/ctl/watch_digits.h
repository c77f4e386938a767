// SPDX-License-Identifier: MIT
#pragma once
/*
 * A mass in digits that are read from the whelping box: five rows high, three rows of half blocks, or plain text.
 * Above: watch_draw.c. Below: text.
 */
#include "daemon/ctl/text.h"

enum watch_digits {
	WATCH_DIGITS_PLAIN, /* 1 row */
	WATCH_DIGITS_HALF,  /* 3 rows; UTF-8 alone */
	WATCH_DIGITS_FULL,  /* 5 rows */
};

unsigned watch_digits_rows(enum watch_digits size);
/* Columns that text needs; UINT_MAX when it holds a character that isn't drawn. */
unsigned watch_digits_width(const char *text, enum watch_digits size);
/* Appends one row of it. */
void watch_digits_put(struct text_line *line, const char *text, enum watch_digits size, unsigned row);
