// SPDX-License-Identifier: MIT
#include "contrib/merge/take.h"
#include "contrib/merge/into.h"
#include "contrib/merge/layout.h"
#include "contrib/merge/tell.h"
#include <assert.h>
#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define PATIENCE_MS 2000 /* for a lock; readers of a WAL database hardly ever meet one */

struct step {
	sqlite3 *db;
	const struct take_source *source;
	sqlite3_int64 b; /* the bridge's number */
	bool is_new;     /* it was never taken before */
	bool told;       /* what is wrong */
	int taken[32];   /* rows of each view that are new or changed */
};
/* SQLITE_ABORT for what we refuse, told; else what SQLite says. */

__attribute__((format(printf, 2, 3))) static int refuse(struct step *step, const char *format, ...)
{
	char text[768];
	va_list list;

	va_start(list, format);
	(void)vsnprintf(text, sizeof text, format, list);
	va_end(list);
	tell("%s (%s): %s Nothing of it was taken.", step->source->name, step->source->path, text);
	step->told = true;
	return SQLITE_ABORT;
}

/* A statement about one view: in format, {v} is its name, {k} its key, {c} its columns, {s} the column of its position.
 */
static char *fill(const char *format, const struct layout *row)
{
	sqlite3_str *text = sqlite3_str_new(NULL);

	for (; *format; format++) {
		if (*format != '{') {
			sqlite3_str_appendchar(text, 1, *format);
			continue;
		}
		switch (format[1]) {
		case 'v':
			sqlite3_str_appendall(text, row->view);
			break;
		case 'k':
			sqlite3_str_appendall(text, row->key);
			break;
		case 'c':
			sqlite3_str_appendall(text, row->columns);
			break;
		default:
			sqlite3_str_appendall(text, row->seq ? row->seq : row->key);
			break;
		}
		format += 2;
	}
	return sqlite3_str_finish(text);
}

struct value { /* of a parameter: text, or else a number */
	const char *text;
	sqlite3_int64 number;
};

/* Runs it with ?1 = the bridge's number and the rest of values; the first row's columns into rets. */
static int ask(struct step *step, const struct layout *row, const char *format, const struct value *values, size_t n,
	       struct value *ret, char ret_text[64])
{
	char *sql = fill(format, row);
	sqlite3_stmt *st = NULL;
	const char *text;
	int r = sql ? sqlite3_prepare_v2(step->db, sql, -1, &st, NULL) : SQLITE_NOMEM;

	if (r == SQLITE_OK && sqlite3_bind_parameter_count(st) > 0)
		r = sqlite3_bind_int64(st, 1, step->b);
	for (size_t i = 0; r == SQLITE_OK && i < n; i++)
		r = values[i].text ? sqlite3_bind_text(st, (int)i + 2, values[i].text, -1, SQLITE_STATIC)
				   : sqlite3_bind_int64(st, (int)i + 2, values[i].number);
	if (r == SQLITE_OK)
		r = sqlite3_step(st);
	if (ret)
		*ret = (struct value){ 0 };
	if (r == SQLITE_ROW && ret) {
		ret->number = sqlite3_column_int64(st, 0);
		if (ret_text && (text = (const char *)sqlite3_column_text(st, 1)) && strlen(text) < 64) {
			memcpy(ret_text, text, strlen(text) + 1);
			ret->text = ret_text;
		}
	}
	(void)sqlite3_finalize(st); /* repeats the error of the step */
	sqlite3_free(sql);
	return r == SQLITE_ROW || r == SQLITE_DONE ? SQLITE_OK : r;
}

/* ---- whose ledger it is ---- */

static int check_source(struct step *step)
{
	sqlite3_int64 id = 0, version = 0, mark = 0, seq = 0;
	int r = into_number(step->db, "PRAGMA src.application_id", NULL, &id);

	if (r == SQLITE_OK)
		r = into_number(step->db, "PRAGMA src.user_version", NULL, &version);
	if (r == SQLITE_OK)
		r = into_number(step->db, "SELECT count(*) FROM src.sqlite_schema WHERE name = ?1", LAYOUT_MARK, &mark);
	if (r == SQLITE_OK)
		r = into_number(
			step->db,
			"SELECT (SELECT count(*) FROM src.sqlite_schema WHERE name = 'weighing_log' AND type = 'view') "
			"AND "
			"(SELECT count(*) FROM src.sqlite_schema WHERE name = 'concern_log' AND sql LIKE '%entry_id%')",
			NULL, &seq);
	if (r != SQLITE_OK)
		return r;
	if (id != STORE_APPLICATION_ID)
		return refuse(step, "It is no database of bismard's.");
	if (mark)
		return refuse(step, "It is a merged file itself: name the ledgers that it was made of.");
	if (version > STORE_SCHEMA)
		return refuse(step,
			      "It was written by a newer bismard (schema %lld, this program knows %d): use its "
			      "bismar-merge.",
			      version, STORE_SCHEMA);
	if (!seq)
		return refuse(step,
			      "It is of an older bismard and lacks what readers go on from (the view weighing_log): "
			      "install this version's bismard there and start it once, it adds that; of a copy, start "
			      "`bismard --state` on a folder with the copy in it as " STORE_FILE ".");
	return SQLITE_OK;
}

