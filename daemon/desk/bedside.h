// SPDX-License-Identifier: MIT
#pragma once
/*
 * What the requests about signs, feeding, orders and whelping share. Not for anyone outside this folder.
 */
#include "daemon/desk/room.h"
#include "daemon/litter/sign.h"
#include "daemon/litter/sign_rules.h"
#include "daemon/weigh/quantity.h"

#define BEDSIDE_SIGNS 64 /* of one animal within SIGN_COUNTS_MS that are looked at: the newest */
#define BEDSIDE_AHEAD_MS (INT64_C(5) * 60 * 1000) /* a clock of who tells it may be ahead by this */
#define BEDSIDE_NO_VET                                                                                                 \
	"bismar is no vet, and your vet's word goes first. Call at once when a pup is limp, cold, cries without end "  \
	"or doesn't nurse."

struct bedside_signs {
	struct sign_seen list[BEDSIDE_SIGNS]; /* oldest first */
	size_t n;
	int64_t until_ms;
};

/* Signs of one animal that count at a time. As store calls return. */
int bedside_signs(struct desk *desk, const char *animal_id, int64_t now_ms, struct bedside_signs *ret);
int bedside_warmth(struct desk *desk, const char *animal_id, int64_t now_ms, enum sign_warmth *ret);
/* Negative: not known, or not yet born. */
int64_t bedside_age_ms(const struct roster_animal *animal, int64_t at_ms);
/* When something was: at, or now. 0, or 1 and refused when it lies ahead; the stamp gets the offset that was told. */
int bedside_time(const struct rpc_value *at, struct store_stamp *stamp, int64_t *ret_ms, struct rpc_refusal *refusal);
/* A volume with its unit, or refused in words that name what. */
int bedside_volume(const struct rpc_value *value, const char *what, int64_t *ret_ul, struct rpc_refusal *refusal);

struct bedside_weight {
	int64_t mass_mg, at_ms; /* 0: never weighed */
	bool doubtful;          /* it didn't hold still, doesn't fit its growth, or is no pup's of that age */
};
/* The newest weight of an animal. As store calls return. */
int bedside_weight(struct desk *desk, const struct roster_animal *animal, struct bedside_weight *ret);
json_t *bedside_ml(int64_t ul);
json_t *bedside_at(int64_t at_ms);
