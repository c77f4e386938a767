// SPDX-License-Identifier: MIT
#include "contrib/merge/into.h"
#include "contrib/merge/layout.h"
#include "contrib/merge/tell.h"
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <unistd.h>

#define PATIENCE_MS 10000 /* for a reader that opened it for writing */
#define FILE_MODE 0640    /* as a ledger: members of the group read */

int into_run(sqlite3 *db, const char *sql)
{
	return sqlite3_exec(db, sql, NULL, NULL, NULL);
}

int into_number(sqlite3 *db, const char *sql, const char *text, sqlite3_int64 *ret)
{
	sqlite3_stmt *row = NULL;
	int r = sqlite3_prepare_v2(db, sql, -1, &row, NULL);

	if (r == SQLITE_OK && text)
		r = sqlite3_bind_text(row, 1, text, -1, SQLITE_STATIC);
	if (r == SQLITE_OK)
		r = sqlite3_step(row);
	if (r == SQLITE_ROW || r == SQLITE_DONE) {
		*ret = r == SQLITE_ROW ? sqlite3_column_int64(row, 0) : 0;
		r = SQLITE_OK;
	}
	(void)sqlite3_finalize(row); /* repeats the error of the step */
	return r;
}

/* merged_VIEW for each row of layout[], and the plain view over those that need no more. */
static int make_table(sqlite3 *db, const struct layout *row)
{
	char *sql = sqlite3_mprintf("CREATE TABLE merged_%s (b INTEGER NOT NULL, %s%s%s%s);", row->view, row->columns,
				    row->key ? ", PRIMARY KEY (" : "", row->key ? row->key : "", row->key ? ")" : "");
	int r = sql ? into_run(db, sql) : SQLITE_NOMEM;

	sqlite3_free(sql);
	if (r != SQLITE_OK || row->way == LAYOUT_LOG)
		return r;
	sql = sqlite3_mprintf("CREATE INDEX merged_%s_b ON merged_%s (b);"
			      "CREATE VIEW %s AS SELECT %s, (SELECT name FROM " LAYOUT_MARK
			      " AS r WHERE r.b = m.b) AS bridge "
			      "FROM merged_%s AS m;",
			      row->view, row->view, row->view, row->columns, row->view);
	r = sql ? into_run(db, sql) : SQLITE_NOMEM;
	sqlite3_free(sql);
	return r;
}

/* One transaction: a kill leaves an empty file, which is begun again. */
static int make(sqlite3 *db)
{
	char sql[96];
	int r = into_run(db, "BEGIN IMMEDIATE");

	for (size_t i = 0; r == SQLITE_OK && i < layout_n; i++)
		r = make_table(db, &layout[i]);
	for (size_t i = 0; r == SQLITE_OK && i < layout_sql_n; i++)
		r = into_run(db, layout_sql[i]);
	(void)snprintf(sql, sizeof sql, "PRAGMA application_id = %d; PRAGMA user_version = %d", STORE_APPLICATION_ID,
		       STORE_SCHEMA);
	if (r == SQLITE_OK)
		r = into_run(db, sql);
	if (r == SQLITE_OK)
		r = into_run(db, "COMMIT");
	else
		(void)into_run(db, "ROLLBACK"); /* r tells why */
	return r;
}

static int unknown(const char *path, const char *what)
{
	tell("%s %s. Nothing was written to it: name another file to merge into.", path, what);
	return -1;
}

/* What is there: 1 nothing yet, 0 a merged file, -1 something else or unreadable (told). */
static int recognise(sqlite3 *db, const char *path)
{
	sqlite3_int64 objects = 0, mark = 0, id = 0;
	int r = into_number(db, "SELECT count(*) FROM sqlite_schema", NULL, &objects);

	if (r == SQLITE_OK)
		r = into_number(db, "SELECT count(*) FROM sqlite_schema WHERE name = ?1", LAYOUT_MARK, &mark);
	if (r == SQLITE_OK)
		r = into_number(db, "PRAGMA application_id", NULL, &id);
	if ((r & 0xff) == SQLITE_NOTADB)
		return unknown(path, "is no database");
	if (r != SQLITE_OK) {
		tell_sqlite(path, r, sqlite3_errmsg(db));
		return -1;
	}
	if (objects == 0 && id == 0)
		return 1;
	if (id != STORE_APPLICATION_ID)
		return unknown(path, "is another program's database");
	if (!mark)
		return unknown(path, "is a ledger of bismard's, which alone may write it");
	return 0;
}

/* A name that isn't there yet gets an empty file, with the mode that -wal and -shm then take over. The lock's fd, or
 * -1. */
