// SPDX-License-Identifier: MIT
#pragma once
/*
 * One step of one bridge: what its parts share. Above: take, whose. Below: layout, tell, sqlite3.
 * Results are SQLite's; SQLITE_ABORT for what we refuse ourselves, and then it is told.
 */
#include "contrib/merge/layout.h"
#include "contrib/merge/take.h"
#include <sqlite3.h>
#include <stdbool.h>

struct step {
	sqlite3 *db;
	const struct take_source *source;
	sqlite3_int64 b; /* the bridge's number */
	bool is_new;     /* it was never taken before */
	bool told;       /* what is wrong */
	int taken[32];   /* rows of each view that are new or changed */
};

struct step_value { /* of a parameter: text, or else a number */
	const char *text;
	sqlite3_int64 number;
};

struct step_position {
	struct step_value at; /* seq, or the id where there is no seq */
	char id[64];
	sqlite3_int64 n;
};

/* Tells why nothing of it is taken. SQLITE_ABORT. */
__attribute__((format(printf, 2, 3))) int step_refuse(struct step *step, const char *format, ...);

/*
 * A statement about one view: in format, {v} is its name, {k} its key, {c} its columns, {s} the column of its position;
 * ?1 is the bridge's number, ?2 and on are values. The first row's first column into ret->number, its second into
 * ret_text and ret->text; ret and ret_text may be NULL.
 */
int step_ask(struct step *step, const struct layout *row, const char *format, const struct step_value *values, size_t n,
	     struct step_value *ret, char ret_text[64]);

/* How far that view was taken. */
int step_position(struct step *step, const struct layout *row, struct step_position *ret);
