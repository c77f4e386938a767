// SPDX-License-Identifier: MIT
#pragma once
/*
 * Keys of the dialogue at the whelping box, one after the other, to answers: where one key is an answer, it needs no
 * Enter. Pure. Above: whelping_talk. Below: text.
 */
#include <stdbool.h>
#include <stddef.h>

#define WHELPING_LINE 256 /* no answer is as long: a name, a collar, a weight */

enum whelping_takes {
	WHELPING_TEXT,   /* Enter ends it */
	WHELPING_KEY,    /* one key is the whole answer */
	WHELPING_DIGITS, /* as many digits as the newborn score has items are, else Enter */
};

enum whelping_typed {
	WHELPING_MORE,
	WHELPING_ANSWER, /* line->text */
	WHELPING_LEAVE,  /* Ctrl-C, or Ctrl-D with nothing typed */
};

struct whelping_line {
	char text[WHELPING_LINE]; /* ends in zero always; UTF-8 as far as it was typed so */
	size_t n;
};

/* One octet more. After an answer the caller empties the line (n = 0, text ""). Esc empties it, backspace takes the
 * last character; other control characters and what is too long are left out. */
enum whelping_typed whelping_keys_take(struct whelping_line *line, enum whelping_takes takes, char key);
