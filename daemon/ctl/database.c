// SPDX-License-Identifier: MIT
#include "daemon/ctl/database.h"
#include "daemon/ctl/show.h"
#include "daemon/ctl/text.h"
#include <errno.h>
#include <unistd.h>

#define SCHEMA 1
#define APPLICATION_ID 0x4249534d /* "BISM" */
#define PATIENCE_MS 2000          /* for a lock; readers of a WAL database hardly ever meet one */

static int pragma(sqlite3 *db, const char *sql, int *ret)
{
	sqlite3_stmt *row = NULL;
	int r = sqlite3_prepare_v2(db, sql, -1, &row, NULL);

	if (r == SQLITE_OK)
		r = sqlite3_step(row);
	if (r == SQLITE_ROW)
		*ret = sqlite3_column_int(row, 0);
	(void)sqlite3_finalize(row); /* repeats the error of the step */
	return r == SQLITE_ROW ? SQLITE_OK : r;
}

/* What the operating system says about the file, before SQLite makes one word of it. */
static int reach(const char *path, char *buffer, size_t size)
{
	if (access(path, R_OK) == 0)
		return 0;
	switch (errno) {
	case ENOENT:
	case ENOTDIR:
		(void)snprintf(buffer, size,
			       "There is no database at %s: bismard makes it when it starts "
			       "(`systemctl start bismard`); or name it with --database.",
			       path);
		break;
	case EACCES:
		(void)snprintf(buffer, size,
			       "You may not read %s: join its group (`sudo usermod -aG bismar $USER`) "
			       "and log in again.",
			       path);
		break;
	default:
		(void)snprintf(buffer, size, "The database %s can't be read: %s.", path, strerror(errno));
		break;
	}
	return -1;
}

static void explain(const char *path, int r, const char *text, char *buffer, size_t size)
{
	switch (r & 0xff) {
	case SQLITE_NOTADB:
		(void)snprintf(buffer, size, "%s is no database of bismard's.", path);
		break;
	case SQLITE_BUSY:
	case SQLITE_LOCKED:
		(void)snprintf(buffer, size, "Another program has locked %s: try again.", path);
		break;
	case SQLITE_CORRUPT:
		(void)snprintf(buffer, size,
			       "The database %s is damaged: stop bismard, keep a copy of the file, and "
			       "restore a backup.",
			       path);
		break;
	case SQLITE_CANTOPEN:
	case SQLITE_READONLY:
		/* WAL: somebody has to be able to make or read the files beside it */
		(void)snprintf(buffer, size,
			       "The files beside %s (-wal, -shm) can't be used (%s): start bismard, or "
			       "ask as the user who owns them.",
			       path, text);
		break;
	default:
		(void)snprintf(buffer, size, "The database %s can't be read: %s.", path, text);
		break;
	}
}

/* Whose database it is. 0, or -1 and why not. */
static int check(sqlite3 *db, const char *path, char *buffer, size_t size)
{
	int id = 0, schema = 0;
	int r = pragma(db, "PRAGMA application_id", &id);

	if (r == SQLITE_OK)
		r = pragma(db, "PRAGMA user_version", &schema);
	if (r != SQLITE_OK) {
		explain(path, r, sqlite3_errmsg(db), buffer, size);
		return -1;
	}
	if (id != APPLICATION_ID) {
		(void)snprintf(buffer, size, "%s is no database of bismard's.", path);
		return -1;
	}
	if (schema > SCHEMA) {
		(void)snprintf(buffer, size,
			       "%s was written by a newer bismard (schema %d, this program knows %d): "
			       "use its bismar.",
			       path, schema, SCHEMA);
		return -1;
	}
	if (schema < SCHEMA) {
		(void)snprintf(buffer, size,
			       "%s is of an older bismard (schema %d): start bismard once, it brings "
			       "the file up to date.",
			       path, schema);
		return -1;
	}
	return 0;
}

