// SPDX-License-Identifier: MIT
#include "stmt.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

/*
 * SQLite tells a page that the disk wouldn't read as a damaged database (os_unix.c: SQLITE_IOERR_CORRUPTFS for EIO, ENXIO
 * and ERANGE; vdbe.c makes SQLITE_CORRUPT of it), for which nobody should put a backup in its place. Each file
 * remembers its last errno (sqlite.org/c3ref/c_fcntl_begin_atomic_write.html).
 */
static bool disk_failed(sqlite3 *db)
{
	int main_errno = 0, wal_errno = 0;
	sqlite3_file *wal = NULL;

	(void)sqlite3_file_control(db, "main", SQLITE_FCNTL_LAST_ERRNO, &main_errno); /* or it stays 0 */
	(void)sqlite3_file_control(db, "main", SQLITE_FCNTL_JOURNAL_POINTER, &wal);
	if (wal && wal->pMethods)
		(void)wal->pMethods->xFileControl(wal, SQLITE_FCNTL_LAST_ERRNO, &wal_errno);
	return main_errno == EIO || main_errno == ENXIO || wal_errno == EIO || wal_errno == ENXIO;
}

int stmt_outcome(struct store *store, int rc)
{
	if (rc == SQLITE_OK || rc == SQLITE_DONE || rc == SQLITE_ROW)
		return 0;
	(void)snprintf(store->detail, sizeof(store->detail), "%s (%d)", sqlite3_errmsg(store->db), rc);

	switch (rc & 0xff) { /* the primary code (sqlite.org/rescode.html) */
	case SQLITE_NOMEM:
		return -ENOMEM;
	case SQLITE_FULL:
		return STORE_FULL;
	case SQLITE_READONLY:
	case SQLITE_PERM:
		return STORE_READ_ONLY;
	case SQLITE_BUSY:
	case SQLITE_LOCKED:
		return STORE_BUSY;
	case SQLITE_CORRUPT:
	case SQLITE_NOTADB:
		return disk_failed(store->db) ? STORE_IO : STORE_DAMAGED;
	case SQLITE_IOERR:
	case SQLITE_CANTOPEN: /* SQLite folds several causes into one code; the system's errno tells them apart */
		if (rc == SQLITE_IOERR_NOMEM)
			return -ENOMEM;
		return store_outcome_of_errno(sqlite3_system_errno(store->db));
	case SQLITE_CONSTRAINT: /* an id that isn't there, or a value that the schema refuses */
	case SQLITE_MISMATCH:
	case SQLITE_TOOBIG:
		return -EINVAL;
	default: /* SQLite's codes, not ours: a bug of this module, or of a later SQLite */
		return STORE_IO;
	}
}

int stmt_use(struct store *store, enum stmt_slot slot, const char *sql, struct stmt *ret)
{
	sqlite3_stmt **st = &store->prepared[slot];
	int rc;

	if (!*st) {
		rc = sqlite3_prepare_v3(store->db, sql, -1, SQLITE_PREPARE_PERSISTENT, st, NULL);
		if (rc != SQLITE_OK)
			return stmt_outcome(store, rc);
	} else if (sqlite3_stmt_busy(*st)) {
		return -EBUSY;
	}
	*ret = (struct stmt){ .st = *st, .rc = SQLITE_OK };
	return 0;
}

void stmt_done(struct stmt *use)
{
	if (!use->st)
		return;
	(void)sqlite3_reset(use->st); /* repeats the error of the step, which was told */
	(void)sqlite3_clear_bindings(use->st);
	*use = (struct stmt){ 0 };
}

/* A statement that is wanted again is prepared again; one holds several kilobytes. */
void store_trim(struct store *store)
{
	for (size_t i = 0; i < STMT_SLOTS; i++) {
		if (!store->prepared[i] || sqlite3_stmt_busy(store->prepared[i]))
			continue;
		(void)sqlite3_finalize(store->prepared[i]); /* repeats the error of the last step */
		store->prepared[i] = NULL;
	}
}

static void bound(struct stmt *use, int rc)
{
	if (use->rc == SQLITE_OK)
		use->rc = rc;
}

void stmt_text(struct stmt *use, const char *text)
{
	use->n++;
	if (text && *text)
		bound(use, sqlite3_bind_text(use->st, use->n, text, -1, SQLITE_STATIC));
	else
		bound(use, sqlite3_bind_null(use->st, use->n));
}

void stmt_int(struct stmt *use, int64_t value)
{
	bound(use, sqlite3_bind_int64(use->st, ++use->n, value));
}

void stmt_real_if(struct stmt *use, bool has, double value)
{
	int rc = has ? sqlite3_bind_double(use->st, ++use->n, value) : sqlite3_bind_null(use->st, ++use->n);

	if (rc != SQLITE_OK && use->rc == SQLITE_OK)
		use->rc = rc;
}

void stmt_real(struct stmt *use, double value)
{
	stmt_real_if(use, true, value);
}

