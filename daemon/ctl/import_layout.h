// SPDX-License-Identifier: MIT
#pragma once
/*
 * Which column of a spreadsheet is what, by the names in its first row, in any case. Two layouts: long has a column
 * with the weight, and a row is a weighing of one pup; wide has none, and each column that is nothing else is a pup.
 * Pure.
 * Above: import_table. Below: text.
 */
#include "daemon/ctl/import_csv.h"

enum import_kind {
	IMPORT_UNNAMED, /* its name is empty: nothing may stand below it */
	IMPORT_IGNORED, /* who weighed, a note, and in a long layout whatever isn't known */
	IMPORT_DATE,    /* with the time or not */
	IMPORT_TIME,
	IMPORT_LITTER,
	IMPORT_ANIMAL,
	IMPORT_COLLAR,
	IMPORT_MASS,
	IMPORT_FED,
	IMPORT_PUP, /* of a wide layout: its weights; the name is the pup's */
	IMPORT_KINDS,
};

#define IMPORT_NAME_BYTES 64 /* of a pup's name or a unit's, as the daemon has them */

struct import_column {
	enum import_kind kind;
	char name[IMPORT_NAME_BYTES + 1]; /* as it stands there, a pup's without its unit; cut */
	const char *unit; /* of the bare numbers below it, for weigh/quantity: "g", "kg", "oz", "lb"; NULL: not told */
};

struct import_layout {
	struct import_column columns[IMPORT_COLUMNS];
	size_t n;
	bool wide;
};

enum import_layout_outcome {
	IMPORT_LAYOUT_READ = 0,
	IMPORT_LAYOUT_NO_TIME,   /* no column has dates or times */
	IMPORT_LAYOUT_NO_ANIMAL, /* long, and no column says whose */
	IMPORT_LAYOUT_NO_PUP,    /* neither weights nor pups */
	IMPORT_LAYOUT_TWICE,     /* two columns of one kind or one name: *ret_column is the second */
	IMPORT_LAYOUT_LONG_NAME, /* longer than a pup's may be: *ret_column */
};

enum import_layout_outcome import_layout_read(const struct import_cells *header, struct import_layout *ret,
					      size_t *ret_column);
/* A sentence for people: what is wrong and what to do. Static storage. */
const char *import_layout_hint(enum import_layout_outcome outcome);
/* The column of this kind, or n. */
size_t import_layout_find(const struct import_layout *layout, enum import_kind kind);
/* "g", "gram", "Kilograms", "oz", "lbs" to "g", "kg", "oz", "lb"; NULL for any other word. */
const char *import_layout_unit(const char *word);
