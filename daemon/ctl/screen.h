// SPDX-License-Identifier: MIT
#pragma once
/*
 * A terminal's screen as rows of text, and what turns one such picture into the next. Pure.
 * Above: watch_draw.c fills it, terminal.c sends it. Below: text.
 */
#include "daemon/ctl/text.h"
#include <stdbool.h>
#include <stddef.h>

#define SCREEN_ROWS 100
#define SCREEN_COLUMNS 250
#define SCREEN_ROW_SIZE (SCREEN_COLUMNS * 4 + 1)

struct screen {
	unsigned width, height; /* at most SCREEN_COLUMNS, SCREEN_ROWS */
	bool utf8;
	struct screen_row {
		char text[SCREEN_ROW_SIZE];
		bool bold;
	} rows[SCREEN_ROWS];
	unsigned cursor_row, cursor_column; /* from 0 */
};

/* Empties it; width and height are cut to what it can hold. */
void screen_clear(struct screen *screen, unsigned width, unsigned height, bool utf8);
/* Begins row (from 0); beyond the screen the line goes nowhere: false. */
bool screen_row(struct screen *screen, unsigned row, bool bold, struct text_line *ret_line);

/*
 * Writes into buffer what turns the terminal from showing old into showing new: VT100 sequences alone (ECMA-48: CUP,
 * EL, ED, SGR). old NULL: the terminal shows anything. Returns the octets, without NUL; size SCREEN_PAINT_SIZE
 * suffices.
 */
#define SCREEN_PAINT_SIZE (SCREEN_ROWS * (SCREEN_ROW_SIZE + 32) + 64)
size_t screen_paint(const struct screen *new, const struct screen *old, char *buffer, size_t size);
