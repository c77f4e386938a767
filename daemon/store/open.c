// SPDX-License-Identifier: MIT
/*
 * Opening: what is there, may we, is it ours, is it whole. In this order, because SQLite would create, recover or
 * convert a file before anyone could look at it.
 */
#include "stmt.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

/*
 * Another program's lock holds up the whole daemon's loop, so the wait is short. What may rightly hold it for a
 * moment is a reader that opened for writing and checkpoints as it closes.
 */
#define BUSY_MS 500

#define FILE_MODE 0640 /* members of the group read */

static const char mark_text[] =
	"A bismar database was begun in this folder. When this file is here and " STORE_FILE " isn't, bismard\n"
	"won't start with an empty one: put a backup back. To begin anew, move this file away too.\n";

static int close_fd(int fd)
{
	if (fd >= 0)
		(void)close(fd); /* nothing that counts was written through it without fsync */
	return -1;
}

/* A new name is durable only when its directory is (fsync(2)). Not every file system can do that. */
static int sync_directory(int dir_fd)
{
	if (fsync(dir_fd) < 0 && errno != EINVAL)
		return store_outcome_of_errno(errno);
	return 0;
}

/* Opens the mark and locks it. An empty one is a lock and nothing else: no database was completed here yet. */
static int mark_take(int dir_fd, int *ret_fd, bool *ret_begun)
{
	int fd = openat(dir_fd, STORE_MARK, O_RDWR | O_CLOEXEC | O_NOCTTY), error;
	struct stat status;

	if (fd < 0 && errno == ENOENT) {
		fd = openat(dir_fd, STORE_MARK, O_RDWR | O_CREAT | O_CLOEXEC | O_NOCTTY, FILE_MODE);
		if (fd >= 0)
			(void)fchmod(fd, FILE_MODE); /* against a narrower umask; a lock works without */
	}
	if (fd < 0)
		return store_outcome_of_errno(errno);
	if (flock(fd, LOCK_EX | LOCK_NB) < 0 || fstat(fd, &status) < 0) {
		error = errno;
		close_fd(fd);
		return error == EWOULDBLOCK ? STORE_LOCKED : store_outcome_of_errno(error);
	}
	*ret_fd = fd;
	*ret_begun = status.st_size > 0;
	return 0;
}

static int mark_begun(int dir_fd, int mark_fd)
{
	size_t n = sizeof(mark_text) - 1;
	ssize_t r = pwrite(mark_fd, mark_text, n, 0);

	if (r < 0 || fsync(mark_fd) < 0)
		return store_outcome_of_errno(errno);
	if ((size_t)r < n) /* half the text marks as well, but says less */
		return STORE_FULL;
	return sync_directory(dir_fd);
}

static int size_of(int dir_fd, const char *name, int64_t *ret_size)
{
	struct stat status;

	if (fstatat(dir_fd, name, &status, 0) < 0) {
		if (errno != ENOENT)
			return store_outcome_of_errno(errno);
		*ret_size = 0;
		return 0;
	}
	*ret_size = status.st_size;
	return 0;
}

/* Tells a first start from a loss. A log without its database is a loss too: SQLite would delete it. */
static int look(int dir_fd, bool begun, bool *ret_new)
{
	int64_t size = 0, wal_size = 0;
	int r = size_of(dir_fd, STORE_FILE, &size);

	if (r == 0)
		r = size_of(dir_fd, STORE_FILE "-wal", &wal_size);
	if (r != 0)
		return r;
	if (size == 0 && (begun || wal_size > 0))
		return STORE_MISSING;
	*ret_new = size == 0;
	return 0;
}

/* -wal and -shm take the mode of the database (sqlite3's os_unix.c), which is why it is made here. */
static int create(int dir_fd)
{
	int fd = openat(dir_fd, STORE_FILE, O_RDWR | O_CREAT | O_CLOEXEC | O_NOCTTY, FILE_MODE), r = 0;

	if (fd < 0)
		return store_outcome_of_errno(errno);
	if (fchmod(fd, FILE_MODE) < 0)
		r = store_outcome_of_errno(errno);
	close_fd(fd);
	return r != 0 ? r : sync_directory(dir_fd);
}