int database_open(const char *path, sqlite3 **ret, char *buffer, size_t size)
{
	sqlite3 *db = NULL;
	int r;

	if (reach(path, buffer, size) < 0)
		return -1;
	r = sqlite3_open_v2(path, &db, SQLITE_OPEN_READONLY, NULL);
	if (r != SQLITE_OK) {
		explain(path, r, db ? sqlite3_errmsg(db) : sqlite3_errstr(r), buffer, size);
		database_close(db);
		return -1;
	}
	(void)sqlite3_busy_timeout(db, PATIENCE_MS); /* can't fail for an open database */
	if (check(db, path, buffer, size) < 0) {
		database_close(db);
		return -1;
	}
	*ret = db;
	return 0;
}

enum ctl_status database_for(const struct ctl *ctl, sqlite3 **ret)
{
	char text[512];

	if (database_open(ctl->database_path, ret, text, sizeof text) == 0)
		return CTL_DONE;
	ctl_error("%s", text);
	return CTL_ABSENT;
}

void database_close(sqlite3 *db)
{
	(void)sqlite3_close(db); /* fails for unfinished statements alone: our mistake, and the process ends */
}

sqlite3_stmt *database_ask(sqlite3 *db, const char *sql, const char *const *texts, size_t n)
{
	sqlite3_stmt *row = NULL;

	if (sqlite3_prepare_v2(db, sql, -1, &row, NULL) != SQLITE_OK)
		return NULL;
	for (size_t i = 0; i < n; i++) {
		if (sqlite3_bind_text(row, (int)i + 1, texts[i], -1, SQLITE_STATIC) == SQLITE_OK)
			continue;
		(void)sqlite3_finalize(row); /* it was never stepped */
		return NULL;
	}
	return row;
}

enum ctl_status database_trouble(const struct ctl *ctl, sqlite3 *db)
{
	char text[512];

	explain(ctl->database_path, sqlite3_errcode(db), sqlite3_errmsg(db), text, sizeof text);
	ctl_error("%s", text);
	return CTL_ABSENT;
}

int database_column(sqlite3_stmt *row, const char *name)
{
	for (int i = 0; i < sqlite3_column_count(row); i++)
		if (strcmp(sqlite3_column_name(row, i), name) == 0)
			return i;
	return -1;
}

static bool there(sqlite3_stmt *row, const char *name, int *ret_column)
{
	int column = database_column(row, name);

	if (column < 0 || sqlite3_column_type(row, column) == SQLITE_NULL)
		return false;
	*ret_column = column;
	return true;
}

const char *database_text(sqlite3_stmt *row, const char *name)
{
	const char *text;
	int column;

	if (!there(row, name, &column))
		return "";
	text = (const char *)sqlite3_column_text(row, column);
	return text ? text : "";
}

bool database_whole(sqlite3_stmt *row, const char *name, int64_t *ret)
{
	int column;

	if (!there(row, name, &column))
		return false;
	*ret = sqlite3_column_int64(row, column);
	return true;
}

bool database_mg(sqlite3_stmt *row, const char *name, int64_t *ret_mg)
{
	int column;

	if (!there(row, name, &column))
		return false;
	*ret_mg = show_mg(sqlite3_column_double(row, column));
	return true;
}

static json_t *value(sqlite3_stmt *row, int column)
{
	const char *text;
	json_t *string;

	switch (sqlite3_column_type(row, column)) {
	case SQLITE_NULL:
		return json_null();
	case SQLITE_INTEGER:
		return json_integer(sqlite3_column_int64(row, column));
	case SQLITE_FLOAT:
		return json_real(sqlite3_column_double(row, column));
	default:
		text = (const char *)sqlite3_column_text(row, column);
		if (!text)
			return NULL;
		string = json_stringn(text, (size_t)sqlite3_column_bytes(row, column));
		/* the daemon keeps UTF-8 alone; whatever got in otherwise is no reason to lose the row */
		return string ? string : json_string("\xef\xbf\xbd");
	}
}

json_t *database_json(sqlite3_stmt *row)
{
	json_t *object = json_object();

	for (int i = 0; object && i < sqlite3_column_count(row); i++) {
		if (json_object_set_new(object, sqlite3_column_name(row, i), value(row, i)) == 0)
			continue;
		json_decref(object);
		return NULL;
	}
	return object;
}
