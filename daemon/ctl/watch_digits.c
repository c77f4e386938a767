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
	{ ' ', { "  ", "  ", "  ", "  ", "  " } },      { 'g', { "###", "# #", "###", "  #", "## " } },
	{ 'o', { "   ", "   ", "###", "# #", "###" } }, { 'z', { "   ", "   ", "## ", " # ", " ##" } },
	{ 'l', { "#", "#", "#", "#", "#" } },           { 'b', { "#  ", "#  ", "###", "# #", "###" } },
};

static const struct glyph *glyph_of(char c)
{
	for (size_t i = 0; i < sizeof glyphs / sizeof *glyphs; i++)
		if (glyphs[i].c == c)
			return &glyphs[i];
	return NULL;
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

unsigned watch_digits_width(const char *text, enum watch_digits size)
{
	unsigned points = 0;

	if (size == WATCH_DIGITS_PLAIN)
		return text_width(text, true);
	for (; *text; text++) {
		const struct glyph *glyph = glyph_of(*text);
		if (!glyph)
			return UINT_MAX;
		points += (unsigned)strlen(glyph->rows[0]) + (text[1] ? 1 : 0);
	}
	return points * point_width(size);
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
		if (!glyph)
			continue;
		if (size == WATCH_DIGITS_FULL)
			full(line, glyph, row);
		else
			half(line, glyph, row);
		text_tab(line, line->column + point_width(size));
	}
}
