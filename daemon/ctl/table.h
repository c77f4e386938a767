// SPDX-License-Identifier: MIT
#pragma once
/*
 * Aligned columns for people. On a terminal that is too narrow, columns go: first those in which all rows are
 * alike, then spare ones; then the widest texts lose their ends.
 * Above: list, growth. Below: text.
 */
#include "daemon/ctl/ctl.h"
#include <stddef.h>

#define TABLE_COLUMNS 16

struct table_column {
	const char *title;
	bool right; /* numbers */
	bool gives; /* a text that may be cut when the terminal is narrow */
	bool goes;  /* may be left out then, where all rows have the same */
	bool spare; /* may be left out then, if that isn't enough */
};

struct table {
	const struct table_column *columns;
	size_t n_columns; /* at most TABLE_COLUMNS */
	char **at;        /* cell by cell, row by row; owned */
	size_t n, room;
	unsigned widths[TABLE_COLUMNS];
	bool gone[TABLE_COLUMNS];
	bool failed; /* for lack of memory */
};

void table_init(struct table *table, const struct table_column *columns, size_t n_columns);
/* The next cell; text is copied. */
void table_add(struct table *table, const char *text);
/* Titles and rows to standard output. False when there was no memory; then nothing is printed. */
bool table_print(struct table *table, const struct ctl *ctl);
void table_done(struct table *table);
