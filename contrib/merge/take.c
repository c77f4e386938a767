// SPDX-License-Identifier: MIT
#include "contrib/merge/take.h"
#include "contrib/merge/into.h"
#include "contrib/merge/step.h"
#include "contrib/merge/tell.h"
#include "contrib/merge/whose.h"
#include <assert.h>
#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define PATIENCE_MS 2000 /* for a lock; readers of a WAL database hardly ever meet one */

/*
 * Whether the ledger still is what it was up to there: with seq, the same id stands there; without, that id is there,
 * and as many rows as then up to it (a clock that was set back gives later rows smaller ids).
 */
static int holds(struct step *step, const struct layout *row, const struct step_position *position, bool *ret)
{
	const struct step_value values[] = { { .text = position->id },
					     { .number = row->seq ? position->at.number : position->n } };
	struct step_value found = { 0 };
	int r = step_ask(step, row,
			 row->seq ? "SELECT ?1 AND EXISTS (SELECT 1 FROM src.{v} WHERE {k} = ?2 AND seq = ?3)"
				  : "SELECT ?1 AND EXISTS (SELECT 1 FROM src.{v} WHERE {k} = ?2) AND "
				    "(SELECT count(*) FROM src.{v} WHERE {k} <= ?2) = ?3",
			 values, 2, &found, NULL);

	*ret = found.number;
	return r;
}

static int take_log(struct step *step, const struct layout *row, int *ret_taken)
{
	static const struct step_value none = { .number = 0 }, empty = { .text = "" };
	struct step_position position;
	bool same = false;
	int r = step_position(step, row, &position);

	if (r == SQLITE_OK && row->seq)
		r = whose_first(step, row);
	if (r == SQLITE_OK)
		r = holds(step, row, &position, &same);
	if (r == SQLITE_OK && !same)
		position.at = row->seq ? none : empty;
	if (r == SQLITE_OK)
		r = whose_others(step, row, &position.at);
	if (r == SQLITE_OK) /* in the order of the position: ids that rise make dense pages */
		r = step_ask(step, row,
			     "INSERT INTO merged_{v} (b, {c}) SELECT ?1, {c} FROM src.{v} WHERE {s} > ?2 ORDER BY {s} "
			     "ON CONFLICT ({k}) DO NOTHING",
			     &position.at, 1, NULL, NULL);
	*ret_taken = sqlite3_changes(step->db); /* without the triggers' */
	if (r == SQLITE_OK)
		r = step_ask(
			step, row,
			row->seq ? "INSERT INTO merged_position (b, view, seq, id, n) SELECT ?1, '{v}', seq, {k}, 0 "
				   "FROM src.{v} "
				   "WHERE true ORDER BY seq DESC LIMIT 1 "
				   "ON CONFLICT (b, view) DO UPDATE SET seq = excluded.seq, id = excluded.id, n = 0"
				 : "INSERT INTO merged_position (b, view, seq, id, n) SELECT ?1, '{v}', 0, max({k}), "
				   "count(*) "
				   "FROM src.{v} HAVING count(*) > 0 "
				   "ON CONFLICT (b, view) DO UPDATE SET id = excluded.id, n = excluded.n",
			NULL, 0, NULL, NULL);
	return r;
}

/* "a, b" to "a = excluded.a, b = excluded.b" */
static char *assignments(const char *columns)
{
	sqlite3_str *text = sqlite3_str_new(NULL);

	for (const char *at = columns; *at;) {
		int n = (int)strcspn(at, ",");
		sqlite3_str_appendf(text, "%s%.*s = excluded.%.*s", at == columns ? "" : ", ", n, at, n, at);
		at += n;
		at += strspn(at, ", ");
	}
	return sqlite3_str_finish(text);
}

/* Rows that are there as they are aren't written again. */
static int take_kept(struct step *step, const struct layout *row, int *ret_taken)
{
	int r = whose_others(step, row, NULL);
	char *set = assignments(row->columns), *sql = NULL;

	if (r == SQLITE_OK && set)
		sql = sqlite3_mprintf(
			"INSERT INTO merged_{v} (b, {c}) SELECT ?1, {c} FROM (SELECT {c} FROM src.{v} EXCEPT "
			"SELECT {c} FROM merged_{v} WHERE b = ?1) WHERE true ORDER BY {k} "
			"ON CONFLICT ({k}) DO UPDATE SET %s",
			set);
	if (r == SQLITE_OK)
		r = sql ? step_ask(step, row, sql, NULL, 0, NULL, NULL) : SQLITE_NOMEM;
	*ret_taken = r == SQLITE_OK ? sqlite3_changes(step->db) : 0;
	sqlite3_free(sql);
	sqlite3_free(set);
	return r;
}

