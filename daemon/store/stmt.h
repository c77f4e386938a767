// SPDX-License-Identifier: MIT
#pragma once
/*
 * Prepared statements and transactions of the store, and the store's own shape. Inside daemon/store alone.
 * Above: write, roster, walk, read, open. Below: sqlite3.
 *
 * A statement is prepared on its first use and kept (SQLITE_PREPARE_PERSISTENT); its text stands where it is used.
 * Results as in store.h: 0, > 0 enum store_outcome, < 0 -errno.
 */
#include "store.h"
#include <sqlite3.h>

enum stmt_slot {
	STMT_BEGIN,
	STMT_COMMIT,
	STMT_ROLLBACK,
	STMT_ADD_SCALE,
	STMT_END_SCALE,
	STMT_PUT_CONTAINER,
	STMT_ADD_CONTAINER,
	STMT_ADD_TARE,
	STMT_ADD_LITTER,
	STMT_END_LITTER,
	STMT_ADD_ANIMAL,
	STMT_ADD_ALIAS,
	STMT_END_ANIMAL,
	STMT_ADD_FRAME,
	STMT_ADD_WEIGHING,
	STMT_ADD_CHECK,
	STMT_ADD_ANSWER,
	STMT_ADD_CLOCK,
	STMT_SET_CONSENT,
	STMT_ADD_GROWTH,
	STMT_ADD_CONCERN,
	STMT_BEGIN_ROUND,
	STMT_END_ROUND,
	STMT_SET_LIMITS,
	STMT_BEGIN_WHELPING,
	STMT_END_WHELPING,
	STMT_ADD_BIRTH,
	STMT_ADD_SCORE,
	STMT_ADD_SIGN,
	STMT_ADD_FEED,
	STMT_ADD_ORDER,
	STMT_END_ORDER,
	STMT_ADD_DOSE,
	STMT_SCALES,
	STMT_CONTAINERS,
	STMT_LITTERS,
	STMT_ANIMALS,
	STMT_ALIASES,
	STMT_UNANSWERED,
	STMT_FIND,
	STMT_NEWEST,
	STMT_RESULTS,
	STMT_LAST_BTHOME,
	STMT_READINGS,
	STMT_OPEN_CONCERNS,
	STMT_ROUNDS,
	STMT_LIMITS,
	STMT_WAS_SAID,
	STMT_WHELPINGS,
	STMT_BIRTHS,
	STMT_SIGNS,
	STMT_FEEDS,
	STMT_ORDERS,
	STMT_DOSES,
	STMT_SLOTS
};

/* Two places add a tare: a typed mass, and an empty container that was seen. */
#define STMT_ADD_TARE_SQL \
	"INSERT INTO container_tare (id, at_ms, offset_min, peer, said, container, frame, tared_ms, mass_mg, u_mg) " \
	"VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"

struct store {
	sqlite3 *db;
	int mark_fd; /* holds the lock for as long as the store is open */
	struct uuid7_clock clock;
	sqlite3_stmt *prepared[STMT_SLOTS];
	char detail[256];
};

/* One use of a prepared statement; stmt_done() gives it back. Bound text and blobs are borrowed until then. */
struct stmt {
	sqlite3_stmt *st;
	int n;  /* parameters bound so far */
	int rc; /* of the first bind that failed */
};

/* -EBUSY when the statement is in use: a walk's callback began the same walk. */
int stmt_use(struct store *store, enum stmt_slot slot, const char *sql, struct stmt *ret);
void stmt_done(struct stmt *use); /* takes one that was never begun, if it is zero */

/* Each binds the next parameter; an error shows at the next step. */
void stmt_text(struct stmt *use, const char *text); /* NULL and "" become NULL */
void stmt_int(struct stmt *use, int64_t value);
void stmt_real(struct stmt *use, double value);
void stmt_real_if(struct stmt *use, bool has, double value); /* NULL when it has none */
void stmt_int_if(struct stmt *use, bool has, int64_t value); /* NULL when it has none */
void stmt_blob(struct stmt *use, const void *octets, size_t n);

int stmt_step(struct store *store, struct stmt *use, bool *ret_row);
int stmt_run(struct store *store, struct stmt *use); /* steps to the end and gives it back */

/* Column text, NULL for NULL; borrowed until the next step. */
const char *stmt_column(struct stmt *use, int column);

/*
 * Begins an INSERT: draws a key, and binds the five columns that each row starts with:
 * id, at_ms, offset_min, peer, said. ret_id must outlive the use.
 */
int stmt_use_row(struct store *store, enum stmt_slot slot, const char *sql, const struct store_stamp *stamp,
		 char ret_id[UUID7_SIZE], struct stmt *ret);

/* A transaction that may write. stmt_end commits when r is 0, rolls back otherwise, and returns r or the commit's
 * own failure, after which everything is rolled back. */
int stmt_begin(struct store *store);
int stmt_end(struct store *store, int r);

/* A row that is a transaction of its own: begun, its columns bound, ended. When it can't begin, nothing is left open. */
int stmt_begin_row(struct store *store, enum stmt_slot slot, const char *sql, const struct store_stamp *stamp,
		   char ret_id[UUID7_SIZE], struct stmt *ret);
/* ret_id may be NULL; id is the row's. */
int stmt_end_row(struct store *store, struct stmt *use, const char id[UUID7_SIZE], char *ret_id);

/* A row that has n texts after the five common columns, inside a transaction; and as one of its own, with ret_id NULL
 * or not. */
int stmt_add_texts(struct store *store, enum stmt_slot slot, const char *sql, const struct store_stamp *stamp,
		   const char *const *texts, size_t n, char ret_id[UUID7_SIZE]);
int stmt_one_of_texts(struct store *store, enum stmt_slot slot, const char *sql, const struct store_stamp *stamp,
		      const char *const *texts, size_t n, char *ret_id);

/* What an errno of the file system means to us; < 0: our own process lacks memory or descriptors. */
int store_outcome_of_errno(int error);

/* What an SQLite result means to us, and keeps SQLite's own words for store_detail(). */
int stmt_outcome(struct store *store, int rc);

/* migrations.c: brings a database of an older schema, or an empty one, to STORE_SCHEMA. */
int migrations_run(struct store *store, int version);
