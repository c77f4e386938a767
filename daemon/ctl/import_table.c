// SPDX-License-Identifier: MIT
#include "daemon/ctl/import_table.h"
#include "daemon/ctl/text.h"
#include "daemon/weigh/quantity.h"
#include <ctype.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#define QUOTED 48 /* octets of a cell in a message */

/* ---- issues ---- */

void import_table_issue(struct import_table *table, bool doubt, unsigned row, size_t column, const char *format, ...)
{
	struct import_issue issue = { .row = row, .column = column, .doubt = doubt };
	va_list list;

	va_start(list, format);
	(void)vsnprintf(issue.text, sizeof issue.text, format, list); /* cut is fine */
	va_end(list);
	issue.text[text_whole(issue.text, sizeof issue.text - 1)] = '\0';
	*(doubt ? &table->n_doubts : &table->n_mistakes) += 1;
	for (size_t i = 0; row && i < table->n_issues; i++) {
		struct import_issue *before = &table->issues[i];
		if (before->row && before->column == column && before->doubt == doubt &&
		    strcmp(before->text, issue.text) == 0) {
			before->more++;
			return;
		}
	}
	if (table->n_issues < IMPORT_ISSUES)
		table->issues[table->n_issues++] = issue;
}

static const char *quote(char to[QUOTED], const char *cell)
{
	(void)text_fit(to, QUOTED, cell, QUOTED - 8, true);
	return to;
}

/* ---- one row ---- */

struct row {
	struct import_table *table;
	const struct import_cells *cells;
	int64_t at_ms;
	int offset_min;
	char fed;
};

static const char *cell(const struct row *row, size_t column)
{
	return column < row->cells->n ? row->cells->cells[column] : "";
}

static const char *cell_of(const struct row *row, enum import_kind kind)
{
	return cell(row, import_layout_find(&row->table->layout, kind));
}

static bool read_time(struct row *row)
{
	const struct import_layout *layout = &row->table->layout;
	const struct import_options *options = row->table->options;
	size_t column = import_layout_find(layout, IMPORT_DATE);
	const char *date = cell_of(row, IMPORT_DATE), *time = cell_of(row, IMPORT_TIME);
	char text[128], quoted[QUOTED];
	struct import_when when = { 0 };
	enum import_when_outcome outcome = IMPORT_WHEN_MALFORMED;

	if (column == layout->n || (!*date && *time))
		column = import_layout_find(layout, IMPORT_TIME);
	if ((size_t)snprintf(text, sizeof text, "%s%s%s", date, *date && *time ? " " : "", time) < sizeof text)
		outcome = import_when_read(text, options->first, &when);
	if (outcome == IMPORT_WHEN_READ && !when.has_time && options->time.has_time) {
		when.has_time = true;
		when.hour = options->time.hour;
		when.minute = options->time.minute;
		when.second = options->time.second;
	}
	if (outcome == IMPORT_WHEN_READ)
		outcome = import_when_instant(&when, &row->at_ms, &row->offset_min);
	if (outcome == IMPORT_WHEN_READ)
		return true;
	import_table_issue(row->table, false, row->cells->row, column, "\"%s\" %s", quote(quoted, text),
			   import_when_hint(outcome));
	return false;
}

static bool read_fed(struct row *row)
{
	const char *text = cell_of(row, IMPORT_FED);
	char quoted[QUOTED];

	row->fed = 0;
	if (!*text)
		return true;
	if (strcasecmp(text, "before") == 0 || strcasecmp(text, "after") == 0) {
		row->fed = (char)tolower((unsigned char)*text);
		return true;
	}
	import_table_issue(row->table, false, row->cells->row, import_layout_find(&row->table->layout, IMPORT_FED),
			   "\"%s\" is neither before nor after (a feed)", quote(quoted, text));
	return false;
}

static bool has_letter(const char *text)
{
	for (; *text; text++)
		if (isalpha((unsigned char)*text))
			return true;
	return false;
}

/* The cell's mass with its unit into to, which the daemon will understand as we do. */
static bool read_mass(struct row *row, size_t column, char *to, size_t size)
{
	const char *text = cell(row, column), *unit = row->table->layout.columns[column].unit;
	enum quantity_outcome outcome = QUANTITY_MALFORMED;
	char quoted[QUOTED];
	int64_t mg;

	unit = has_letter(text) ? "" : unit ? unit : row->table->options->unit ? row->table->options->unit : "";
	if (!*text) {
		import_table_issue(row->table, false, row->cells->row, column, "there is no weight");
		return false;
	}
	if ((size_t)snprintf(to, size, "%s%s", text, unit) < size)
		outcome = quantity_mass(to, &mg, NULL);
	switch (outcome) {
	case QUANTITY_OK:
		return true;
	case QUANTITY_NO_UNIT: /* of any number in the column: once is enough */
		import_table_issue(row->table, false, row->cells->row, column,
				   "the unit is missing: write it into the cells (304g) or the column's name (weight "
				   "(g)), or say --units g");
		return false;
	case QUANTITY_MALFORMED:
	case QUANTITY_OUT_OF_RANGE:
		break;
	}
	import_table_issue(row->table, false, row->cells->row, column, "\"%s\": %s", quote(quoted, text),
			   quantity_mass_hint(outcome));
	return false;
}

