// SPDX-License-Identifier: MIT
/*
 * Weight events as the International Committee for Animal Recording has them: icarWeightEventResource of the Animal
 * Data Exchange standard (JSON schemas, branch ADE-1). Required are resourceType and animal, of meta source and
 * modified; masses are in grams (GRM of UN/CEFACT recommendation 20), times in UTC with Z.
 *
 * What a standard's field can't hold goes into `remark`, for people. What isn't known is left out: the time off feed,
 * the scale's maker, and of a typed mass method and resolution, for nobody said what it was weighed with. (A reader
 * that knows the schemas takes LoadCell where no method stands; the remark tells that it was typed.)
 *
 * An event keeps its id. Corrected, it comes with a later meta.modified; taken back or set aside, with meta.isDeleted
 * and without its mass, so that whoever imported it before can take it back too.
 */
#include "daemon/ctl/export.h"
#include "daemon/ctl/field.h"
#include "daemon/weigh/quantity.h"
#include <ctype.h>

struct writer {
	FILE *to;
	const struct export_ask *ask;
	size_t n; /* events so far */
};

bool export_is_source(const char *text)
{
	size_t label = 0, labels = 0;

	for (const char *at = text;; at++) {
		if (isalnum((unsigned char)*at) || (*at == '-' && label > 0)) {
			label++;
			continue;
		}
		if (label == 0 || at[-1] == '-')
			return false;
		labels++;
		label = 0;
		if (!*at)
			return labels >= 2 && at - text <= 64;
		if (*at != '.')
			return false;
	}
}

/* Puts a new reference (NULL: no memory) at key. */
static bool put(json_t *object, const char *key, json_t *value)
{
	return json_object_set_new(object, key, value) == 0;
}

static bool put_text(json_t *object, const char *key, const char *text)
{
	return !*text || put(object, key, json_string(text));
}

/* An identifier: `scheme` is the source and one word more. */
static json_t *identifier(const struct writer *writer, const char *of, const char *id)
{
	return json_pack("{s:s++, s:s}", "scheme", writer->ask->source, ".", of, "id", id);
}

static json_t *meta(const struct writer *writer, sqlite3_stmt *row, bool deleted)
{
	char modified[QUANTITY_RFC3339_SIZE];
	int64_t at_ms = 0;

	(void)database_whole(row, "answered_at_ms", &at_ms);
	quantity_rfc3339_utc(modified, at_ms);
	return json_pack("{s:s, s:s, s:s, s:b}", "source", writer->ask->source, "sourceId",
			 database_text(row, "reading_id"), "modified", modified, "isDeleted", deleted);
}

/* What it is and whose, as every event has it. */
static json_t *event_of(const struct writer *writer, sqlite3_stmt *row, bool deleted)
{
	json_t *event = json_object();
	char group[256];
	int64_t at_ms = 0;
	char at[QUANTITY_RFC3339_SIZE];

	(void)database_whole(row, "at_ms", &at_ms);
	quantity_rfc3339_utc(at, at_ms);
	/* two litters may have had one name */
	(void)snprintf(group, sizeof group, "%s %s", database_text(row, "litter"), database_text(row, "litter_id"));
	if (event && put(event, "resourceType", json_string("icarWeightEventResource")) &&
	    put(event, "id", json_string(database_text(row, "reading_id"))) &&
	    put(event, "meta", meta(writer, row, deleted)) && put(event, "eventDateTime", json_string(at)) &&
	    put(event, "animal", identifier(writer, "animal", database_text(row, "animal_id"))) &&
	    put(event, "contemporaryGroup", json_string(group)))
		return event;
	json_decref(event);
	return NULL;
}

static double number(sqlite3_stmt *row, const char *name)
{
	return sqlite3_column_double(row, database_column(row, name));
}

static bool is_null(sqlite3_stmt *row, const char *name)
{
	return sqlite3_column_type(row, database_column(row, name)) == SQLITE_NULL;
}

static json_t *weight(sqlite3_stmt *row, bool typed)
{
	json_t *ret = json_pack("{s:f, s:s}", "measurement", number(row, "net_g"), "units", "GRM");

	if (!ret)
		return NULL;
	if ((typed || put(ret, "method", json_string("LoadCell"))) &&
	    (typed || is_null(row, "step_g") || put(ret, "resolution", json_real(number(row, "step_g")))))
		return ret;
	json_decref(ret);
	return NULL;
}

