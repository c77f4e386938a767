// SPDX-License-Identifier: MIT
#pragma once
/*
 * A spreadsheet to weighings, and to all that is wrong with it, each by row and column. Nothing is guessed: a number
 * without a unit, a date that may be two days, a time that clocks showed twice is a mistake.
 * Above: import.c. Below: import_csv, import_layout, import_when, weigh/quantity.
 */
#include "daemon/ctl/import_layout.h"
#include "daemon/ctl/import_when.h"
#include "daemon/limits.h"
#include <stdint.h>

#define IMPORT_ROWS LIMIT_IMPORT_ROWS
#define IMPORT_ISSUES 100 /* that are told; the others are counted */
#define IMPORT_NO_COLUMN SIZE_MAX

struct import_options {
	const char *litter; /* all belong to it; NULL: as the file or the name says */
	const char *unit; /* of bare numbers that no column's name has a unit for: "g", "kg", "oz", "lb"; NULL: none */
	enum import_first first;
	struct import_when time; /* of rows that have a date alone, if it has a time */
};

/* One weighing. */
struct import_entry {
	unsigned row;
	unsigned char column;                   /* of its weight */
	char fed;                               /* 'b', 'a', 0: not told */
	char animal[2 * IMPORT_NAME_BYTES + 2]; /* a name or collar, with "litter/" before it where that is known */
	char mass[48]; /* with its unit, as it was written: its last digit tells how well it was read */
	int offset_min;
	int64_t at_ms;
};

struct import_issue {
	unsigned row;  /* 0: the file as a whole */
	size_t column; /* or IMPORT_NO_COLUMN */
	unsigned more; /* rows below of which the same is to be said */
	bool doubt;    /* it can be, but hardly: else it can't be taken */
	char text[600];
};

struct import_table {
	struct import_csv csv;
	struct import_layout layout;
	bool has_layout;
	struct import_entry *entries;
	size_t n, room;
	struct import_issue issues[IMPORT_ISSUES];
	size_t n_issues;                      /* in the list */
	unsigned n_mistakes, n_doubts;        /* all of them */
	const struct import_options *options; /* borrowed while reading */
};

/* Reads octets[0..n), which end in a NUL. What is wrong is in the table; false only without memory. */
bool import_table_read(const char *octets, size_t n, const struct import_options *options, struct import_table *ret);
/* Notes one more; what was said of a row above in the same words is counted there. */
__attribute__((format(printf, 5, 6))) void import_table_issue(struct import_table *table, bool doubt, unsigned row,
							      size_t column, const char *format, ...);
void import_table_done(struct import_table *table);