/* Whose: the litter, if it is known, and a word. */
static bool read_animal(struct row *row, size_t column, const char *word, struct import_entry *entry)
{
	const char *litter = cell_of(row, IMPORT_LITTER);

	if (!*litter && row->table->options->litter)
		litter = row->table->options->litter;
	if (!*word) {
		import_table_issue(row->table, false, row->cells->row, column,
				   "there is no name, so nobody can know whose it is");
		return false;
	}
	if (strlen(word) > IMPORT_NAME_BYTES || strlen(litter) > IMPORT_NAME_BYTES) {
		import_table_issue(row->table, false, row->cells->row, column, "the name is longer than 64 octets");
		return false;
	}
	if (strchr(word, '/'))
		litter = "";
	(void)snprintf(entry->animal, sizeof entry->animal, "%s%s%s", litter, *litter ? "/" : "", word);
	return true;
}

static bool keep(struct import_table *table, const struct import_entry *entry)
{
	if (table->n == IMPORT_ROWS) {
		import_table_issue(table, false, entry->row, IMPORT_NO_COLUMN,
				   "%d weighings are taken at once: split the file", IMPORT_ROWS);
		return false;
	}
	if (table->n == table->room) {
		size_t room = table->room ? table->room * 2 : 256;
		struct import_entry *entries = reallocarray(table->entries, room, sizeof *entries);
		if (!entries)
			return false;
		table->entries = entries;
		table->room = room;
	}
	table->entries[table->n++] = *entry;
	return true;
}

/* False: no more can be taken. */
static bool take_entry(struct row *row, size_t mass_column, size_t animal_column, const char *word, bool good)
{
	struct import_entry entry = { .row = row->cells->row,
				      .column = (unsigned char)mass_column,
				      .fed = row->fed,
				      .offset_min = row->offset_min,
				      .at_ms = row->at_ms };

	good = read_animal(row, animal_column, word, &entry) && good;
	good = read_mass(row, mass_column, entry.mass, sizeof entry.mass) && good;
	return !good || keep(row->table, &entry);
}

static bool is_left_out(const char *text)
{
	return !*text || strcmp(text, "-") == 0 || strcmp(text, "\xe2\x80\x93") == 0 ||
	       strcmp(text, "\xe2\x80\x94") == 0;
}

static bool take_wide(struct row *row, bool good)
{
	const struct import_layout *layout = &row->table->layout;

	for (size_t i = 0; i < layout->n; i++)
		if (layout->columns[i].kind == IMPORT_PUP && !is_left_out(cell(row, i)) &&
		    !take_entry(row, i, i, layout->columns[i].name, good))
			return false;
	return true;
}

static bool take_long(struct row *row, bool good)
{
	const struct import_layout *layout = &row->table->layout;
	size_t column = import_layout_find(layout, IMPORT_ANIMAL);

	if (!*cell(row, column))
		column = import_layout_find(layout, IMPORT_COLLAR);
	if (column == layout->n)
		column = import_layout_find(layout, IMPORT_ANIMAL);
	return take_entry(row, import_layout_find(layout, IMPORT_MASS), column, cell(row, column), good);
}

/* Cells that nobody would look at. */
static void look_beside(const struct row *row)
{
	const struct import_layout *layout = &row->table->layout;

	for (size_t i = 0; i < row->cells->n; i++)
		if (*row->cells->cells[i] && (i >= layout->n || layout->columns[i].kind == IMPORT_UNNAMED))
			import_table_issue(row->table, false, row->cells->row, i,
					   "this column has no name in the first row");
}

static bool on_header(struct import_table *table, const struct import_cells *cells)
{
	size_t column = IMPORT_NO_COLUMN;
	enum import_layout_outcome outcome = import_layout_read(cells, &table->layout, &column);
	char quoted[QUOTED];

	table->has_layout = outcome == IMPORT_LAYOUT_READ;
	if (outcome == IMPORT_LAYOUT_TWICE || outcome == IMPORT_LAYOUT_LONG_NAME)
		import_table_issue(table, false, cells->row, column, "\"%s\" %s", quote(quoted, cells->cells[column]),
				   import_layout_hint(outcome));
	else if (!table->has_layout)
		import_table_issue(table, false, cells->row, IMPORT_NO_COLUMN, "%s", import_layout_hint(outcome));
	return table->has_layout;
}

static bool on_row(void *userdata, const struct import_cells *cells)
{
	struct row row = { .table = userdata, .cells = cells };
	bool good;

	if (!row.table->has_layout)
		return on_header(row.table, cells);
	look_beside(&row);
	good = read_time(&row);
	good = read_fed(&row) && good;
	return row.table->layout.wide ? take_wide(&row, good) : take_long(&row, good);
}

bool import_table_read(const char *octets, size_t n, const struct import_options *options, struct import_table *ret)
{
	enum import_csv_outcome outcome;

	*ret = (struct import_table){ .options = options };
	outcome = import_csv_read(octets, n, on_row, ret, &ret->csv);
	ret->options = NULL;
	switch (outcome) {
	case IMPORT_CSV_READ:
		if (ret->n == 0 && ret->n_mistakes == 0)
			import_table_issue(ret, false, 0, IMPORT_NO_COLUMN,
					   "there is no weighing below the first row.");
		return true;
	case IMPORT_CSV_STOPPED:
		return ret->n_mistakes > 0; /* which is why it stopped; else there was no memory */
	case IMPORT_CSV_NO_MEMORY:
		return false;
	default:
		import_table_issue(ret, false, ret->csv.row, IMPORT_NO_COLUMN, "%s", import_csv_hint(outcome));
		return true;
	}
}

void import_table_done(struct import_table *table)
{
	free(table->entries);
	table->entries = NULL;
	table->n = table->room = 0;
}
