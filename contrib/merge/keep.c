// SPDX-License-Identifier: MIT
#include "contrib/merge/keep.h"
#include "contrib/merge/keep_sql.h"
#include "daemon/log.h"
#include <errno.h>
#include <libpq-fe.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct keep {
	PGconn *db;
	bool told; /* that it is away */
};

int keep_new(struct keep **ret)
{
	*ret = calloc(1, sizeof **ret);
	return *ret ? 0 : -ENOMEM;
}

struct keep *keep_free(struct keep *keep)
{
	if (keep)
		PQfinish(keep->db); /* takes NULL */
	free(keep);
	return NULL;
}

bool keep_is_open(const struct keep *keep)
{
	return keep->db && PQstatus(keep->db) == CONNECTION_OK;
}

/* What the server or libpq says, in one line. */
static const char *words(const char *text, char buffer[512])
{
	char copy[240];
	size_t n = strcspn(text, "\n");

	(void)snprintf(copy, sizeof copy, "%.*s", (int)(n < sizeof copy ? n : sizeof copy - 1), text);
	return log_quote(copy, buffer, 512);
}

/* The session is of no use any more. text: why. */
static enum keep_outcome away(struct keep *keep, const char *text)
{
	char buffer[512];

	if (!keep->told)
		log_warning("PostgreSQL can't be used: %s; nothing is taken until it can", words(text, buffer));
	keep->told = true;
	PQfinish(keep->db);
	keep->db = NULL;
	return KEEP_AWAY;
}

/* Whether it is the values that the server won't have (PostgreSQL 15, appendix A): data, integrity, its limits.
 * Anything else, a full disk or a missing right, will pass. */
static bool is_about_values(const PGresult *result)
{
	const char *state = PQresultErrorField(result, PG_DIAG_SQLSTATE);

	return state && (strncmp(state, "22", 2) == 0 || strncmp(state, "23", 2) == 0 || strncmp(state, "54", 2) == 0);
}

/* A result that isn't what was hoped for. */
static enum keep_outcome trouble(struct keep *keep, const PGresult *result)
{
	if (PQstatus(keep->db) == CONNECTION_OK && is_about_values(result))
		return KEEP_REFUSED;
	return away(keep,
		    result && *PQresultErrorMessage(result) ? PQresultErrorMessage(result) : PQerrorMessage(keep->db));
}

static enum keep_outcome run(struct keep *keep, const char *sql)
{
	PGresult *result = PQexec(keep->db, sql);
	ExecStatusType status = PQresultStatus(result);
	enum keep_outcome outcome =
		status == PGRES_COMMAND_OK || status == PGRES_TUPLES_OK ? KEEP_DONE : trouble(keep, result);

	PQclear(result);
	return outcome;
}

/* One statement with text parameters; the result is the caller's when it is DONE and ret isn't NULL. */
static enum keep_outcome ask(struct keep *keep, const char *sql, const char *const *values, int n, PGresult **ret)
{
	PGresult *result = PQexecParams(keep->db, sql, n, NULL, values, NULL, NULL, 0);
	ExecStatusType status = PQresultStatus(result);
	enum keep_outcome outcome =
		status == PGRES_COMMAND_OK || status == PGRES_TUPLES_OK ? KEEP_DONE : trouble(keep, result);

	if (outcome == KEEP_DONE && ret)
		*ret = result;
	else
		PQclear(result);
	return outcome;
}

/* Whether the first column of the first row is true. */
static enum keep_outcome is_true(struct keep *keep, const char *sql, bool *ret)
{
	PGresult *result;
	enum keep_outcome outcome = ask(keep, sql, NULL, 0, &result);

	if (outcome != KEEP_DONE)
		return outcome;
	*ret = PQntuples(result) == 1 && strcmp(PQgetvalue(result, 0, 0), "t") == 0;
	PQclear(result);
	return KEEP_DONE;
}

static enum keep_outcome open_session(struct keep *keep)
{
	static const char *const names[] = { "application_name", "connect_timeout", NULL };
	static const char *const values[] = { "bismar-gather", "10", NULL };
	bool locked = false;
	enum keep_outcome outcome;

	if (keep_is_open(keep))
		return KEEP_DONE;
	PQfinish(keep->db);
	keep->db = PQconnectdbParams(names, values, 0);
	if (!keep_is_open(keep))
		return away(keep, keep->db ? PQerrorMessage(keep->db) : "no memory");
	outcome = run(keep, keep_session);
	if (outcome == KEEP_DONE)
		outcome = is_true(keep, keep_lock, &locked);
	if (outcome == KEEP_DONE && !locked)
		outcome = KEEP_BUSY;
	return outcome;
}

