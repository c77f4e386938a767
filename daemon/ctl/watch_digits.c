// SPDX-License-Identifier: MIT
#include "daemon/ctl/watch_digits.h"
#include <limits.h>

#define ROWS 5

static const struct glyph {
	char c;
	const char *rows[ROWS];
} glyphs[] = {
	{ '0', { "###", "# #", "# #", "# #", "###" } }, { '1', { " # ", "## ", " # ", " # ", "###" } },
	{ '2', { "###", "  #", "###", "#  ", "###" } }, { '3', { "###", "  #", "###", "  #", "###" } },
	{ '4', { "# #", "# #", "###", "  #", "  #" } }, { '5', { "###", "#  ", "###", "  #", "###" } },
	{ '6', { "###", "#  ", "###", "# #", "###" } }, { '7', { "###", "  #", "  #", "  #", "  #" } },
	{ '8', { "###", "# #", "###", "# #", "###" } }, { '9', { "###", "# #", "###", "  #", "###" } },
	{ '.', { " ", " ", " ", " ", "#" } },           { '-', { "   ", "   ", "###", "   ", "   " } },
	{ ' ', { " ", " ", " ", " ", " " } },
};

static const struct glyph *glyph_of(char c)
{
	for (size_t i = 0; i < sizeof glyphs / sizeof *glyphs; i++)
		if (glyphs[i].c == c)
			return &glyphs[i];
	return NULL;
}

/* The unit's letters stay small, at the foot of the digits: a large "g" is read as a 9. */
static bool is_unit(char c)
{
	return c >= 'a' && c <= 'z';
}

unsigned watch_digits_rows(enum watch_digits size)
{
	switch (size) {
	case WATCH_DIGITS_PLAIN:
		return 1;
	case WATCH_DIGITS_HALF:
		return 3;
	case WATCH_DIGITS_FULL:
		return ROWS;
	}
	return 1;
}

/* A point of a glyph is as wide as it is high: two columns to a row, one to half a row. */
static unsigned point_width(enum watch_digits size)
{
	return size == WATCH_DIGITS_FULL ? 2 : 1;
}

/* Columns of one character, and of the gap behind it; 0 when it isn't drawn. */
static unsigned step_width(char c, enum watch_digits size)
{
	const struct glyph *glyph = glyph_of(c);

	if (is_unit(c))
		return 1;
	return glyph ? (unsigned)(strlen(glyph->rows[0]) + 1) * point_width(size) : 0;
}

unsigned watch_digits_width(const char *text, enum watch_digits size)
{
	unsigned columns = 0;

	if (size == WATCH_DIGITS_PLAIN)
		return text_width(text, true);
	for (; *text; text++) {
		unsigned step = step_width(*text, size);
		if (!step)
			return UINT_MAX;
		columns += text[1] || is_unit(*text) ? step : step - point_width(size);
	}
	return columns;
}

static void full(struct text_line *line, const struct glyph *glyph, unsigned row)
{
	for (const char *p = glyph->rows[row]; *p; p++)
		text_put(line, *p == ' ' ? "  " : line->utf8 ? "\xe2\x96\x88\xe2\x96\x88" : "##"); /* U+2588 */
}

/* U+2588 full, U+2580 upper half, U+2584 lower half block */
static void half(struct text_line *line, const struct glyph *glyph, unsigned row)
{
	static const char *const blocks[2][2] = { { " ", "\xe2\x96\x84" }, { "\xe2\x96\x80", "\xe2\x96\x88" } };
	const char *upper = glyph->rows[row * 2];
	const char *lower = row * 2 + 1 < ROWS ? glyph->rows[row * 2 + 1] : NULL;

	for (size_t i = 0; upper[i]; i++)
		text_put(line, blocks[upper[i] == '#'][lower && lower[i] == '#']);
}

void watch_digits_put(struct text_line *line, const char *text, enum watch_digits size, unsigned row)
{
	if (size == WATCH_DIGITS_PLAIN) {
		text_put(line, text);
		return;
	}
	for (; *text; text++) {
		const struct glyph *glyph = glyph_of(*text);
		unsigned next = line->column + step_width(*text, size);
		char unit[] = { *text, '\0' };
		if (is_unit(*text))
			text_put(line, row + 1 == watch_digits_rows(size) ? unit : " ");
		else if (glyph && size == WATCH_DIGITS_FULL)
			full(line, glyph, row);
		else if (glyph)
			half(line, glyph, row);
		text_tab(line, next);
	}
}