/*
 * Whether what was taken under this name before is of this ledger: the first row of each log stays the first for ever.
 */
static int check_first(struct step *step, const struct layout *row)
{
	struct value other;
	int r = ask(
		step, row,
		"SELECT count(*) FROM src.{v} AS s WHERE s.seq = 1 AND ?1 IN (SELECT b FROM merged_{v} WHERE seq = 1) "
		"AND s.{k} NOT IN (SELECT {k} FROM merged_{v} WHERE b = ?1 AND seq = 1)",
		NULL, 0, &other, NULL);

	if (r == SQLITE_OK && other.number)
		return refuse(
			step,
			"It isn't the ledger that was taken under the name \"%s\" before: give it a name of its own, "
			"or take the other out first (--forget).",
			step->source->name);
	return r;
}

/* Whether rows of it are here under another name. from: of a LOG, rows after that position alone. */
static int check_others(struct step *step, const struct layout *row, const struct value *from)
{
	struct value found;
	char name[64];
	int r = ask(step, row,
		    from ? "SELECT count(*), (SELECT name FROM " LAYOUT_MARK " AS r WHERE r.b = m.b) FROM src.{v} AS s "
			   "JOIN merged_{v} AS m ON m.{k} = s.{k} WHERE m.b <> ?1 AND s.{s} > ?2"
			 : "SELECT count(*), (SELECT name FROM " LAYOUT_MARK " AS r WHERE r.b = m.b) FROM src.{v} AS s "
			   "JOIN merged_{v} AS m ON m.{k} = s.{k} WHERE m.b <> ?1",
		    from, from ? 1 : 0, &found, name);

	if (r == SQLITE_OK && found.number)
		return refuse(
			step,
			"%lld of its rows (%s) are here already, as \"%s\": it is the same ledger, or was begun with a "
			"copy of it. Name it so, or take that out first (--forget \"%s\").",
			found.number, row->view, found.text ? found.text : "?", found.text ? found.text : "?");
	return r;
}

/* ---- how far it was taken ---- */

struct position {
	struct value at; /* seq, or the id where there is no seq */
	char id[64];
	sqlite3_int64 n;
};

static int read_position(struct step *step, const struct layout *row, struct position *ret)
{
	struct value value;
	int r = ask(step, row, "SELECT seq, id FROM merged_position WHERE b = ?1 AND view = '{v}'", NULL, 0, &value,
		    ret->id);

	ret->at = (struct value){ .number = value.number };
	if (!value.text)
		ret->id[0] = '\0';
	if (!row->seq)
		ret->at = (struct value){ .text = ret->id };
	ret->n = 0;
	if (r == SQLITE_OK)
		r = ask(step, row, "SELECT n FROM merged_position WHERE b = ?1 AND view = '{v}'", NULL, 0, &value,
			NULL);
	if (r == SQLITE_OK)
		ret->n = value.number;
	return r;
}

/*
 * Whether the ledger still is what it was up to there: with seq, the same id stands there; without, that id is there,
 * and as many rows as then up to it (a clock that was set back gives later rows smaller ids).
 */
static int holds(struct step *step, const struct layout *row, const struct position *position, bool *ret)
{
	const struct value values[] = { { .text = position->id },
					{ .number = row->seq ? position->at.number : position->n } };
	struct value found = { 0 };
	int r = ask(step, row,
		    row->seq ? "SELECT ?1 AND EXISTS (SELECT 1 FROM src.{v} WHERE {k} = ?2 AND seq = ?3)"
			     : "SELECT ?1 AND EXISTS (SELECT 1 FROM src.{v} WHERE {k} = ?2) AND "
			       "(SELECT count(*) FROM src.{v} WHERE {k} <= ?2) = ?3",
		    values, 2, &found, NULL);

	*ret = found.number;
	return r;
}

/* Whether the newest row that it has of a log is here already, and isn't the newest that was taken. */
static int is_behind(struct step *step, const struct layout *row, const struct position *position, bool *ret_behind,
		     bool *ret_ahead)
{
	struct value newest, known = { 0 };
	char id[64] = "";
	int r = ask(step, row, "SELECT seq, {k} FROM src.{v} WHERE ?1 ORDER BY seq DESC LIMIT 1", NULL, 0, &newest, id);

	if (r == SQLITE_OK && newest.text)
		r = ask(step, row, "SELECT count(*) FROM merged_{v} WHERE b = ?1 AND {k} = ?2",
			(const struct value[]){ { .text = id } }, 1, &known, NULL);
	*ret_behind = newest.number < position->at.number && (!newest.text || known.number);
	*ret_ahead = newest.text && !known.number;
	return r;
}