/* An outcome that isn't DONE leaves no session half open. */
static enum keep_outcome close_unless(struct keep *keep, enum keep_outcome outcome)
{
	if (outcome != KEEP_DONE) {
		PQfinish(keep->db);
		keep->db = NULL;
	} else if (keep->told) {
		log_info("PostgreSQL is there again");
		keep->told = false;
	}
	return outcome;
}

enum keep_outcome keep_open(struct keep *keep)
{
	bool there = false;
	enum keep_outcome outcome;

	if (keep_is_open(keep))
		return KEEP_DONE;
	outcome = open_session(keep);
	if (outcome == KEEP_DONE)
		outcome = is_true(keep, keep_there, &there);
	if (outcome == KEEP_DONE && !there)
		outcome = KEEP_ABSENT;
	return close_unless(keep, outcome);
}

enum keep_outcome keep_create_schema(struct keep *keep)
{
	enum keep_outcome outcome = open_session(keep);

	if (outcome == KEEP_DONE)
		outcome = run(keep, "BEGIN");
	if (outcome == KEEP_DONE)
		outcome = run(keep, keep_create);
	if (outcome == KEEP_DONE)
		outcome = run(keep, "COMMIT");
	return close_unless(keep, outcome);
}

/* ---- storing ---- */

/* Rows of one log, all or none: what is refused isn't told here. */
static enum keep_outcome store_rows(struct keep *keep, enum record_kind log, const json_t *rows, size_t *ret_new)
{
	char *text = json_dumps(rows, JSON_COMPACT);
	enum keep_outcome outcome = text ? KEEP_DONE : KEEP_REFUSED;
	PGresult *result;

	for (int i = 0; outcome == KEEP_DONE && i < KEEP_STEPS; i++) {
		outcome = ask(keep, keep_batch[log][i], (const char *const[]){ text }, 1, &result);
		if (outcome != KEEP_DONE)
			break;
		if (i == KEEP_STEP_ROWS)
			*ret_new += strtoul(PQcmdTuples(result), NULL, 10);
		PQclear(result);
	}
	free(text);
	return outcome;
}

/* A part of a transaction that the server may refuse, leaving the transaction as it was before. */
static enum keep_outcome part_begin(struct keep *keep)
{
	return run(keep, "SAVEPOINT part");
}

static enum keep_outcome part_end(struct keep *keep, enum keep_outcome outcome)
{
	if (outcome == KEEP_DONE)
		return run(keep, "RELEASE SAVEPOINT part");
	if (outcome == KEEP_REFUSED && run(keep, "ROLLBACK TO SAVEPOINT part") != KEEP_DONE)
		return KEEP_AWAY;
	return outcome;
}

static enum keep_outcome try_rows(struct keep *keep, enum record_kind log, const json_t *rows, size_t *ret_new)
{
	size_t new = 0;
	enum keep_outcome outcome = part_begin(keep);

	if (outcome == KEEP_DONE)
		outcome = part_end(keep, store_rows(keep, log, rows, &new));
	if (outcome == KEEP_DONE)
		*ret_new += new;
	return outcome;
}

static void tell_refused(const json_t *row)
{
	char name[4 * NAME_BRIDGE_BYTES + 8];

	log_warning("PostgreSQL won't have a message of %s, left out",
		    log_quote(json_string_value(json_object_get(row, "bridge")), name, sizeof name));
}

static enum keep_outcome store_log(struct keep *keep, enum record_kind log, const json_t *rows, size_t *ret_new,
				   size_t *ret_refused)
{
	enum keep_outcome outcome;
	json_t *one;

	if (json_array_size(rows) == 0)
		return KEEP_DONE;
	outcome = try_rows(keep, log, rows, ret_new);
	/* one among them that the server won't have mustn't keep out the rest */
	for (size_t i = 0; outcome == KEEP_REFUSED && i < json_array_size(rows); i++) {
		one = json_pack("[O]", json_array_get(rows, i));
		if (!one)
			return KEEP_REFUSED;
		switch (try_rows(keep, log, one, ret_new)) {
		case KEEP_DONE:
			break;
		case KEEP_REFUSED:
			tell_refused(json_array_get(rows, i));
			(*ret_refused)++;
			break;
		case KEEP_AWAY:
		case KEEP_BUSY:
		case KEEP_ABSENT:
			json_decref(one);
			return KEEP_AWAY;
		}
		json_decref(one);
	}
	return outcome == KEEP_AWAY ? KEEP_AWAY : KEEP_DONE;
}

static enum keep_outcome store_state(struct keep *keep, const json_t *row)
{
	static const char *const topics[RECORD_LOGS] = { "reading", "concern" };
	enum keep_outcome outcome = part_begin(keep);
	char head[RECORD_LOGS][24];

