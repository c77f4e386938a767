// SPDX-License-Identifier: MIT
#pragma once
/*
 * Readings of a file (a paper log that was typed) become readings of the ledger: all of them in one transaction, or
 * none. A line of the socket is short, so a connection begins an import, hands in its rows in several requests, may ask
 * what would come of them, and commits or drops. Until then they are in memory alone, LIMIT_IMPORT_ROWS of them at
 * most. There is one import at a time; it ends with its connection, and when it is silent for IMPORT_IDLE_S or less.
 * A weighing that was ever said to be that animal's, in the same minute and with the same mass, isn't added again: an
 * import that is done twice adds nothing the second time, and what was corrected or taken back since stays so.
 * Above: methods.c, desk.c. Below: the roster, models.c (what is far off), the store.
 */
#include "daemon/limits.h"
#include "daemon/prompt/rpc.h"
#include "daemon/store/uuid7.h"
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define IMPORT_IDLE_S 60

struct desk;
struct import;
struct sd_event_source;

/* A connection has ended: what it had begun is dropped. A prompt_ops.left(). */
void import_left(void *userdata, const struct rpc_caller *caller);
/* Takes NULL, returns NULL. */
struct import *import_free(struct import *import);

/* ---- inside: import.c, import_check.c, import_commit.c ---- */

enum import_fate {
	IMPORT_NEW,
	IMPORT_ON_RECORD, /* the ledger has or had it */
	IMPORT_REPEATED,  /* a row before it says the same */
};

struct import_row {
	unsigned index; /* of all rows that were handed in, from 0 */
	char animal_id[UUID7_SIZE];
	char fed;              /* 'b', 'a', 0: not told */
	enum import_fate fate; /* import_sort()'s */
	bool early, wild;      /* before its animal was born; far off its curve: import_doubt()'s */
	int offset_min;
	int64_t at_ms, mass_mg, step_mg;
};

struct import {
	const struct rpc_caller *caller; /* whose it is; compared, and never looked into */
	char said[LIMIT_TEXT_BYTES + 1]; /* whom it named; "": nobody */
	struct import_row *rows;
	size_t n, room;
	unsigned handed_in, refused;
	unsigned idle_s; /* it is dropped when nothing is heard of it for so long */
	struct sd_event_source *idle;
};

/* The caller's own import, which then waits anew; 0, or refuses. */
int import_own(struct desk *desk, const struct rpc_caller *caller, struct import **ret, struct rpc_refusal *refusal);
/* Sorts rows by animal and time, and finds what is new. 0, or the store's outcome. */
int import_sort(struct desk *desk, struct import_row *rows, size_t n);
/* Of rows that are new, sets early and wild; rows are sorted. 0, -ENOMEM or the store's outcome. */
int import_doubt(struct desk *desk, struct import_row *rows, size_t n);
