// SPDX-License-Identifier: MIT
#include "daemon/ctl/text.h"
#include <stdarg.h>
#include <stdint.h>
#include <wchar.h>

#define PIECE_SIZE 1024

/* One character of UTF-8 (RFC 3629, 4): its code point and length; malformed octets are -1, one at a time. */
static int32_t decode(const char *text, size_t *ret_n)
{
	const unsigned char *s = (const unsigned char *)text;
	static const int32_t least[] = { 0, 0, 0x80, 0x800, 0x10000 };
	int32_t c;
	size_t n;

	*ret_n = 1;
	if (s[0] < 0x80)
		return s[0];
	if (s[0] >= 0xc2 && s[0] < 0xe0)
		n = 2;
	else if (s[0] >= 0xe0 && s[0] < 0xf0)
		n = 3;
	else if (s[0] >= 0xf0 && s[0] < 0xf5)
		n = 4;
	else
		return -1;
	c = s[0] & (0x7f >> n);
	for (size_t i = 1; i < n; i++) {
		if ((s[i] & 0xc0) != 0x80) /* the NUL too */
			return -1;
		c = c << 6 | (s[i] & 0x3f);
	}
	if (c < least[n] || c > 0x10ffff || (c >= 0xd800 && c < 0xe000))
		return -1;
	*ret_n = n;
	return c;
}

/* Embeddings, overrides, isolates and marks of direction (Unicode, bidirectional algorithm, 2). */
static bool turns(int32_t c)
{
	return (c >= 0x202a && c <= 0x202e) || (c >= 0x2066 && c <= 0x2069) || c == 0x200e || c == 0x200f ||
	       c == 0x061c || c == 0x2028 || c == 0x2029;
}

/* Controls of ASCII and of Latin-1 (C1) too. */
static bool hidden(int32_t c)
{
	return c < 0x20 || (c >= 0x7f && c < 0xa0) || turns(c);
}

size_t text_next(const char *text, bool *ret_shown)
{
	size_t n;

	*ret_shown = !hidden(decode(text, &n));
	return n;
}

/* Columns of one character; -1 when it is shown as "?". */
static int columns(int32_t c, bool utf8)
{
	int width;

	if (hidden(c) || (!utf8 && c >= 0x80))
		return -1;
	if (c < 0x7f)
		return 1;
	width = wcwidth((wchar_t)c);
	return width < 0 ? 1 : width;
}

unsigned text_width(const char *text, bool utf8)
{
	unsigned width = 0;
	size_t n;

	for (; *text; text += n) {
		int w = columns(decode(text, &n), utf8);
		width += w < 0 ? 1 : (unsigned)w;
	}
	return width;
}

bool text_valid(const char *text)
{
	size_t n;

	for (; *text; text += n)
		if (decode(text, &n) < 0)
			return false;
	return true;
}

size_t text_whole(const char *text, size_t n)
{
	size_t whole = 0, step;

	while (whole < n && text[whole]) {
		(void)decode(text + whole, &step);
		if (whole + step > n)
			break;
		whole += step;
	}
	return whole;
}

void text_copy(char *buffer, size_t size, const char *text)
{
	size_t n = text_whole(text, size - 1);

	memcpy(buffer, text, n);
	buffer[n] = '\0';
}

void text_backspace(char *text, size_t *n)
{
	while (*n > 0 && ((unsigned char)text[--*n] & 0xc0) == 0x80)
		; /* back to the character's first octet */
	text[*n] = '\0';
}

unsigned text_fit(char *buffer, size_t size, const char *text, unsigned width, bool utf8)
{
	const char *ellipsis = utf8 ? "\xe2\x80\xa6" : "~"; /* U+2026 */
	size_t n_ellipsis = strlen(ellipsis), at = 0, mark = 0, n;
	unsigned used = 0, used_at_mark = 0;

	if (size == 0)
		return 0;
	buffer[0] = '\0';
	for (; *text; text += n) {
		int w = columns(decode(text, &n), utf8);
		const char *from = w < 0 ? "?" : text;
		size_t length = w < 0 ? 1 : n;
		unsigned wide = w < 0 ? 1 : (unsigned)w;
		/* mark: the last place where the ellipsis still fits */
		if (used + 1 <= width && at + n_ellipsis < size) {
			mark = at;
			used_at_mark = used;
		}
		if (used + wide > width || at + length >= size) {
			if (width == 0 || n_ellipsis >= size)
				break;
			memcpy(buffer + mark, ellipsis, n_ellipsis + 1);
			return used_at_mark + 1;
		}
		memcpy(buffer + at, from, length);
		at += length;
		used += wide;
		buffer[at] = '\0';
	}
	return used;
}

const char *text_wrap(char *buffer, size_t size, const char *text, unsigned width, bool utf8)
{
	const char *at = text, *blank = NULL, *end;
	unsigned used = 0;
	char piece[PIECE_SIZE];
	size_t n;

	for (; *at && (size_t)(at - text) + 4 < sizeof piece; at += n) {
		int w = columns(decode(at, &n), utf8);
		used += w < 0 ? 1 : (unsigned)w;
		if (used > width && at > text)
			break;
		if (*at == ' ')
			blank = at;
	}
	end = !*at || *at == ' ' || !blank || blank == text ? at : blank;
	memcpy(piece, text, (size_t)(end - text));
	piece[end - text] = '\0';
	(void)text_fit(buffer, size, piece, width, utf8);
	while (*end == ' ')
		end++;
	return end;
}

void text_begin(struct text_line *line, char *buffer, size_t size, unsigned width, bool utf8)
{
	*line = (struct text_line){ .at = buffer, .size = size, .width = width, .utf8 = utf8 };
	buffer[0] = '\0';
}

void text_put(struct text_line *line, const char *text)
{
	if (line->column >= line->width)
		return;
	line->column +=
		text_fit(line->at + line->n, line->size - line->n, text, line->width - line->column, line->utf8);
	line->n += strlen(line->at + line->n);
}

void text_putf(struct text_line *line, const char *format, ...)
{
	char piece[PIECE_SIZE];
	va_list list;

	va_start(list, format);
	(void)vsnprintf(piece, sizeof piece, format, list);
	va_end(list);
	text_put(line, piece);
}

void text_tab(struct text_line *line, unsigned column)
{
	while (line->column < column && line->column < line->width && line->n + 1 < line->size) {
		line->at[line->n++] = ' ';
		line->at[line->n] = '\0';
		line->column++;
	}
}

void text_cell(struct text_line *line, const char *text, unsigned width)
{
	char piece[PIECE_SIZE];
	unsigned start = line->column;

	(void)text_fit(piece, sizeof piece, text, width, line->utf8);
	text_put(line, piece);
	text_tab(line, start + width);
}
