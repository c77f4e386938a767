// SPDX-License-Identifier: MIT
#pragma once
/*
 * What was taken, in PostgreSQL: schema `bismar`, made by keep_create_schema(). Connects as libpq is told to by PGHOST,
 * PGSERVICE,
 * ~/.pgpass and the rest of its environment.
 * Above: intake, gather. Below: libpq.
 *
 * KEEP_AWAY: the server can't be reached or has gone, told once; the caller tries again, and nothing counts that wasn't
 * committed.
 */
#include "contrib/merge/record.h"
#include <jansson.h>
#include <stdbool.h>
#include <stdint.h>

struct keep;

enum keep_outcome {
	KEEP_DONE = 0,
	KEEP_AWAY,    /* no connection */
	KEEP_BUSY,    /* another bismar-gather is on this database */
	KEEP_ABSENT,  /* the schema isn't there */
	KEEP_REFUSED, /* the server won't do it: told */
};

int keep_new(struct keep **ret);
struct keep *keep_free(struct keep *keep); /* takes NULL, returns NULL */

/* Connects, where it isn't; takes the lock. */
enum keep_outcome keep_open(struct keep *keep);
bool keep_is_open(const struct keep *keep);
/* Makes what isn't there. */
enum keep_outcome keep_create_schema(struct keep *keep);

/* What keep_store() stores: what was taken since the last time. */
struct keep_batch {
	json_t *rows[RECORD_LOGS]; /* arrays */
	json_t *states;            /* an array, in their order */
	json_t *refused;           /* an object: a bridge, and how many of its messages were refused */
};

/*
 * All in one transaction. Rows that the server refuses are left out, one by one, and counted in *ret_refused; *ret_new:
 * rows that weren't there. DONE, AWAY: nothing of it is stored.
 */
enum keep_outcome keep_store(struct keep *keep, const struct keep_batch *batch, size_t *ret_new, size_t *ret_refused);

/* Called for each bridge that is to be asked: from what on, 0 for nothing. */
typedef void keep_ask_fn(void *user, const char *bridge, const int64_t from[RECORD_LOGS]);
/* Who misses something, since when, and who is asked now. */
enum keep_outcome keep_check(struct keep *keep, int wait_s, int every_s, keep_ask_fn *ask, void *user);

/* Called for each bridge and topic that isn't complete, a hundred at most. */
typedef void keep_missing_fn(void *user, const char *bridge, const char *topic, int64_t complete, int64_t head,
			     bool here);
enum keep_outcome keep_each_missing(struct keep *keep, keep_missing_fn *missing, void *user);
