// SPDX-License-Identifier: MIT
#include "contrib/keypad/tag.h"
#include <linux/input-event-codes.h>
#include <string.h>

void tag_clear(struct tag *tag)
{
	*tag = (struct tag){ .before_ms = INT64_MIN };
}

void tag_forget(struct tag *tag)
{
	tag->before_ms = INT64_MIN;
}

/* The character of a key; 0: none that a code has. Letters of a keyboard don't stand in the order of the alphabet. */
static char character(unsigned code, bool shift)
{
	static const struct {
		unsigned code;
		char plain, shifted;
	} rows[] = {
		{ KEY_1, '1', 0 },           { KEY_2, '2', 0 },     { KEY_3, '3', 0 },       { KEY_4, '4', 0 },
		{ KEY_5, '5', 0 },           { KEY_6, '6', 0 },     { KEY_7, '7', 0 },       { KEY_8, '8', 0 },
		{ KEY_9, '9', 0 },           { KEY_0, '0', 0 },     { KEY_KP1, '1', '1' },   { KEY_KP2, '2', '2' },
		{ KEY_KP3, '3', '3' },       { KEY_KP4, '4', '4' }, { KEY_KP5, '5', '5' },   { KEY_KP6, '6', '6' },
		{ KEY_KP7, '7', '7' },       { KEY_KP8, '8', '8' }, { KEY_KP9, '9', '9' },   { KEY_KP0, '0', '0' },
		{ KEY_A, 'a', 'A' },         { KEY_B, 'b', 'B' },   { KEY_C, 'c', 'C' },     { KEY_D, 'd', 'D' },
		{ KEY_E, 'e', 'E' },         { KEY_F, 'f', 'F' },   { KEY_G, 'g', 'G' },     { KEY_H, 'h', 'H' },
		{ KEY_I, 'i', 'I' },         { KEY_J, 'j', 'J' },   { KEY_K, 'k', 'K' },     { KEY_L, 'l', 'L' },
		{ KEY_M, 'm', 'M' },         { KEY_N, 'n', 'N' },   { KEY_O, 'o', 'O' },     { KEY_P, 'p', 'P' },
		{ KEY_Q, 'q', 'Q' },         { KEY_R, 'r', 'R' },   { KEY_S, 's', 'S' },     { KEY_T, 't', 'T' },
		{ KEY_U, 'u', 'U' },         { KEY_V, 'v', 'V' },   { KEY_W, 'w', 'W' },     { KEY_X, 'x', 'X' },
		{ KEY_Y, 'y', 'Y' },         { KEY_Z, 'z', 'Z' },   { KEY_MINUS, '-', '_' }, { KEY_DOT, '.', 0 },
		{ KEY_SEMICOLON, ';', ':' }, { KEY_SLASH, '/', 0 }, { KEY_SPACE, ' ', ' ' },
	};

	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
		if (rows[i].code == code)
			return shift ? rows[i].shifted : rows[i].plain;
	return 0;
}

static void begin(struct tag *tag)
{
	tag->n = 0;
	tag->unfit = false;
}

static enum tag_outcome finish(struct tag *tag, int64_t at_ms)
{
	bool again;

	tag->code[tag->n] = '\0';
	if (tag->unfit) {
		begin(tag);
		return TAG_UNFIT;
	}
	if (tag->n == 0)
		return TAG_NONE; /* some readers send CR and LF */
	begin(tag);
	again = tag->before_ms != INT64_MIN && at_ms - tag->before_ms <= TAG_AGAIN_MS &&
		strcmp(tag->code, tag->before) == 0;
	memcpy(tag->before, tag->code, sizeof tag->before);
	tag->before_ms = at_ms;
	return again ? TAG_AGAIN : TAG_CODE;
}

enum tag_outcome tag_event(struct tag *tag, unsigned code, int value, int64_t at_ms)
{
	char letter;

	if (code == KEY_LEFTSHIFT || code == KEY_RIGHTSHIFT) {
		tag->shift = value != 0;
		return TAG_NONE;
	}
	if (value != 1 || code == KEY_NUMLOCK || code == KEY_CAPSLOCK)
		return TAG_NONE;
	if (at_ms - tag->at_ms > TAG_GAP_MS)
		begin(tag);
	tag->at_ms = at_ms;
	if (code == KEY_ENTER || code == KEY_KPENTER)
		return finish(tag, at_ms);
	letter = character(code, tag->shift);
	if (!letter || tag->n + 1 == sizeof tag->code)
		tag->unfit = true;
	else
		tag->code[tag->n++] = letter;
	return TAG_NONE;
}
