// SPDX-License-Identifier: MIT
#include "contrib/merge/whose.h"
#include "contrib/merge/into.h"

int whose_source(struct step *step)
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
		return step_refuse(step, "It is no database of bismard's.");
	if (mark)
		return step_refuse(step, "It is a merged file itself: name the ledgers that it was made of.");
	if (version > STORE_SCHEMA)
		return step_refuse(step,
				   "It was written by a newer bismard (schema %lld, this program knows %d): use its "
				   "bismar-merge.",
				   version, STORE_SCHEMA);
	if (!seq)
		return step_refuse(
			step, "It is of an older bismard and lacks what readers go on from (the view weighing_log): "
			      "install this version's bismard there and start it once, it adds that; of a copy, start "
			      "`bismard --state` on a folder with the copy in it as " STORE_FILE ".");
	return SQLITE_OK;
}

/*
 * Whether what was taken under this name before is of this ledger: the first row of each log stays the first for ever.
 */
int whose_first(struct step *step, const struct layout *row)
{
	struct step_value other;
	int r = step_ask(
		step, row,
		"SELECT count(*) FROM src.{v} AS s WHERE s.seq = 1 AND ?1 IN (SELECT b FROM merged_{v} WHERE seq = 1) "
		"AND s.{k} NOT IN (SELECT {k} FROM merged_{v} WHERE b = ?1 AND seq = 1)",
		NULL, 0, &other, NULL);

	if (r == SQLITE_OK && other.number)
		return step_refuse(
			step,
			"It isn't the ledger that was taken under the name \"%s\" before: give it a name of its own, "
			"or take the other out first (--forget).",
			step->source->name);
	return r;
}

/* Whether rows of it are here under another name. from: of a LOG, rows after that position alone. */
int whose_others(struct step *step, const struct layout *row, const struct step_value *from)
{
	struct step_value found;
	char name[64];
	int r = step_ask(
		step, row,
		from ? "SELECT count(*), (SELECT name FROM " LAYOUT_MARK " AS r WHERE r.b = m.b) FROM src.{v} AS s "
		       "JOIN merged_{v} AS m ON m.{k} = s.{k} WHERE m.b <> ?1 AND s.{s} > ?2"
		     : "SELECT count(*), (SELECT name FROM " LAYOUT_MARK " AS r WHERE r.b = m.b) FROM src.{v} AS s "
		       "JOIN merged_{v} AS m ON m.{k} = s.{k} WHERE m.b <> ?1",
		from, from ? 1 : 0, &found, name);

	if (r == SQLITE_OK && found.number)
		return step_refuse(
			step,
			"%lld of its rows (%s) are here already, as \"%s\": it is the same ledger, or was begun with a "
			"copy of it. Name it so, or take that out first (--forget \"%s\").",
			found.number, row->view, found.text ? found.text : "?", found.text ? found.text : "?");
	return r;
}

/* Whether the newest row that it has of a log is here already, and isn't the newest that was taken. */
static int is_behind(struct step *step, const struct layout *row, const struct step_position *position,
		     bool *ret_behind, bool *ret_ahead)
{
	struct step_value newest, known = { 0 };
	char id[64] = "";
	int r = step_ask(step, row, "SELECT seq, {k} FROM src.{v} WHERE ?1 ORDER BY seq DESC LIMIT 1", NULL, 0, &newest,
			 id);

	if (r == SQLITE_OK && newest.text)
		r = step_ask(step, row, "SELECT count(*) FROM merged_{v} WHERE b = ?1 AND {k} = ?2",
			     (const struct step_value[]){ { .text = id } }, 1, &known, NULL);
	*ret_behind = newest.number < position->at.number && (!newest.text || known.number);
	*ret_ahead = newest.text && !known.number;
	return r;
}

/* An older copy of what is here has nothing new in its logs: what can change would only be set back by it. */
int whose_older(struct step *step)
{
	bool older = false, newer = false;
	int r = SQLITE_OK;

	for (size_t i = 0; r == SQLITE_OK && i < layout_n; i++) {
		struct step_position position;
		bool behind = false, ahead = false;
		if (layout[i].way != LAYOUT_LOG || !layout[i].seq)
			continue;
		r = step_position(step, &layout[i], &position);
		if (r == SQLITE_OK)
			r = is_behind(step, &layout[i], &position, &behind, &ahead);
		older = older || behind;
		newer = newer || ahead;
	}
	if (r == SQLITE_OK && older && !newer)
		return step_refuse(
			step,
			"It is an older copy of what was taken before, and has nothing new. If bismard goes on with "
			"it, put back from a backup: from its next weighing on it is taken again, and what was "
			"here stays.");
	return r;
}