static int pragma_int(struct store *store, const char *sql, int *ret)
{
	sqlite3_stmt *st = NULL;
	int rc = sqlite3_prepare_v2(store->db, sql, -1, &st, NULL);

	if (rc == SQLITE_OK)
		rc = sqlite3_step(st);
	if (rc == SQLITE_ROW)
		*ret = sqlite3_column_int(st, 0);
	rc = stmt_outcome(store, rc);
	(void)sqlite3_finalize(st);
	return rc;
}

/* Whose database is it, and of which schema? Only reads. An empty one is schema 0. */
static int recognise(struct store *store, bool begun, int *ret_version)
{
	int application = 0, version = 0, objects = 0, merged = 0;
	int r = pragma_int(store, "SELECT count(*) FROM sqlite_schema", &objects);

	if (r == 0)
		r = pragma_int(store, "SELECT count(*) FROM sqlite_schema WHERE name = '" STORE_MERGED_MARK "'", &merged);
	if (r == 0)
		r = pragma_int(store, "PRAGMA application_id", &application);
	if (r == 0)
		r = pragma_int(store, "PRAGMA user_version", &version);
	if (r != 0)
		return r;
	if (application != STORE_APPLICATION_ID && (application != 0 || objects > 0))
		return STORE_FOREIGN;
	if (merged)
		return STORE_MERGED;
	if (version > STORE_SCHEMA)
		return STORE_NEWER;
	if (objects == 0 && (begun || version != 0))
		return STORE_MISSING;
	if (objects > 0 && version < 1)
		return STORE_DAMAGED;
	*ret_version = version;
	return 0;
}

/*
 * cache_size: 128 KiB; a reading touches a dozen pages, the look at its litter afterwards each of them many times: with
 * half of it a reading costs three times as much in a ledger of a million (tests/bench/open). journal_size_limit:
 * a log that a long reader let grow shrinks again. synchronous FULL syncs the log at each commit (in WAL mode
 * NORMAL wouldn't). temp_store: no temporary files. recursive_triggers: a REPLACE fires the triggers that refuse it.
 */
static int settings(struct store *store)
{
	static const char sql[] =
		"PRAGMA synchronous = FULL; PRAGMA foreign_keys = ON; PRAGMA recursive_triggers = ON;"
		"PRAGMA trusted_schema = OFF; PRAGMA cell_size_check = ON; PRAGMA cache_size = -128;"
		"PRAGMA mmap_size = 0; PRAGMA temp_store = MEMORY; PRAGMA journal_size_limit = 4194304;";
	sqlite3_stmt *st = NULL;
	int persist = 1, rc = sqlite3_prepare_v2(store->db, "PRAGMA journal_mode = WAL", -1, &st, NULL), r;
	bool wal = false;

	if (rc == SQLITE_OK)
		rc = sqlite3_step(st);
	if (rc == SQLITE_ROW)
		wal = strcmp((const char *)sqlite3_column_text(st, 0), "wal") == 0;
	r = stmt_outcome(store, rc);
	(void)sqlite3_finalize(st);
	if (r == 0 && !wal) /* a file system without shared memory: a network's, for instance */
		r = STORE_IO;
	if (r == 0) /* else a reader that may not write the folder couldn't read once we are gone */
		r = stmt_outcome(store, sqlite3_file_control(store->db, "main", SQLITE_FCNTL_PERSIST_WAL, &persist));
	if (r == 0)
		r = stmt_outcome(store, sqlite3_exec(store->db, sql, NULL, NULL, NULL));
	return r;
}

/*
 * A start must be quick, so not every page is read: the newest row of each table, and the newest key. These lie at
 * the end of the file, where a copy or a disk that broke off is missing something. Readers can run quick_check.
 */