	if (outcome != KEEP_DONE)
		return outcome;
	for (int i = 0; outcome == KEEP_DONE && i < RECORD_LOGS; i++) {
		const json_t *value = json_object_get(row, topics[i]);
		(void)snprintf(head[i], sizeof head[i], "%lld", (long long)json_integer_value(value));
		outcome = ask(keep, keep_state,
			      (const char *const[]){ json_string_value(json_object_get(row, "bridge")), topics[i],
						     json_string_value(json_object_get(row, "state")),
						     value ? head[i] : NULL },
			      4, NULL);
	}
	outcome = part_end(keep, outcome);
	if (outcome == KEEP_REFUSED)
		tell_refused(row);
	return outcome == KEEP_REFUSED ? KEEP_DONE : outcome;
}

static enum keep_outcome store_counts(struct keep *keep, json_t *refused)
{
	enum keep_outcome outcome = KEEP_DONE;
	const char *bridge;
	char text[24];
	json_t *n;

	json_object_foreach (refused, bridge, n) {
		(void)snprintf(text, sizeof text, "%lld", (long long)json_integer_value(n));
		outcome = ask(keep, keep_refused, (const char *const[]){ bridge, text }, 2, NULL);
		if (outcome != KEEP_DONE)
			break;
	}
	return outcome;
}

enum keep_outcome keep_store(struct keep *keep, const struct keep_batch *batch, size_t *ret_new, size_t *ret_refused)
{
	size_t new = 0, refused = 0;
	enum keep_outcome outcome = keep_is_open(keep) ? run(keep, "BEGIN") : KEEP_AWAY;

	for (int i = 0; outcome == KEEP_DONE && i < RECORD_LOGS; i++)
		outcome = store_log(keep, (enum record_kind)i, batch->rows[i], &new, &refused);
	for (size_t i = 0; outcome == KEEP_DONE && i < json_array_size(batch->states); i++)
		outcome = store_state(keep, json_array_get(batch->states, i));
	if (outcome == KEEP_DONE)
		outcome = store_counts(keep, batch->refused);
	if (outcome == KEEP_DONE)
		outcome = run(keep, "COMMIT");
	if (outcome == KEEP_DONE) {
		*ret_new = new;
		*ret_refused = refused;
		return KEEP_DONE;
	}
	return keep->db ? away(keep, "it refuses what it took before") : KEEP_AWAY;
}

/* ---- what is missing ---- */

static void take_wishes(const PGresult *rows, keep_ask_fn *wish, void *user)
{
	/* the two topics of a bridge needn't be beside each other */
	for (int i = 0; i < PQntuples(rows); i++) {
		const char *bridge = PQgetvalue(rows, i, 0);
		int64_t from[RECORD_LOGS] = { 0 };
		bool before = false;
		for (int k = 0; k < PQntuples(rows) && !before; k++) {
			if (strcmp(PQgetvalue(rows, k, 0), bridge) != 0)
				continue;
			before = k < i;
			from[strcmp(PQgetvalue(rows, k, 1), "concern") == 0 ? RECORD_CONCERN : RECORD_READING] =
				strtoll(PQgetvalue(rows, k, 2), NULL, 10);
		}
		if (!before)
			wish(user, bridge, from);
	}
}

enum keep_outcome keep_check(struct keep *keep, int wait_s, int every_s, keep_ask_fn *wish, void *user)
{
	char wait[16], every[16];
	PGresult *rows;
	enum keep_outcome outcome = keep_is_open(keep) ? KEEP_DONE : KEEP_AWAY;

	(void)snprintf(wait, sizeof wait, "%d", wait_s);
	(void)snprintf(every, sizeof every, "%d", every_s);
	for (int i = 0; outcome == KEEP_DONE && i < RECORD_LOGS; i++)
		outcome = run(keep, keep_advance[i]);
	if (outcome == KEEP_DONE)
		outcome = run(keep, keep_mark);
	if (outcome == KEEP_DONE)
		outcome = ask(keep, keep_ask, (const char *const[]){ wait, every }, 2, &rows);
	if (outcome != KEEP_DONE)
		return outcome;
	take_wishes(rows, wish, user);
	PQclear(rows);
	return KEEP_DONE;
}

enum keep_outcome keep_each_missing(struct keep *keep, keep_missing_fn *missing, void *user)
{
	PGresult *rows;
	enum keep_outcome outcome = keep_is_open(keep) ? ask(keep, keep_missing, NULL, 0, &rows) : KEEP_AWAY;

	if (outcome != KEEP_DONE)
		return outcome;
	for (int i = 0; i < PQntuples(rows); i++)
		missing(user, PQgetvalue(rows, i, 0), PQgetvalue(rows, i, 1), strtoll(PQgetvalue(rows, i, 2), NULL, 10),
			strtoll(PQgetvalue(rows, i, 3), NULL, 10), strcmp(PQgetvalue(rows, i, 4), "here") == 0);
	PQclear(rows);
	return KEEP_DONE;
}
