// SPDX-License-Identifier: MIT
#pragma once
/*
 * Octets from a terminal to keys. Pure. Sequences that begin with ESC (arrows, function keys) are swallowed; an ESC
 * with nothing behind it is the Escape key. Above: watch.c. Below: text.
 */
#include <stddef.h>

enum watch_key_kind {
	WATCH_KEY_TEXT, /* one character */
	WATCH_KEY_ENTER,
	WATCH_KEY_ESCAPE,
	WATCH_KEY_BACKSPACE,
	WATCH_KEY_TAB,
	WATCH_KEY_LEAVE,  /* Ctrl-C, Ctrl-D */
	WATCH_KEY_REDRAW, /* Ctrl-L */
	WATCH_KEY_OTHER,  /* nothing of use */
};

struct watch_key {
	enum watch_key_kind kind;
	char text[8]; /* WATCH_KEY_TEXT: UTF-8, terminated */
};

/* Takes one key from the n > 0 octets that one read(2) gave; returns how many octets it had. */
size_t watch_keys_next(const char *octets, size_t n, struct watch_key *ret);