static bool put_remark(json_t *event, sqlite3_stmt *row, bool typed)
{
	const char *collar = database_text(row, "collar"), *fed = database_text(row, "fed");
	char *text;
	bool ok;

	if (asprintf(&text, "%s%s%s%s, standard uncertainty %.3g g%s%s%s%s", database_text(row, "animal"),
		     *collar ? " (" : "", collar, *collar ? ")" : "", number(row, "u_g"),
		     typed ? ", typed by hand" : "",
		     strcmp(database_text(row, "state"), "restless") == 0 ? ", it moved on the scale" : "",
		     *fed ? ", weighed " : "",
		     *fed == 'b' ? "before a feed"
		     : *fed      ? "after a feed"
				 : "") < 0)
		return false;
	ok = put(event, "remark", json_string(text));
	free(text);
	return ok;
}

static json_t *reading_event(const struct writer *writer, sqlite3_stmt *row)
{
	bool typed = strcmp(database_text(row, "origin"), "typed") == 0;
	const char *scale = database_text(row, "scale");
	json_t *event = event_of(writer, row, false);

	if (event && put(event, "weight", weight(row, typed)) && put_remark(event, row, typed) &&
	    (!typed || put_text(event, "responsible", database_text(row, "answered_by"))) &&
	    (!*scale || put(event, "device", json_pack("{s:o}", "identifier", identifier(writer, "scale", scale)))))
		return event;
	json_decref(event);
	return NULL;
}

static json_t *deleted_event(const struct writer *writer, sqlite3_stmt *row)
{
	json_t *event = event_of(writer, row, true);

	if (event && put_text(event, "remark", database_text(row, "remark")))
		return event;
	json_decref(event);
	return NULL;
}

/* Writes each row's event. */
static int each(struct writer *writer, sqlite3_stmt *row, json_t *(*make)(const struct writer *, sqlite3_stmt *))
{
	int r = SQLITE_ERROR;

	while (row && (r = sqlite3_step(row)) == SQLITE_ROW && !ferror(writer->to)) {
		json_t *event = make(writer, row);
		if (!event) {
			r = SQLITE_NOMEM;
			break;
		}
		if (!writer->ask->lines)
			(void)fputs(writer->n ? ",\n" : "\n", writer->to);
		field_write(writer->to, event);
		if (writer->ask->lines)
			(void)fputc('\n', writer->to);
		json_decref(event);
		writer->n++;
	}
	(void)sqlite3_finalize(row); /* repeats the error of the step */
	return r == SQLITE_DONE || r == SQLITE_ROW ? 0 : r;
}

/* Weighings that were some animal's and are nobody's now, as the last animal's. Few: most are corrected instead. */
static sqlite3_stmt *taken_back(sqlite3 *db, const struct export_ask *ask)
{
	return database_ask(
		db,
		"SELECT n.weighing_id AS reading_id, n.weighed_at_ms AS at_ms, n.at_ms AS answered_at_ms,"
		" w.animal_id AS animal_id, w.litter AS litter, w.litter_id AS litter_id,"
		" w.animal || CASE n.kind WHEN 'aside' THEN ', set aside' || coalesce(': ' || n.why, '')"
		" ELSE ', the answer was taken back' END AS remark"
		" FROM answer_log AS n JOIN answer_log AS w ON w.weighing_id = n.weighing_id AND w.seq ="
		" (SELECT max(e.seq) FROM answer_log AS e WHERE e.weighing_id = n.weighing_id AND e.animal_id IS NOT NULL)"
		" WHERE n.kind IN ('aside', 'reopen') AND n.counts = 1"
		" AND (?1 IS NULL OR w.litter = ?1 COLLATE NOCASE OR w.litter_id = ?1) AND n.weighed_at_ms >= CAST(?2 "
		"AS INTEGER)"
		" ORDER BY n.weighed_at_ms, n.weighing_id",
		(const char *const[2]){ ask->litter, ask->since }, 2);
}

int export_icar(FILE *to, sqlite3 *db, const struct export_ask *ask)
{
	struct writer writer = { .to = to, .ask = ask };
	int r;

	/* both from one state of the ledger: else an event could be in neither or in both */
	r = sqlite3_exec(db, "BEGIN", NULL, NULL, NULL);
	if (r != SQLITE_OK)
		return r;
	if (!ask->lines)
		(void)fputc('[', to);
	r = each(&writer, export_readings(db, ask), reading_event);
	if (r == 0)
		r = each(&writer, taken_back(db, ask), deleted_event);
	if (!ask->lines)
		(void)fputs("\n]\n", to);
	if (r == 0)
		(void)sqlite3_exec(db, "COMMIT", NULL, NULL, NULL); /* nothing was written; it only lets go */
	return r;
}