/* An older copy of what is here has nothing new in its logs: what can change would only be set back by it. */
static int check_older(struct step *step)
{
	bool older = false, newer = false;
	int r = SQLITE_OK;

	for (size_t i = 0; r == SQLITE_OK && i < layout_n; i++) {
		struct position position;
		bool behind = false, ahead = false;
		if (layout[i].way != LAYOUT_LOG || !layout[i].seq)
			continue;
		r = read_position(step, &layout[i], &position);
		if (r == SQLITE_OK)
			r = is_behind(step, &layout[i], &position, &behind, &ahead);
		older = older || behind;
		newer = newer || ahead;
	}
	if (r == SQLITE_OK && older && !newer)
		return refuse(
			step,
			"It is an older copy of what was taken before, and has nothing new. If bismard goes on with "
			"it, put back from a backup: from its next weighing on it is taken again, and what was "
			"here stays.");
	return r;
}

/* ---- taking ---- */

static int take_log(struct step *step, const struct layout *row, int *ret_taken)
{
	struct position position;
	bool same = false;
	int r = read_position(step, row, &position);

	if (r == SQLITE_OK && row->seq)
		r = check_first(step, row);
	if (r == SQLITE_OK)
		r = holds(step, row, &position, &same);
	if (r == SQLITE_OK && !same)
		position.at = row->seq ? (struct value){ .number = 0 } : (struct value){ .text = "" };
	if (r == SQLITE_OK)
		r = check_others(step, row, &position.at);
	if (r == SQLITE_OK) /* in the order of the position: ids that rise make dense pages */
		r = ask(step, row,
			"INSERT INTO merged_{v} (b, {c}) SELECT ?1, {c} FROM src.{v} WHERE {s} > ?2 ORDER BY {s} "
			"ON CONFLICT ({k}) DO NOTHING",
			&position.at, 1, NULL, NULL);
	*ret_taken = sqlite3_changes(step->db); /* without the triggers' */
	if (r == SQLITE_OK)
		r = ask(step, row,
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
	int r = check_others(step, row, NULL);
	char *set = assignments(row->columns), *sql = NULL;

	if (r == SQLITE_OK && set)
		sql = sqlite3_mprintf(
			"INSERT INTO merged_{v} (b, {c}) SELECT ?1, {c} FROM (SELECT {c} FROM src.{v} EXCEPT "
			"SELECT {c} FROM merged_{v} WHERE b = ?1) WHERE true ORDER BY {k} "
			"ON CONFLICT ({k}) DO UPDATE SET %s",
			set);
	if (r == SQLITE_OK)
		r = sql ? ask(step, row, sql, NULL, 0, NULL, NULL) : SQLITE_NOMEM;
	*ret_taken = r == SQLITE_OK ? sqlite3_changes(step->db) : 0;
	sqlite3_free(sql);
	sqlite3_free(set);
	return r;
}

static int take_now(struct step *step, const struct layout *row)
{
	struct value differ;
	int r = ask(step, row,
		    "SELECT (SELECT count(*) FROM src.{v}) <> (SELECT count(*) FROM merged_{v} WHERE b = ?1) "
		    "OR EXISTS (SELECT {c} FROM src.{v} EXCEPT SELECT {c} FROM merged_{v} WHERE b = ?1)",
		    NULL, 0, &differ, NULL);

	if (r != SQLITE_OK || !differ.number)
		return r;
	r = ask(step, row, "DELETE FROM merged_{v} WHERE b = ?1", NULL, 0, NULL, NULL);
	if (r == SQLITE_OK)
		r = ask(step, row, "INSERT INTO merged_{v} (b, {c}) SELECT ?1, {c} FROM src.{v}", NULL, 0, NULL, NULL);
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
		r = ask(step, &layout[0], "UPDATE " LAYOUT_MARK " SET taken_at_ms = unixepoch() * 1000 WHERE b = ?1",
			NULL, 0, NULL, NULL);
	return r;
}

/* BEGIN IMMEDIATE reads both at once, and so sees the ledger at one moment. */
static int transaction(struct step *step)
{
	int r = into_run(step->db, "BEGIN IMMEDIATE");

	if (r == SQLITE_OK)
		r = check_source(step);
	if (r == SQLITE_OK)
		r = number(step);
	if (r == SQLITE_OK && !step->is_new)
		r = check_older(step);
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
