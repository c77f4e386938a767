// SPDX-License-Identifier: MIT
#pragma once
/*
 * From results to one weighing: merges repeats, dates stored results, subtracts the remembered container,
 * states the standard uncertainty. Pure: time and results come in as arguments, memory from the caller.
 * Above: daemon/desk. Below: nothing. It knows no animal, no database and no radio.
 *
 * Uncertainty: a step d contributes d/sqrt(12) (JCGM 100:2008, 4.3.7); independent parts add in squares
 * (the same, 5.1.2).
 */
#include "tare.h"
#include <stdbool.h>
#include <stdint.h>

/* A result repeated without a time stamp on one link: scales repeat a final result within seconds, and a
 * pup can't be exchanged for another in less. Our judgement; no published source. */
#define WEIGH_REPEAT_MS 5000
/* The same, when the link was lost in between and the first result of the new link is the old one. */
#define WEIGH_RESEND_MS 10000
/* Reports without a stamp that follow each other closely are one weighing for this long. Our judgement. */
#define WEIGH_REPEAT_MAX_MS 60000
/* A stamp this near to the arrival is "now"; older ones were stored in the scale. */
#define WEIGH_LIVE_MS 120000
/* A stamp older than this, or ahead by more than WEIGH_LIVE_MS, is a clock never set. */
#define WEIGH_STAMP_MAX_AGE_MS (INT64_C(30) * 24 * 3600 * 1000)
/* Lighter than any live-born pup, heavier than what a pad soaks up between two weighings: within it of the container
 * (of zero without one) the scale is empty. Our judgement. */
#define WEIGH_EMPTY_MG 25000
/* For a scale that doesn't say its step. */
#define WEIGH_UNKNOWN_STEP_MG 5000
#define WEIGH_REMEMBERED 16

struct weigh_result {
	int64_t gross_mg;
	int64_t step_mg;     /* 0: not known */
	int64_t received_ms; /* wall clock at arrival, UTC */
	bool has_stamp;
	int64_t stamp_ms;    /* the scale's stamp as UTC; meaningful with has_stamp */
	uint32_t link;       /* differs for each connection of this scale; same number: same link */
	int64_t u_mg;        /* standard uncertainty of gross where more is known than the step (settle), or 0 */
	bool fresh;          /* known to be a new weighing, as a settled plateau is, or a broadcast with a new number */
	int64_t ahead_ms;    /* the scale's clock less ours, as far as known (stamp): stamp_ms - ahead_ms is our time */
	bool live;           /* weighed as it came, whatever the stamp says (stamp) */
};

/* Memory of one scale; zero-initialised is "nothing yet". */
struct weigh_memory {
	struct weigh_result seen[WEIGH_REMEMBERED];
	bool weighed[WEIGH_REMEMBERED]; /* of seen: it became a weighing */
	unsigned n;    /* how many of seen are filled */
	unsigned next; /* where the next one goes */
	unsigned latest;  /* which of seen was reported last, for the first time or again */
	int64_t first_ms; /* arrival of its first report, or of the last one that its stamp named */
	int64_t last_ms;  /* arrival of its last report */
};

enum weigh_outcome {
	WEIGH_DONE,   /* a weighing: keep it, and ask */
	WEIGH_REPEAT, /* the weighing of an earlier result again: nothing new */
	WEIGH_EMPTY,  /* the empty container, or the empty scale: a check of the tare, no weighing */
	WEIGH_BELOW,  /* clearly less than the remembered container: it isn't on, or the scale was zeroed with it */
};

enum weigh_origin {
	WEIGH_RADIO,  /* as it happened */
	WEIGH_STORED, /* kept in the scale, sent later */
	WEIGH_TYPED,  /* by hand */
};

struct weighing {
	int64_t at_ms;           /* when the mass was on the scale, UTC */
	enum weigh_origin origin;
	int64_t gross_mg;
	int64_t tare_mg;         /* 0 without container */
	int64_t net_mg;          /* gross - tare, exactly */
	int64_t u_mg;            /* standard uncertainty of net, rounded up */
	/* WEIGH_EMPTY and WEIGH_BELOW: */
	int64_t drift_mg;        /* gross - tare: positive when the container became heavier */
	bool drifted;            /* more than step and twice the uncertainty explain */
	bool stamp_refused;      /* a stamp was there and can't be true; at_ms is the arrival */
};

/*
 * Takes the next result of one scale. tare: the container on the scale, or NULL for none. Fills *ret for each
 * outcome (for WEIGH_REPEAT: as if it were new) and remembers the result.
 */
enum weigh_outcome weigh_take(struct weigh_memory *memory, const struct weigh_result *result,
			      const struct tare *tare, struct weighing *ret);

/* Only remembers, for instance what the ledger knows at start. Oldest first. */
void weigh_remember(struct weigh_memory *memory, const struct weigh_result *result);

/* Our wall clock was set, ahead_ms ahead of what it would show: the remembered times of arrival move along, so that no
 * repeat counts as new, and no new result as a repeat. Stamps stay: they are the scale's. */
void weigh_clock_set(struct weigh_memory *memory, int64_t ahead_ms);

/* Standard uncertainty of one reading with this step: step/sqrt(12), rounded up to a milligram; step 0 is
 * WEIGH_UNKNOWN_STEP_MG. */
int64_t weigh_step_u_mg(int64_t step_mg);

const char *weigh_origin_text(enum weigh_origin origin); /* "radio", "stored", "typed" */
