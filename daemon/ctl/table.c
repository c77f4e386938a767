// SPDX-License-Identifier: MIT
#include "daemon/ctl/table.h"
#include "daemon/ctl/text.h"

#define GAP 2
#define NARROW 6 /* a column of text isn't cut below this */

void table_init(struct table *table, const struct table_column *columns, size_t n_columns)
{
	*table = (struct table){ .columns = columns, .n_columns = n_columns };
}

void table_done(struct table *table)
{
	for (size_t i = 0; i < table->n; i++)
		free(table->at[i]);
	free(table->at);
	*table = (struct table){ 0 };
}

void table_add(struct table *table, const char *text)
{
	char *copy = NULL;

	if (!table->failed && table->n == table->room) {
		size_t room = table->room ? table->room * 2 : 64;
		char **at = reallocarray(table->at, room, sizeof *at);
		if (at) {
			table->at = at;
			table->room = room;
		}
		table->failed = !at;
	}
	if (!table->failed)
		copy = strdup(text);
	if (copy)
		table->at[table->n++] = copy;
	else
		table->failed = true;
}

static unsigned wider(unsigned width, const char *text, bool utf8)
{
	unsigned n = text_width(text, utf8);

	return n > width ? n : width;
}

static bool alike(const struct table *table, size_t c)
{
	for (size_t i = c; i + table->n_columns < table->n; i += table->n_columns)
		if (strcmp(table->at[i], table->at[i + table->n_columns]) != 0)
			return false;
	return true;
}

static unsigned total_width(const struct table *table)
{
	unsigned total = 0;

	for (size_t c = 0; c < table->n_columns; c++)
		total += table->gone[c] ? 0 : table->widths[c] + (c ? GAP : 0);
	return total;
}

/* The widest text that may be cut; n_columns: none. */
static size_t widest(const struct table *table)
{
	size_t found = table->n_columns;

	for (size_t c = 0; c < table->n_columns; c++)
		if (table->columns[c].gives && !table->gone[c] && table->widths[c] > NARROW &&
		    (found == table->n_columns || table->widths[c] > table->widths[found]))
			found = c;
	return found;
}

static void measure(struct table *table, const struct ctl *ctl)
{
	unsigned total;

	for (size_t c = 0; c < table->n_columns; c++)
		table->widths[c] = wider(0, table->columns[c].title, ctl->utf8);
	for (size_t i = 0; i < table->n; i++)
		table->widths[i % table->n_columns] = wider(table->widths[i % table->n_columns], table->at[i], ctl->utf8);
	/* a terminal would break the lines */
	for (size_t c = 1; ctl->width && c < table->n_columns && total_width(table) > ctl->width; c++)
		table->gone[c] = table->columns[c].goes && alike(table, c);
	for (size_t c = 1; ctl->width && c < table->n_columns && total_width(table) > ctl->width; c++)
		table->gone[c] = table->gone[c] || table->columns[c].spare;
	for (total = total_width(table); ctl->width && total > ctl->width; total--) {
		size_t c = widest(table);
		if (c == table->n_columns)
			return;
		table->widths[c]--;
	}
}

static void put_cell(const struct table *table, struct text_line *line, size_t c, const char *text)
{
	unsigned width = text_width(text, line->utf8);

	if (c)
		text_tab(line, line->column + GAP);
	if (table->columns[c].right && width < table->widths[c])
		text_tab(line, line->column + table->widths[c] - width);
	text_cell(line, text, table->columns[c].right ? width : table->widths[c]);
}

/* row NULL: the titles. */
static void print_row(const struct table *table, const struct ctl *ctl, char *const *row)
{
	char buffer[4096];
	struct text_line line;

	text_begin(&line, buffer, sizeof buffer, sizeof buffer, ctl->utf8);
	for (size_t c = 0; c < table->n_columns; c++)
		if (!table->gone[c])
			put_cell(table, &line, c, row ? row[c] : table->columns[c].title);
	while (line.n > 0 && buffer[line.n - 1] == ' ')
		buffer[--line.n] = '\0';
	(void)printf(ctl->bold && !row ? "\033[1m%s\033[0m\n" : "%s\n", buffer);
}

bool table_print(struct table *table, const struct ctl *ctl)
{
	if (table->failed)
		return false;
	measure(table, ctl);
	print_row(table, ctl, NULL);
	for (size_t i = 0; i + table->n_columns <= table->n; i += table->n_columns)
		print_row(table, ctl, &table->at[i]);
	return true;
}
