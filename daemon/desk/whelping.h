// SPDX-License-Identifier: MIT
#pragma once
/*
 * Whelpings: the births of a litter as they happen. What is open is held in memory, read from the ledger at start.
 * Above: asks.c, words.c, desk.c, the requests whelping* (those of single pups are in births.c). Below: the store.
 * It gives no advice of its own on how a birth should go.
 */
#include "daemon/store/uuid7.h"
#include <stdbool.h>
#include <stdint.h>

struct desk;
struct json_t;
struct rpc_caller;
struct rpc_refusal;

/* A whelping that nobody ended is over so long after its last birth, or after it was begun. Ours. */
#define WHELPING_LAPSE_MS (INT64_C(24) * 3600 * 1000)

struct open_whelping {
	struct open_whelping *next;
	char id[UUID7_SIZE], litter_id[UUID7_SIZE];
	int64_t at_ms;
	int64_t last_ms; /* of the last birth; INT64_MIN: none yet */
	bool ended;
};

/* Reads the newest of each litter from the ledger. 0, -ENOMEM, or the store's outcome. */
int whelping_load(struct desk *desk);
void whelping_done(struct desk *desk);
/* Ends those that have been open too long. */
void whelping_lapse(struct desk *desk);
/* The name of the litter whose whelping is open; NULL: none is, or several are. */
const char *whelping_open(struct desk *desk);
/* The open whelping of a litter, or the only one (name NULL or ""). 0, or refused. */
int whelping_find(struct desk *desk, const char *name, struct open_whelping **ret, struct rpc_refusal *refusal);

/* births.c. Whether the bare word `new` is meant, "the oldest open ask is a new pup": a whelping is open, and no animal
 * is called so. */
bool births_means_new(struct desk *desk, const char *word);
/* Does that: as whelping.pup with the oldest ask. */
int births_new(struct desk *desk, const struct rpc_caller *caller, struct json_t **ret_result,
	       struct rpc_refusal *refusal);