void stmt_int_if(struct stmt *use, bool has, int64_t value)
{
	use->n++;
	if (has)
		bound(use, sqlite3_bind_int64(use->st, use->n, value));
	else
		bound(use, sqlite3_bind_null(use->st, use->n));
}

void stmt_blob(struct stmt *use, const void *octets, size_t n)
{
	use->n++;
	if (n > 0)
		bound(use, sqlite3_bind_blob64(use->st, use->n, octets, n, SQLITE_STATIC));
	else /* a blob of no octets given by pointer would be NULL */
		bound(use, sqlite3_bind_zeroblob(use->st, use->n, 0));
}

int stmt_step(struct store *store, struct stmt *use, bool *ret_row)
{
	int rc = use->rc;

	if (rc == SQLITE_OK)
		rc = sqlite3_step(use->st);
	if (rc != SQLITE_ROW && rc != SQLITE_DONE)
		return stmt_outcome(store, rc);
	*ret_row = rc == SQLITE_ROW;
	return 0;
}

int stmt_run(struct store *store, struct stmt *use)
{
	bool row = true;
	int r = 0;

	while (r == 0 && row)
		r = stmt_step(store, use, &row);
	stmt_done(use);
	return r;
}

const char *stmt_column(struct stmt *use, int column)
{
	return (const char *)sqlite3_column_text(use->st, column);
}

int stmt_use_row(struct store *store, enum stmt_slot slot, const char *sql, const struct store_stamp *stamp,
		 char ret_id[UUID7_SIZE], struct stmt *ret)
{
	struct timespec now;
	int r;

	if (clock_gettime(CLOCK_REALTIME, &now) < 0)
		return -errno;
	r = uuid7_next(&store->clock, (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000, ret_id);
	if (r < 0)
		return r;
	r = stmt_use(store, slot, sql, ret);
	if (r != 0)
		return r;
	stmt_text(ret, ret_id);
	stmt_int(ret, stamp->at_ms);
	stmt_int(ret, stamp->offset_min);
	stmt_text(ret, stamp->peer);
	stmt_text(ret, stamp->said);
	return 0;
}

static int run(struct store *store, enum stmt_slot slot, const char *sql)
{
	struct stmt use = { 0 };
	int r = stmt_use(store, slot, sql, &use);

	return r != 0 ? r : stmt_run(store, &use);
}

/* Some failures roll back by themselves and some don't (sqlite.org/lang_transaction.html, 3); then it is on us. */
static int roll_back(struct store *store)
{
	if (sqlite3_get_autocommit(store->db))
		return 0;
	return run(store, STMT_ROLLBACK, "ROLLBACK");
}

int stmt_begin(struct store *store)
{
	int r = roll_back(store); /* nothing to do, unless the rollback of the last one failed too */

	if (r != 0)
		return r;
	/* IMMEDIATE: another program's lock shows here, before anything is done */
	return run(store, STMT_BEGIN, "BEGIN IMMEDIATE");
}

int stmt_end(struct store *store, int r)
{
	char detail[sizeof(store->detail)];

	if (r == 0) {
		r = run(store, STMT_COMMIT, "COMMIT");
		if (r == 0)
			return 0;
	}
	memcpy(detail, store->detail, sizeof(detail));
	(void)roll_back(store); /* r is what counts; stmt_begin tries again */
	memcpy(store->detail, detail, sizeof(detail));
	return r;
}

int stmt_begin_row(struct store *store, enum stmt_slot slot, const char *sql, const struct store_stamp *stamp,
		   char ret_id[UUID7_SIZE], struct stmt *ret)
{
	int r = stmt_begin(store);

	if (r != 0)
		return r;
	r = stmt_use_row(store, slot, sql, stamp, ret_id, ret);
	return r ? stmt_end(store, r) : 0;
}

int stmt_end_row(struct store *store, struct stmt *use, const char id[UUID7_SIZE], char *ret_id)
{
	int r = stmt_end(store, stmt_run(store, use));

	if (r == 0 && ret_id)
		memcpy(ret_id, id, UUID7_SIZE);
	return r;
}

int stmt_add_texts(struct store *store, enum stmt_slot slot, const char *sql, const struct store_stamp *stamp,
		   const char *const *texts, size_t n, char ret_id[UUID7_SIZE])
{
	struct stmt use = { 0 };
	int r = stmt_use_row(store, slot, sql, stamp, ret_id, &use);

	if (r != 0)
		return r;
	for (size_t i = 0; i < n; i++)
		stmt_text(&use, texts[i]);
	return stmt_run(store, &use);
}

int stmt_one_of_texts(struct store *store, enum stmt_slot slot, const char *sql, const struct store_stamp *stamp,
		      const char *const *texts, size_t n, char *ret_id)
{
	char id[UUID7_SIZE];
	int r = stmt_begin(store);

	if (r != 0)
		return r;
	r = stmt_end(store, stmt_add_texts(store, slot, sql, stamp, texts, n, id));
	if (r == 0 && ret_id)
		memcpy(ret_id, id, UUID7_SIZE);
	return r;
}
