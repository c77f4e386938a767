// SPDX-License-Identifier: MIT
#include "daemon/ctl/import_csv.h"
#include "daemon/ctl/text.h"
#include <csv.h>

struct reader {
	struct csv_parser parser;
	bool (*row)(void *userdata, const struct import_cells *cells);
	void *userdata;
	enum import_csv_outcome outcome; /* of the callbacks below */
	struct import_cells cells;
	char text[IMPORT_COLUMNS * (IMPORT_CELL_BYTES + 1)]; /* the cells' */
	size_t used;
	bool open; /* a row has begun and not ended */
};

/* libcsv asks for more with each further octets of one cell: this is its end. */
static void *grow(void *at, size_t size)
{
	return size > IMPORT_CELL_BYTES + 256 ? NULL : realloc(at, size);
}

/* ---- what libcsv tells ---- */

static void on_cell(void *text, size_t n, void *userdata)
{
	struct reader *reader = userdata;
	const char *from = text;
	char *to = reader->text + reader->used;

	if (reader->outcome != IMPORT_CSV_READ)
		return;
	while (n && (*from == ' ' || *from == '\t')) {
		from++;
		n--;
	}
	while (n && (from[n - 1] == ' ' || from[n - 1] == '\t'))
		n--;
	if (n > IMPORT_CELL_BYTES) {
		reader->outcome = IMPORT_CSV_LONG_CELL;
		return;
	}
	if (reader->cells.n == IMPORT_COLUMNS) {
		if (n) /* empty ones beyond are of no harm: spreadsheets write them */
			reader->outcome = IMPORT_CSV_MANY_COLUMNS;
		return;
	}
	memcpy(to, from, n);
	to[n] = '\0';
	if (!text_valid(to))
		reader->outcome = IMPORT_CSV_NOT_UTF8;
	reader->used += n + 1;
	reader->cells.cells[reader->cells.n++] = to;
}

static bool is_empty(const struct import_cells *cells)
{
	for (size_t i = 0; i < cells->n; i++)
		if (*cells->cells[i])
			return false;
	return true;
}

static void on_row(int end, void *userdata)
{
	struct reader *reader = userdata;

	(void)end;
	if (reader->outcome == IMPORT_CSV_READ && !is_empty(&reader->cells) &&
	    !reader->row(reader->userdata, &reader->cells))
		reader->outcome = IMPORT_CSV_STOPPED;
	reader->open = false;
	reader->cells.n = 0;
	reader->used = 0;
}

/* ---- lines ---- */

/* Octets up to and with the next line end. */
static size_t line_of(const char *at, size_t n)
{
	size_t i = 0;

	while (i < n && at[i] != '\n' && at[i] != '\r')
		i++;
	if (i < n)
		i += at[i] == '\r' && i + 1 < n && at[i + 1] == '\n' ? 2 : 1;
	return i;
}

static bool is_blank(const char *at, size_t n)
{
	for (size_t i = 0; i < n; i++)
		if (at[i] != ' ' && at[i] != '\t' && at[i] != '\r' && at[i] != '\n')
			return false;
	return true;
}

/* The one of which there are most outside of quotes in the first line that isn't empty; '\0': there is none. */
static char find_separator(const char *at, size_t n)
{
	static const char separators[] = { '\t', ';', ',' };
	size_t counts[sizeof separators] = { 0 }, best = 0, line;
	bool quoted = false;

	for (line = line_of(at, n); n && is_blank(at, line); line = line_of(at, n)) {
		at += line;
		n -= line;
	}
	for (size_t i = 0; i < line; i++) {
		quoted = quoted != (at[i] == '"');
		for (size_t s = 0; s < sizeof separators; s++)
			counts[s] += !quoted && at[i] == separators[s];
	}
	for (size_t s = 1; s < sizeof separators; s++)
		if (counts[s] > counts[best])
			best = s;
	return counts[best] ? separators[best] : '\0';
}

static enum import_csv_outcome feed(struct reader *reader, const char *at, size_t n)
{
	if (csv_parse(&reader->parser, at, n, on_cell, on_row, reader) == n)
		return reader->outcome;
	switch (csv_error(&reader->parser)) {
	case CSV_EPARSE:
		return IMPORT_CSV_QUOTE;
	case CSV_ENOMEM:
		return IMPORT_CSV_LONG_CELL;
	default:
		return IMPORT_CSV_NO_MEMORY;
	}
}