static int probe_table(struct store *store, const char *table)
{
	char sql[160];
	int r;

	(void)snprintf(sql, sizeof(sql), "SELECT * FROM %s ORDER BY seq DESC LIMIT 1", table);
	r = stmt_outcome(store, sqlite3_exec(store->db, sql, NULL, NULL, NULL));
	if (r != 0 || strcmp(table, "open_weighing") == 0) /* it has no key */
		return r;
	(void)snprintf(sql, sizeof(sql), "SELECT max(id) FROM %s", table);
	return stmt_outcome(store, sqlite3_exec(store->db, sql, NULL, NULL, NULL));
}

static int probe(struct store *store)
{
	static const char *const tables[] = {
		"scale",           "scale_end", "scale_container", "container", "container_tare",
		"container_check", "litter",    "litter_end",      "animal",    "animal_alias",
		"animal_end",      "frame",     "weighing",        "answer",    "open_weighing",
	};
	size_t i;
	int r = 0;

	for (i = 0; r == 0 && i < sizeof(tables) / sizeof(tables[0]); i++)
		r = probe_table(store, tables[i]);
	/* STORE_IO and STORE_FULL are what they are; a statement that can't be prepared is a table that is gone */
	return r == STORE_IO && (sqlite3_errcode(store->db) & 0xff) == SQLITE_ERROR ? STORE_DAMAGED : r;
}

static int open_database(struct store *store, const char *dir, bool begun)
{
	const int flags =
		SQLITE_OPEN_READWRITE | SQLITE_OPEN_NOMUTEX | SQLITE_OPEN_PRIVATECACHE | SQLITE_OPEN_EXRESCODE;
	char *path = NULL;
	bool writable;
	int version, r;

	if (asprintf(&path, "%s/%s", dir, STORE_FILE) < 0)
		return -ENOMEM;
	/* no pool of 120 KB beside the heap: memory that idles for years counts more than microseconds */
	(void)sqlite3_config(SQLITE_CONFIG_LOOKASIDE, 0, 0);
	(void)sqlite3_config(SQLITE_CONFIG_MEMSTATUS, 0); /* refused after the first use of SQLite: no matter */
	r = stmt_outcome(store, sqlite3_open_v2(path, &store->db, flags, NULL));
	writable = access(path, W_OK) == 0;
	free(path);
	if (r != 0)
		return r;
	(void)sqlite3_busy_timeout(store->db, BUSY_MS); /* can't fail for an open connection */
	(void)sqlite3_db_config(store->db, SQLITE_DBCONFIG_DEFENSIVE, 1, NULL);
	r = recognise(store, begun, &version);
	if (r == 0 && sqlite3_db_readonly(store->db, "main") == 1) /* SQLite opens for reading what it can't open for writing, whyever */
		r = writable ? STORE_IO : STORE_READ_ONLY;
	if (r == 0)
		r = settings(store);
	if (r == 0)
		r = migrations_run(store, version);
	if (r == 0)
		r = probe(store);
	return r;
}

static int open_in(int dir_fd, const char *dir, struct store *store)
{
	bool begun = false, new = false;
	int r = mark_take(dir_fd, &store->mark_fd, &begun);

	if (r == 0)
		r = look(dir_fd, begun, &new);
	if (r == 0 && new)
		r = create(dir_fd);
	if (r == 0)
		r = open_database(store, dir, begun);
	if (r == 0 && !begun)
		r = mark_begun(dir_fd, store->mark_fd);
	return r;
}

int store_open(const char *dir, struct store **ret)
{
	struct store *store;
	int dir_fd = open(dir, O_RDONLY | O_DIRECTORY | O_CLOEXEC), r;

	if (dir_fd < 0)
		return -errno;
	store = calloc(1, sizeof(*store));
	if (!store) {
		close_fd(dir_fd);
		return -ENOMEM;
	}
	store->mark_fd = -1;
	r = open_in(dir_fd, dir, store);
	close_fd(dir_fd);
	if (r != 0)
		store_close(store);
	else
		*ret = store;
	return r;
}

struct store *store_close(struct store *store)
{
	if (!store)
		return NULL;
	store_trim(store); /* all statements: none is in use */
	(void)sqlite3_close(store->db);                     /* SQLITE_OK: nothing is left that could keep it open */
	close_fd(store->mark_fd);                           /* and with it goes the lock */
	free(store);
	return NULL;
}
