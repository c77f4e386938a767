// SPDX-License-Identifier: MIT
#include "contrib/broker/ledger.h"
#include "daemon/ctl/database.h"
#include <errno.h>
#include <stdio.h>
#include <sys/stat.h>

/* The columns' names are the messages' members (MESSAGES.md). */
static const char *const rows_sql[LOG_KINDS] = {
	[LOG_READING] =
		"SELECT n.answer_id AS id, n.seq AS seq, n.weighing_id AS reading_id, n.kind AS kind,"
		" n.animal_id AS animal_id, n.animal AS animal,"
		" (SELECT collar FROM animal_log WHERE animal_id = n.animal_id) AS collar,"
		" n.litter_id AS litter_id, n.litter AS litter, w.at AS at, w.at_ms AS at_ms, w.offset_min AS "
		"offset_min,"
		" w.net_g AS net_g, w.u_g AS u_g, w.gross_g AS gross_g, w.tare_g AS tare_g, w.step_g AS step_g,"
		" w.container AS container, w.scale AS scale, w.origin AS origin, w.state AS state, n.fed AS fed,"
		" n.why AS why, n.at_ms AS answered_at_ms, n.answered_by AS answered_by"
		" FROM answer_log AS n JOIN weighing_log AS w ON w.weighing_id = n.weighing_id"
		" WHERE n.seq > ?1 ORDER BY n.seq LIMIT ?2",
	[LOG_CONCERN] = "SELECT entry_id AS id, seq, concern_id, animal_id, animal, litter_id, litter, at, at_ms,"
			" state, level, rule, text, source, since_ms"
			" FROM concern_log WHERE seq > ?1 ORDER BY seq LIMIT ?2",
};

static const char *const at_sql[LOG_KINDS] = {
	[LOG_READING] = "SELECT 1 FROM answer_log WHERE seq = ?1 AND answer_id = ?2",
	[LOG_CONCERN] = "SELECT 1 FROM concern_log WHERE seq = ?1 AND entry_id = ?2",
};

void ledger_init(struct ledger *ledger, const char *path)
{
	*ledger = (struct ledger){ .path = path };
}

void ledger_done(struct ledger *ledger)
{
	for (size_t i = 0; i < LOG_KINDS; i++) {
		(void)sqlite3_finalize(ledger->rows[i]); /* repeats the error of the last step */
		(void)sqlite3_finalize(ledger->at[i]);
		ledger->rows[i] = ledger->at[i] = NULL;
	}
	(void)sqlite3_finalize(ledger->version);
	ledger->version = NULL;
	database_close(ledger->db);
	ledger->db = NULL;
}

static bool prepare(struct ledger *ledger, const char *sql, sqlite3_stmt **ret)
{
	return sqlite3_prepare_v3(ledger->db, sql, -1, SQLITE_PREPARE_PERSISTENT, ret, NULL) == SQLITE_OK;
}

static bool version(struct ledger *ledger, int64_t *ret)
{
	bool fine = sqlite3_step(ledger->version) == SQLITE_ROW;

	if (fine)
		*ret = sqlite3_column_int64(ledger->version, 0);
	(void)sqlite3_reset(ledger->version); /* repeats the error of the step */
	return fine;
}

static enum ledger_look reopen(struct ledger *ledger, const struct stat *file, char say[LEDGER_SAY_SIZE])
{
	bool fine;

	ledger_done(ledger);
	if (database_open(ledger->path, &ledger->db, say, LEDGER_SAY_SIZE) < 0)
		return LEDGER_ABSENT;
	/* the rows come one after the other: more would only be held, not used */
	fine = sqlite3_exec(ledger->db, "PRAGMA cache_size = -256", NULL, NULL, NULL) == SQLITE_OK &&
	       prepare(ledger, "PRAGMA data_version", &ledger->version);
	for (size_t i = 0; fine && i < LOG_KINDS; i++)
		fine = prepare(ledger, rows_sql[i], &ledger->rows[i]) && prepare(ledger, at_sql[i], &ledger->at[i]);
	if (!fine || !version(ledger, &ledger->seen)) {
		(void)snprintf(say, LEDGER_SAY_SIZE,
			       "%s can't be read (%s): is it of an older bismard? Start bismard once, it brings it up "
			       "to date.",
			       ledger->path, sqlite3_errmsg(ledger->db));
		ledger_done(ledger);
		return LEDGER_ABSENT;
	}
	ledger->dev = file->st_dev;
	ledger->ino = file->st_ino;
	return LEDGER_OPENED;
}

enum ledger_look ledger_look(struct ledger *ledger, char say[LEDGER_SAY_SIZE])
{
	struct stat file = { 0 };
	int64_t now;

	if (stat(ledger->path, &file) < 0 || !ledger->db || file.st_dev != ledger->dev || file.st_ino != ledger->ino ||
	    !version(ledger, &now))
		return reopen(ledger, &file, say); /* where there is none, opening it tells */
	if (now == ledger->seen)
		return LEDGER_SAME;
	ledger->seen = now;
	return LEDGER_CHANGED;
}

int ledger_has(struct ledger *ledger, enum log_kind log, int64_t seq, const char *id)
{
	sqlite3_stmt *at = ledger->at[log];
	int r;

	if (!ledger->db)
		return -EIO;
	r = sqlite3_bind_int64(at, 1, seq);
	if (r == SQLITE_OK)
		r = sqlite3_bind_text(at, 2, id, -1, SQLITE_STATIC);
	if (r == SQLITE_OK)
		r = sqlite3_step(at);
	(void)sqlite3_reset(at); /* repeats the error of the step */
	(void)sqlite3_clear_bindings(at);
	if (r == SQLITE_ROW || r == SQLITE_DONE)
		return r == SQLITE_ROW;
	ledger_done(ledger);
	return -EIO;
}

int ledger_read(struct ledger *ledger, enum log_kind log, int64_t after, size_t n,
		bool (*each)(void *user, int64_t seq, const char *id, const json_t *row), void *user)
{
	sqlite3_stmt *rows = ledger->rows[log];
	int count = 0, r;
	bool more = true;

	if (!ledger->db)
		return -ENOTCONN;
	r = sqlite3_bind_int64(rows, 1, after);
	if (r == SQLITE_OK)
		r = sqlite3_bind_int64(rows, 2, (int64_t)n);
	while (r == SQLITE_OK || (r == SQLITE_ROW && more)) {
		json_t *row;
		r = sqlite3_step(rows);
		if (r != SQLITE_ROW)
			break;
		row = database_json(rows);
		if (!row)
			break; /* without memory now; it is read again */
		more = each(user, sqlite3_column_int64(rows, 1), (const char *)sqlite3_column_text(rows, 0), row);
		json_decref(row);
		count++;
	}
	(void)sqlite3_reset(rows); /* the read transaction ends with the batch */
	if (r == SQLITE_DONE || r == SQLITE_ROW)
		return count;
	ledger_done(ledger);
	return -EIO;
}