static enum import_csv_outcome each_line(struct reader *reader, const char *at, size_t n)
{
	enum import_csv_outcome outcome = IMPORT_CSV_READ;

	while (n && outcome == IMPORT_CSV_READ) {
		size_t line = line_of(at, n);
		if (!reader->open)
			reader->cells.row++;
		if (reader->open || !is_blank(at, line)) {
			reader->open = true;
			outcome = feed(reader, at, line);
		}
		at += line;
		n -= line;
	}
	if (outcome == IMPORT_CSV_READ && csv_fini(&reader->parser, on_cell, on_row, reader) != 0)
		return IMPORT_CSV_OPEN;
	return outcome == IMPORT_CSV_READ ? reader->outcome : outcome;
}

/* ---- the whole ---- */

static enum import_csv_outcome look(const char *octets, size_t n)
{
	const unsigned char *o = (const unsigned char *)octets;

	if (n >= 2 && ((o[0] == 0xff && o[1] == 0xfe) || (o[0] == 0xfe && o[1] == 0xff)))
		return IMPORT_CSV_UTF16;
	if (memchr(octets, '\0', n))
		return n >= 2 && (!o[0] != !o[1]) ? IMPORT_CSV_UTF16 : IMPORT_CSV_BINARY;
	return is_blank(octets, n) ? IMPORT_CSV_EMPTY : IMPORT_CSV_READ;
}

enum import_csv_outcome import_csv_read(const char *octets, size_t n,
					bool (*row)(void *userdata, const struct import_cells *cells), void *userdata,
					struct import_csv *ret)
{
	enum import_csv_outcome outcome = look(octets, n);
	struct reader *reader;

	*ret = (struct import_csv){ 0 };
	if (outcome != IMPORT_CSV_READ)
		return outcome;
	if (n >= 3 && memcmp(octets, "\xef\xbb\xbf", 3) == 0) {
		octets += 3;
		n -= 3;
	}
	ret->separator = find_separator(octets, n);
	if (!ret->separator)
		return IMPORT_CSV_ONE_COLUMN;
	reader = calloc(1, sizeof *reader);
	if (!reader)
		return IMPORT_CSV_NO_MEMORY;
	reader->row = row;
	reader->userdata = userdata;
	(void)csv_init(&reader->parser, CSV_STRICT | CSV_STRICT_FINI); /* fails for NULL alone */
	csv_set_delim(&reader->parser, (unsigned char)ret->separator);
	csv_set_realloc_func(&reader->parser, grow);
	outcome = each_line(reader, octets, n);
	ret->row = reader->cells.row;
	csv_free(&reader->parser);
	free(reader);
	return outcome;
}

const char *import_csv_hint(enum import_csv_outcome outcome)
{
	switch (outcome) {
	case IMPORT_CSV_READ:
	case IMPORT_CSV_STOPPED:
		return "";
	case IMPORT_CSV_EMPTY:
		return "there is nothing in it.";
	case IMPORT_CSV_UTF16:
		return "its text is UTF-16: save it as \"CSV UTF-8\", or run `iconv -f UTF-16 -t UTF-8`.";
	case IMPORT_CSV_BINARY:
		return "it has NUL octets, so it is no text: save the spreadsheet as CSV.";
	case IMPORT_CSV_NOT_UTF8:
		return "its text isn't UTF-8: save it as \"CSV UTF-8\", or run `iconv -f WINDOWS-1252 -t UTF-8`.";
	case IMPORT_CSV_ONE_COLUMN:
		return "its first row has one column alone: columns are parted by commas, semicolons or tabs.";
	case IMPORT_CSV_QUOTE:
		return "a quote (\") stands inside a cell: a cell with one is quoted, and the quote doubled.";
	case IMPORT_CSV_OPEN:
		return "a quote (\") is opened and never closed.";
	case IMPORT_CSV_LONG_CELL:
		return "a cell is longer than 1024 octets: is a quote (\") left open there?";
	case IMPORT_CSV_MANY_COLUMNS:
		return "there are more than 64 columns.";
	case IMPORT_CSV_NO_MEMORY:
		return "there is no memory left.";
	}
	return "";
}
