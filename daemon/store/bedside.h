// SPDX-License-Identifier: MIT
#pragma once
/*
 * The ledger's other half: what is seen and done at the box beside weighing. Part of store.h's module: its results, its
 * stamps, its walks. Above: daemon/desk. Below: stmt.
 */
#include "store.h"

/* ---- whelping ---- */
int store_begin_whelping(struct store *store, const struct store_stamp *stamp, const char *litter_id,
			 char ret_id[UUID7_SIZE]);
int store_end_whelping(struct store *store, const struct store_stamp *stamp, const char *whelping_id);
struct store_birth {
	const char *litter_id, *animal_id; /* animal_id NULL: stillborn */
	const char *weighing_id;           /* NULL: the birth weight was typed, or isn't known */
	int64_t born_ms, mass_mg;          /* mass_mg 0: not known */
	char sex;                          /* 'f', 'm', 0 not told */
};
int store_add_birth(struct store *store, const struct store_stamp *stamp, const struct store_birth *birth,
		    char ret_id[UUID7_SIZE]);
/* points: five digits 0..2 */
int store_add_score(struct store *store, const struct store_stamp *stamp, const char *animal_id, int64_t scored_ms,
		    const char *points);
/* The newest whelping of each litter: id, litter, since when; ended false: it is open. */
struct store_whelping_row {
	const char *id, *litter_id;
	int64_t at_ms;
	bool ended;
};
int store_each_whelping(struct store *store, int (*fn)(void *, const struct store_whelping_row *), void *userdata);
struct store_birth_row {
	const char *animal_id, *name; /* NULL: stillborn */
	int64_t born_ms, mass_mg;
	char sex;
	const char *points; /* NULL: not scored */
};
int store_each_birth(struct store *store, const char *litter_id, int (*fn)(void *, const struct store_birth_row *),
		     void *userdata);

/* ---- signs and feeds ---- */
struct store_sign {
	const char *animal_id, *sign, *value;
	int64_t seen_ms;
};
int store_add_sign(struct store *store, const struct store_stamp *stamp, const struct store_sign *sign);
/* Of one animal, seen at or after since_ms, in order of time. */
int store_each_sign(struct store *store, const char *animal_id, int64_t since_ms,
		    int (*fn)(void *, const struct store_sign *), void *userdata);
struct store_feed {
	const char *animal_id, *what; /* what: NULL not told */
	int64_t fed_ms;
	int64_t ul;             /* given; 0: nursed */
	int64_t taken_mg, u_mg; /* of nursed */
};
int store_add_feed(struct store *store, const struct store_stamp *stamp, const struct store_feed *feed);
int store_each_feed(struct store *store, const char *animal_id, int64_t since_ms,
		    int (*fn)(void *, const struct store_feed *), void *userdata);

/* ---- a vet's orders ---- */
struct store_order {
	const char *id;                              /* read back only */
	const char *litter_id, *animal_id;           /* animal_id NULL: for the whole litter */
	const char *what, *vet, *kind, *route, *per; /* words of the schema */
	int64_t amount_ul, most_ul, every_ms, from_ms, until_ms;
};
int store_add_order(struct store *store, const struct store_stamp *stamp, const struct store_order *order,
		    char ret_id[UUID7_SIZE]);
int store_end_order(struct store *store, const struct store_stamp *stamp, const char *order_id, const char *why);
/* Those of one litter that nobody ended, also when their time is over. */
int store_each_order(struct store *store, const char *litter_id, int (*fn)(void *, const struct store_order *),
		     void *userdata);
struct store_dose {
	const char *order_id, *animal_id;
	int64_t given_ms, ul, mass_mg;
	const char *judged;              /* "plain", "second look", "overridden", "written down" */
	const char *words;               /* typed to override; NULL: none */
	const char *what, *kind, *route; /* of the order; read back only */
};
int store_add_dose(struct store *store, const struct store_stamp *stamp, const struct store_dose *dose,
		   char ret_id[UUID7_SIZE]);
int store_each_dose(struct store *store, const char *animal_id, int64_t since_ms,
		    int (*fn)(void *, const struct store_dose *), void *userdata);
