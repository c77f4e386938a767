// SPDX-License-Identifier: MIT
#pragma once
/*
 * The growth models of the open litters, held in memory, built from the ledger at start and kept with it: a reading that
 * is newer than all others is one step, anything else (a correction, a stored result, a taken-back answer) builds the
 * litter's model anew.
 * Above: answers.c, care.c, asks.c, worries.c, rounds.c. Below: litter/growth, the store's walk over readings.
 */
#include "daemon/litter/verdict.h"
#include "daemon/store/uuid7.h"
#include <stddef.h>
#include <stdint.h>

struct desk;
struct roster_animal;

/* Readings older than this (before the newest) don't change what a model believes now; a litter leaves long before. */
#define MODELS_SPAN_MS (INT64_C(120) * 24 * 3600 * 1000)

struct model {
	struct model *next;
	char litter_id[UUID7_SIZE];
	char animals[GROWTH_ANIMALS][UUID7_SIZE]; /* of the model's index */
	size_t n;
	int64_t step_mg;      /* of the newest reading; 0: none yet */
	int64_t newest_ms;    /* of all its readings; INT64_MIN: none */
	struct growth growth;
	struct model_kept { /* what the ledger has of an animal's verdict */
		bool is;
		enum verdict_kind kind;
		int64_t gain_mg_per_day;
	} kept[GROWTH_ANIMALS];
};

/* Builds all anew: at start, and when litters or animals have come or gone. 0, -ENOMEM or the store's outcome; then
 * models are as they were. */
int models_load(struct desk *desk);
void models_done(struct desk *desk);

/* The model of a litter, or NULL: it has none (closed, or no animal). */
struct model *model_of(struct desk *desk, const char *litter_id);
/* Index of an animal in it, or -1. */
int model_index(const struct model *model, const char *animal_id);
/* A model of the same litter with only what was measured before until_ms (exclusive), for --as-of and for rounds; the
 * caller frees it with free(). NULL without memory or when the ledger can't be read. */
struct model *model_until(struct desk *desk, const struct model *model, int64_t until_ms);

/* What may become a reading of a litter. */
struct models_row {
	size_t animal; /* the model's index */
	int64_t at_ms, mass_mg, u_mg;
	bool wild; /* models_try() sets it: far off this pup's curve, or a multiple of its mass before */
};
/* Builds the litter's model with these rows beside what is recorded, keeps nothing of it, and says which are wild. 0,
 * -ENOMEM or the store's outcome. */
int models_try(struct desk *desk, const struct model *model, struct models_row *rows, size_t n);

/* A reading has been recorded. The model takes it, and verdicts and worries follow. */
void models_recorded(struct desk *desk, const struct roster_animal *animal, int64_t at_ms, int64_t net_mg, int64_t u_mg,
		     int64_t step_mg);
/* Something else has changed about an animal's readings: builds its litter's model anew. animal_id may be "" or unknown:
 * nothing happens then. */
void models_changed(struct desk *desk, const char *animal_id);
