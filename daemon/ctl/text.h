// SPDX-License-Identifier: MIT
#pragma once
/*
 * Text in a terminal's columns: how wide, cut to fit, and safe. Names come from other people: control characters and
 * those that turn the writing direction never reach a terminal. Pure but for the locale (wcwidth).
 * Above: list, show, watch. Below: the C library.
 */
#include <stdbool.h>
#include <stddef.h>

/*
 * Copies text into buffer as far as it fits both size octets (with the NUL) and width columns; when it doesn't, it
 * ends in an ellipsis. Control characters become "?", as do malformed octets, and without utf8 whatever isn't ASCII.
 * Returns the columns used.
 */
unsigned text_fit(char *buffer, size_t size, const char *text, unsigned width, bool utf8);
/* Columns that text_fit() would use if there were no end of them. */
unsigned text_width(const char *text, bool utf8);
/*
 * Copies the first words of text that fit width columns; a word wider than that is broken. Returns what is left of
 * text, at its end when nothing is.
 */
const char *text_wrap(char *buffer, size_t size, const char *text, unsigned width, bool utf8);
/* Whether all of text is well-formed UTF-8 (RFC 3629). */
bool text_valid(const char *text);
/* The octets of the first character of text (which isn't empty), and whether it may be shown as it is: no control
 * character, none that turns the writing direction, well-formed. */
size_t text_next(const char *text, bool *ret_shown);
/* The first octets of text that make whole characters, at most n. */
size_t text_whole(const char *text, size_t n);
/* Copies as many of them as fit size > 0 octets with the NUL. */
void text_copy(char *buffer, size_t size, const char *text);
/* Takes the last character (UTF-8) off a text of *n octets; an empty one stays. */
void text_backspace(char *text, size_t *n);

/* A line under construction: pieces are put at columns. */
struct text_line {
	char *at; /* the caller's; always terminated */
	size_t size, n;
	unsigned column; /* where the next piece goes */
	unsigned width;  /* of the line */
	bool utf8;
};

void text_begin(struct text_line *line, char *buffer, size_t size, unsigned width, bool utf8);
/* Appends, cut at the line's end. */
void text_put(struct text_line *line, const char *text);
__attribute__((format(printf, 2, 3))) void text_putf(struct text_line *line, const char *format, ...);
/* Appends at most width columns, and blanks up to there. */
void text_cell(struct text_line *line, const char *text, unsigned width);
/* Blanks up to a column. */
void text_tab(struct text_line *line, unsigned column);
