// SPDX-License-Identifier: MIT
#pragma once
/*
 * One result on its way: judged, committed, told, asked about. The commit comes before anything that a person or
 * program could see; what can't be committed now is held (desk_hold()) and tried again.
 * Above: frames.c (results), stream.c (settled plateaus), broadcast.c. Below: weigh, store.
 */
#include "daemon/desk/roster.h"
#include "daemon/radio/radio.h"

struct desk;

enum passage_kind {
	PASSAGE_RESULT, /* a mass: see `result` and what follows */
	PASSAGE_REFUSED, /* the frame alone: nothing could be made of it; why says what was wrong */
	PASSAGE_KEPT,   /* the frame alone: it had an effect other than a mass */
	PASSAGE_REPEAT, /* the frame alone: known already */
};

struct passage {
	enum passage_kind kind;
	struct roster_scale *scale;
	const struct radio_frame *frame;  /* what it came with; of a stream, the last */
	const char *why;                  /* of the frame, for the ledger; NULL: nothing to say */
	/* PASSAGE_RESULT only: */
	const struct radio_frame *before; /* of a stream: those before it that the ledger keeps, oldest first */
	size_t n_before;
	struct weigh_result result; /* received_ms and link are the frame's */
	int64_t frame_mg;           /* the frame's own mass; of a stream it isn't the plateau's */
	bool restless;
	bool tared;                 /* the scale's own tare is on: the container isn't taken off again */
	int user;                   /* the scale's user index, -1 none */
};

/* Does it, or has it held. True when a question was opened. */
bool passage_take(struct desk *desk, const struct passage *passage);
/* Does it: 0; > 0 of enum store_outcome: the ledger can't take it now and nothing was done; or -errno. For what is
 * held. ret_asked may be NULL. */
int passage_try(struct desk *desk, const struct passage *passage, bool *ret_asked);

/* `live`, at most ten times a second. */
void passage_tell_live(struct desk *desk, struct roster_scale *scale, int64_t gross_mg, int64_t step_mg, bool tared,
		       bool steady);
/* What the scale shows with nothing but its container on it: the tare, or 0 without one, or while one is awaited. */
int64_t passage_idle_mg(struct desk *desk, const struct roster_scale *scale, bool tared);
