// SPDX-License-Identifier: MIT
#include "daemon/ctl/screen.h"

void screen_clear(struct screen *screen, unsigned width, unsigned height, bool utf8)
{
	screen->width = width < SCREEN_COLUMNS ? width : SCREEN_COLUMNS;
	screen->height = height < SCREEN_ROWS ? height : SCREEN_ROWS;
	screen->utf8 = utf8;
	screen->cursor_row = screen->cursor_column = 0;
	for (unsigned i = 0; i < SCREEN_ROWS; i++) {
		screen->rows[i].text[0] = '\0';
		screen->rows[i].bold = false;
	}
}

bool screen_row(struct screen *screen, unsigned row, bool bold, struct text_line *ret_line)
{
	if (row >= screen->height)
		return false;
	screen->rows[row].bold = bold;
	text_begin(ret_line, screen->rows[row].text, SCREEN_ROW_SIZE, screen->width, screen->utf8);
	return true;
}

struct paint {
	char *at;
	size_t size, n;
};

static void put(struct paint *paint, const char *text)
{
	size_t n = strlen(text);

	if (n > paint->size - paint->n)
		return; /* can't be: SCREEN_PAINT_SIZE */
	memcpy(paint->at + paint->n, text, n);
	paint->n += n;
}

static void move(struct paint *paint, unsigned row, unsigned column)
{
	char text[32];

	(void)snprintf(text, sizeof text, "\033[%u;%uH", row + 1, column + 1);
	put(paint, text);
}

size_t screen_paint(const struct screen *new, const struct screen *old, char *buffer, size_t size)
{
	struct paint paint = { .at = buffer, .size = size };

	if (old && (old->width != new->width || old->height != new->height))
		old = NULL;
	if (!old)
		put(&paint, "\033[0m\033[2J");
	for (unsigned i = 0; i < new->height; i++) {
		const struct screen_row *row = &new->rows[i];
		if (old ? strcmp(row->text, old->rows[i].text) == 0 && row->bold == old->rows[i].bold : !*row->text)
			continue;
		move(&paint, i, 0);
		if (row->bold)
			put(&paint, "\033[1m");
		put(&paint, row->text);
		if (row->bold)
			put(&paint, "\033[0m");
		/* behind a full row the cursor stands on the last character: erasing would take it away */
		if (text_width(row->text, new->utf8) < new->width)
			put(&paint, "\033[K");
	}
	move(&paint, new->cursor_row, new->cursor_column);
	return paint.n;
}
