// SPDX-License-Identifier: MIT
#include "daemon/ctl/list.h"
#include "daemon/ctl/database.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/show.h"
#include "daemon/ctl/text.h"
#include "daemon/ctl/when.h"

#define GAP 2
#define NARROW 6 /* a column of text isn't cut below this */

struct cells {
	char **at; /* n_rows * n_columns; the first row holds the titles */
	size_t n, room;
	size_t n_columns;
	const struct list_column *columns[16];
	unsigned widths[16];
};

static char *cell(const struct ctl *ctl, sqlite3_stmt *row, const struct list_column *column)
{
	char buffer[SHOW_SIZE + 1] = "-"; /* one for the plus sign */
	int64_t value;

	switch (column->kind) {
	case LIST_TEXT:
		return strdup(*database_text(row, column->name) ? database_text(row, column->name) : "-");
	case LIST_TAIL:
		return strdup(show_tail(database_text(row, column->name)));
	case LIST_WHOLE:
		if (database_whole(row, column->name, &value))
			(void)snprintf(buffer, sizeof buffer, "%lld", (long long)value);
		break;
	case LIST_MASS:
		if (database_mg(row, column->name, &value))
			(void)show_mass(buffer, value, ctl->unit);
		break;
	case LIST_DAILY:
		if (database_mg(row, column->name, &value)) {
			buffer[0] = '+';
			(void)show_mass(buffer + (value > 0), value, ctl->unit);
		}
		break;
	case LIST_TIME:
		if (database_whole(row, column->name, &value))
			when_show(buffer, value);
		break;
	case LIST_YES:
		if (database_whole(row, column->name, &value))
			(void)snprintf(buffer, sizeof buffer, "%s", value ? "yes" : "no");
		break;
	}
	return strdup(buffer);
}

static bool add(struct cells *cells, char *text)
{
	if (text && cells->n == cells->room) {
		size_t room = cells->room ? cells->room * 2 : 64;
		char **at = reallocarray(cells->at, room, sizeof *at);
		if (!at) {
			free(text);
			return false;
		}
		cells->at = at;
		cells->room = room;
	}
	if (text)
		cells->at[cells->n++] = text;
	return text != NULL;
}

static bool right(const struct list_column *column)
{
	return column->kind == LIST_MASS || column->kind == LIST_DAILY || column->kind == LIST_WHOLE;
}

static void measure(const struct ctl *ctl, struct cells *cells)
{
	unsigned total = 0;

	for (size_t i = 0; i < cells->n; i++) {
		unsigned width = text_width(cells->at[i], ctl->utf8);
		if (width > cells->widths[i % cells->n_columns])
			cells->widths[i % cells->n_columns] = width;
	}
	for (size_t c = 0; c < cells->n_columns; c++)
		total += cells->widths[c] + (c ? GAP : 0);
	/* a terminal would break the lines: the widest texts give way, one column at a time */
	while (ctl->width && total > ctl->width) {
		size_t widest = cells->n_columns;
		for (size_t c = 0; c < cells->n_columns; c++)
			if (cells->columns[c]->kind == LIST_TEXT && cells->widths[c] > NARROW &&
			    (widest == cells->n_columns || cells->widths[c] > cells->widths[widest]))
				widest = c;
		if (widest == cells->n_columns)
			return;
		cells->widths[widest]--;
		total--;
	}
}

static void print_row(const struct ctl *ctl, const struct cells *cells, size_t row)
{
	char buffer[4096];
	struct text_line line;

	text_begin(&line, buffer, sizeof buffer, sizeof buffer, ctl->utf8);
	for (size_t c = 0; c < cells->n_columns; c++) {
		const char *text = cells->at[row * cells->n_columns + c];
		unsigned width = text_width(text, ctl->utf8);
		if (c)
			text_tab(&line, line.column + GAP);
		if (right(cells->columns[c]) && width < cells->widths[c])
			text_tab(&line, line.column + cells->widths[c] - width);
		text_cell(&line, text, right(cells->columns[c]) ? width : cells->widths[c]);
	}
	while (line.n > 0 && buffer[line.n - 1] == ' ')
		buffer[--line.n] = '\0';
	(void)printf(ctl->bold && row == 0 ? "\033[1m%s\033[0m\n" : "%s\n", buffer);
}

/* Both return the last code of sqlite3_step(), SQLITE_DONE when all is well. */
static int print_table(const struct ctl *ctl, const struct list *list, sqlite3_stmt *row)
{
	struct cells cells = { 0 };
	bool fine = true;
	int r;

	for (size_t c = 0; c < list->n_columns && cells.n_columns < 16; c++)
		if (database_column(row, list->columns[c].name) >= 0)
			cells.columns[cells.n_columns++] = &list->columns[c];
	for (size_t c = 0; c < cells.n_columns; c++)
		fine = fine && add(&cells, strdup(cells.columns[c]->title));
	while ((r = sqlite3_step(row)) == SQLITE_ROW && fine)
		for (size_t c = 0; c < cells.n_columns; c++)
			fine = fine && add(&cells, cell(ctl, row, cells.columns[c]));
	if (fine && r == SQLITE_DONE && cells.n <= cells.n_columns) {
		(void)printf("%s\n", list->nothing);
	} else if (fine && r == SQLITE_DONE) {
		measure(ctl, &cells);
		for (size_t i = 0; i < cells.n / cells.n_columns; i++)
			print_row(ctl, &cells, i);
	}
	for (size_t i = 0; i < cells.n; i++)
		free(cells.at[i]);
	free(cells.at);
	return fine ? r : SQLITE_NOMEM;
}

static int print_json(sqlite3_stmt *row)
{
	int r;

	while ((r = sqlite3_step(row)) == SQLITE_ROW) {
		json_t *object = database_json(row);
		if (!object)
			return SQLITE_NOMEM;
		field_print(object);
		json_decref(object);
	}
	return r;
}

enum ctl_status list_print(const struct ctl *ctl, const struct list *list)
{
	enum ctl_status status;
	sqlite3_stmt *row;
	sqlite3 *db;
	int r;

	status = database_for(ctl, &db);
	if (status != CTL_DONE)
		return status;
	row = database_ask(db, list->sql, list->texts, list->n_texts);
	r = !row ? SQLITE_ERROR : ctl->json ? print_json(row) : print_table(ctl, list, row);
	status = r == SQLITE_DONE ? ctl_flush() : database_trouble(ctl, db);
	(void)sqlite3_finalize(row); /* repeats the error of the step */
	database_close(db);
	return status;
}

_Static_assert(SHOW_SIZE >= WHEN_SIZE, "a cell holds a time too");
