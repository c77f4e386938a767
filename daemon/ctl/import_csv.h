// SPDX-License-Identifier: MIT
#pragma once
/*
 * A spreadsheet's file to rows of cells: comma-separated values as RFC 4180 has them, or parted by semicolons or tabs,
 * which is found by itself; UTF-8 with or without a byte order mark; lines that end in LF, CR LF or CR. By libcsv, in
 * its strict mode. Pure; memory doesn't grow with the file.
 * Above: import_table. Below: libcsv, text.
 */
#include <stdbool.h>
#include <stddef.h>

#define IMPORT_FILE_BYTES (8 * 1024 * 1024) /* a file, at most; a log of IMPORT_ROWS with notes is a tenth of it */
#define IMPORT_COLUMNS 64
#define IMPORT_CELL_BYTES 1024

enum import_csv_outcome {
	IMPORT_CSV_READ = 0,
	IMPORT_CSV_EMPTY,
	IMPORT_CSV_UTF16,
	IMPORT_CSV_BINARY, /* NUL octets */
	IMPORT_CSV_NOT_UTF8,
	IMPORT_CSV_ONE_COLUMN, /* no separator in its first line */
	IMPORT_CSV_QUOTE,      /* a quote inside a cell, or text after the quote that ends it */
	IMPORT_CSV_OPEN,       /* the quote isn't closed by the end of the file */
	IMPORT_CSV_LONG_CELL,
	IMPORT_CSV_MANY_COLUMNS,
	IMPORT_CSV_NO_MEMORY,
	IMPORT_CSV_STOPPED, /* by the callback */
};

struct import_cells {
	unsigned row; /* as the spreadsheet counts, from 1; empty rows count too */
	size_t n;
	const char *cells[IMPORT_COLUMNS]; /* without blanks around them; borrowed for the call */
};

struct import_csv {
	char separator;
	unsigned row; /* the last that was begun: where the trouble is */
};

/* Calls row() for each row that isn't empty; false from it ends the reading. octets[n] must be a NUL. */
enum import_csv_outcome import_csv_read(const char *octets, size_t n,
					bool (*row)(void *userdata, const struct import_cells *cells), void *userdata,
					struct import_csv *ret);
/* A sentence for people: what is wrong and what to do. Static storage. */
const char *import_csv_hint(enum import_csv_outcome outcome);