static int take_now(struct step *step, const struct layout *row)
{
	struct step_value differ;
	int r = step_ask(step, row,
			 "SELECT (SELECT count(*) FROM src.{v}) <> (SELECT count(*) FROM merged_{v} WHERE b = ?1) "
			 "OR EXISTS (SELECT {c} FROM src.{v} EXCEPT SELECT {c} FROM merged_{v} WHERE b = ?1)",
			 NULL, 0, &differ, NULL);

	if (r != SQLITE_OK || !differ.number)
		return r;
	r = step_ask(step, row, "DELETE FROM merged_{v} WHERE b = ?1", NULL, 0, NULL, NULL);
	if (r == SQLITE_OK)
		r = step_ask(step, row, "INSERT INTO merged_{v} (b, {c}) SELECT ?1, {c} FROM src.{v}", NULL, 0, NULL,
			     NULL);
	return r;
}

static int take_all(struct step *step)
{
	int r = SQLITE_OK;

	for (size_t i = 0; r == SQLITE_OK && i < layout_n; i++) {
		switch (layout[i].way) {
		case LAYOUT_LOG:
			r = take_log(step, &layout[i], &step->taken[i]);
			break;
		case LAYOUT_KEPT:
			r = take_kept(step, &layout[i], &step->taken[i]);
			break;
		case LAYOUT_NOW:
			r = take_now(step, &layout[i]);
			break;
		}
	}
	return r;
}

/* The bridge's number; a new one for a new name. */
static int number(struct step *step)
{
	int r = into_number(step->db, "SELECT b FROM " LAYOUT_MARK " WHERE name = ?1", step->source->name, &step->b);

	step->is_new = step->b == 0;
	if (r == SQLITE_OK && step->is_new)
		r = into_number(step->db, "INSERT INTO " LAYOUT_MARK " (name) VALUES (?1) RETURNING b",
				step->source->name, &step->b);
	if (r == SQLITE_OK)
		r = step_ask(step, &layout[0],
			     "UPDATE " LAYOUT_MARK " SET taken_at_ms = unixepoch() * 1000 WHERE b = ?1", NULL, 0, NULL,
			     NULL);
	return r;
}

/* BEGIN IMMEDIATE reads both at once, and so sees the ledger at one moment. */
static int transaction(struct step *step)
{
	int r = into_run(step->db, "BEGIN IMMEDIATE");

	if (r == SQLITE_OK)
		r = whose_source(step);
	if (r == SQLITE_OK)
		r = number(step);
	if (r == SQLITE_OK && !step->is_new)
		r = whose_older(step);
	if (r == SQLITE_OK)
		r = take_all(step);
	if (r == SQLITE_OK)
		r = into_run(step->db, "COMMIT");
	if (r != SQLITE_OK && !step->told) {
		tell_sqlite(step->source->path, r, sqlite3_errmsg(step->db));
		step->told = true;
	}
	if (r != SQLITE_OK)
		(void)into_run(step->db, "ROLLBACK"); /* why is told; where SQLite did it itself there is none */
	return r;
}

/* A path as file: URI (sqlite.org/uri.html, 3.1): what isn't plain is percent-encoded. */
static char *uri(const char *path)
{
	sqlite3_str *text = sqlite3_str_new(NULL);

	sqlite3_str_appendall(text, path[0] == '/' ? "file:" : "file:./");
	for (const unsigned char *at = (const unsigned char *)path; *at; at++) {
		if ((*at >= 'a' && *at <= 'z') || (*at >= 'A' && *at <= 'Z') || (*at >= '0' && *at <= '9') ||
		    strchr("/._-", *at))
			sqlite3_str_appendchar(text, 1, (char)*at);
		else
			sqlite3_str_appendf(text, "%%%02X", *at);
	}
	sqlite3_str_appendall(text, "?mode=ro");
	return sqlite3_str_finish(text);
}

static void report(const struct step *step)
{
	bool any = false;

	(void)printf("%s:", step->source->name);
	for (size_t i = 0; i < layout_n; i++) {
		if (!layout[i].what || step->taken[i] == 0)
			continue;
		(void)printf("%s %d %s", any ? "," : "", step->taken[i], layout[i].what);
		any = true;
	}
	(void)puts(any ? "" : " nothing new");
}

int take(sqlite3 *db, const struct take_source *source, bool quiet)
{
	struct step step = { .db = db, .source = source };
	sqlite3_int64 ignored;
	struct stat status;
	char *at;
	int r;

	assert(layout_n <= sizeof step.taken / sizeof *step.taken);
	if (stat(source->path, &status) == 0 && !S_ISREG(status.st_mode)) {
		tell("%s (%s): it is no file. Name the database in it, bismar.db.", source->name, source->path);
		return -1;
	}
	if (access(source->path, R_OK) < 0) {
		tell("%s (%s): it can't be read: %s. Nothing of it was taken.", source->name, source->path,
		     strerror(errno));
		return -1;
	}
	at = uri(source->path);
	r = at ? into_number(db, "ATTACH ?1 AS src", at, &ignored) : SQLITE_NOMEM;
	sqlite3_free(at);
	if (r != SQLITE_OK) {
		tell_sqlite(source->path, r, sqlite3_errmsg(db));
		return -1;
	}
	(void)sqlite3_busy_timeout(db, PATIENCE_MS); /* can't fail for an open connection */
	r = transaction(&step);
	(void)into_run(db, "DETACH src"); /* read-only, and no statement is left */
	if (r == SQLITE_OK && !quiet)
		report(&step);
	return r == SQLITE_OK ? 0 : -1;
}
