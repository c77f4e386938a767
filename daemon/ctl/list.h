// SPDX-License-Identifier: MIT
#pragma once
/*
 * A query printed: aligned columns for people, or one JSON object a row with the view's column names.
 * Above: the list commands. Below: database, show, table, when.
 */
#include "daemon/ctl/ctl.h"
#include <stddef.h>

enum list_kind {
	LIST_TEXT,
	LIST_EXTRA, /* a text that a narrow terminal leaves out where all rows have the same */
	LIST_WORD,  /* one of a few short ones: never cut */
	LIST_TAIL, /* the last characters of an id */
	LIST_WHOLE,
	LIST_MASS,  /* a column in grams */
	LIST_HEAVY, /* the same, of a grown animal */
	LIST_TIME,  /* a column in ms, with its date */
	LIST_NEAR,  /* the same, as short as it goes */
	LIST_DAILY, /* grams in a day with their sign, as well as the column "u_..." knows them */
	LIST_YES,   /* "yes" when it isn't 0 */
};

struct list_column {
	const char *title;
	const char *name; /* the view's column; one that the view doesn't have is left out */
	enum list_kind kind;
};

struct list {
	const char *sql;          /* all columns of the view */
	const char *const *texts; /* for ?1, ?2 ... */
	size_t n_texts;
	const struct list_column *columns;
	size_t n_columns;
	const char *nothing; /* for people, when there is no row; what to do, if anything */
};

enum ctl_status list_print(const struct ctl *ctl, const struct list *list);