static int lock_file(const char *path)
{
	int fd = open(path, O_RDWR | O_CREAT | O_CLOEXEC | O_NOCTTY, FILE_MODE);

	if (fd < 0) {
		tell("%s can't be written: %s.", path, strerror(errno));
		return -1;
	}
	if (flock(fd, LOCK_EX | LOCK_NB) == 0)
		return fd;
	tell("Another bismar-merge is writing %s: wait for its end, and run it again.", path);
	(void)close(fd); /* nothing was written through it */
	return -1;
}

static int open_database(const char *path, sqlite3 **ret)
{
	static const char settings[] =
		"PRAGMA synchronous = FULL; PRAGMA trusted_schema = OFF; PRAGMA cell_size_check = ON;"
		"PRAGMA temp_store = MEMORY; PRAGMA journal_size_limit = 4194304;";
	sqlite3 *db = NULL;
	int persist = 1, found, r;

	r = sqlite3_open_v2(path, &db, SQLITE_OPEN_READWRITE | SQLITE_OPEN_URI | SQLITE_OPEN_EXRESCODE, NULL);
	if (r == SQLITE_OK) {
		(void)sqlite3_busy_timeout(db, PATIENCE_MS); /* can't fail for an open connection */
		(void)sqlite3_db_config(db, SQLITE_DBCONFIG_DEFENSIVE, 1, NULL);
	}
	found = r == SQLITE_OK ? recognise(db, path) : 0;
	if (found < 0) {
		(void)sqlite3_close(db); /* nothing is left that could keep it open */
		return -1;
	}
	if (r == SQLITE_OK)
		r = into_run(db, "PRAGMA journal_mode = WAL");
	if (r == SQLITE_OK) /* else a reader that may not write the folder couldn't read once we are gone */
		r = sqlite3_file_control(db, "main", SQLITE_FCNTL_PERSIST_WAL, &persist);
	if (r == SQLITE_OK)
		r = into_run(db, settings);
	if (r == SQLITE_OK && found == 1)
		r = make(db);
	if (r != SQLITE_OK) {
		tell_sqlite(path, r, sqlite3_errstr(r));
		(void)sqlite3_close(db); /* the same */
		return -1;
	}
	*ret = db;
	return 0;
}

int into_open(const char *path, struct into *ret)
{
	ret->lock_fd = lock_file(path);
	if (ret->lock_fd < 0)
		return -1;
	if (open_database(path, &ret->db) == 0)
		return 0;
	(void)close(ret->lock_fd); /* nothing was written through it */
	return -1;
}

void into_close(struct into *into)
{
	/* a reader that is at it holds that up: then the next time */
	(void)sqlite3_wal_checkpoint_v2(into->db, "main", SQLITE_CHECKPOINT_TRUNCATE, NULL, NULL);
	(void)sqlite3_close(into->db); /* fails for unfinished statements alone: our mistake, and the process ends */
	(void)close(into->lock_fd);    /* nothing was written through it */
}

static int forget_rows(sqlite3 *db, const char *table, sqlite3_int64 b)
{
	char *sql = sqlite3_mprintf("DELETE FROM %s WHERE b = %lld", table, b);
	int r = sql ? into_run(db, sql) : SQLITE_NOMEM;

	sqlite3_free(sql);
	return r;
}

int into_forget(sqlite3 *db, const char *name)
{
	char table[64];
	sqlite3_int64 b = 0;
	int r = into_run(db, "BEGIN IMMEDIATE");

	if (r == SQLITE_OK)
		r = into_number(db, "SELECT b FROM " LAYOUT_MARK " WHERE name = ?1", name, &b);
	if (r == SQLITE_OK && b == 0) {
		(void)into_run(db, "ROLLBACK"); /* nothing was done */
		tell("No bridge \"%s\" is in it.", name);
		return -1;
	}
	for (size_t i = 0; r == SQLITE_OK && i < layout_n; i++) {
		(void)snprintf(table, sizeof table, "merged_%s", layout[i].view);
		r = forget_rows(db, table, b);
	}
	if (r == SQLITE_OK)
		r = into_run(db, "DELETE FROM merged_open WHERE weighing_id NOT IN (SELECT weighing_id FROM "
				 "merged_weighing_log)");
	if (r == SQLITE_OK)
		r = forget_rows(db, "merged_position", b);
	if (r == SQLITE_OK)
		r = forget_rows(db, LAYOUT_MARK, b);
	if (r == SQLITE_OK)
		r = into_run(db, "COMMIT");
	if (r == SQLITE_OK)
		return 0;
	tell("\"%s\" can't be taken out: %s. It is as it was.", name, sqlite3_errmsg(db));
	(void)into_run(db, "ROLLBACK");
	return -1;
}
