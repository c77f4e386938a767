// SPDX-License-Identifier: MIT
#include "contrib/merge/layout.h"
#include "daemon/store/schema_row.h"

/* Columns as protocols/database.md has them. `at`, names that stand in another view, and what is reckoned are left out
 * of the logs: the views below make them. */
const struct layout layout[] = {
	/* first what rows of the others point to: what is here of another bridge shows at once */
	{ "animal_log", LAYOUT_KEPT, "animal_id", NULL,
	  "animal_id, animal, collar, sex, litter_id, litter, born_at_ms, birth_g, noted_at_ms, gone_at_ms, gone_why, "
	  "noted_by",
	  "animals" },
	{ "litter_now", LAYOUT_KEPT, "litter_id", NULL, "litter_id, litter, dam, born_at_ms, adult_g, open, animals",
	  "litters" },
	{ "weighing_log", LAYOUT_LOG, "weighing_id", "seq",
	  "weighing_id, at_ms, net_g, u_g, gross_g, tare_g, container, scale, origin, state, offset_min, step_g, "
	  "noted_at_ms, seq",
	  "weighings" },
	{ "answer_log", LAYOUT_LOG, "answer_id", "seq",
	  "answer_id, weighing_id, weighed_at_ms, animal_id, at_ms, kind, why, fed, answered_by, seq", "answers" },
	{ "concern_log", LAYOUT_LOG, "entry_id", "seq",
	  "entry_id, concern_id, animal_id, litter_id, at_ms, state, level, rule, text, source, since_ms, seq",
	  "changes of concerns" },
	{ "frame_log", LAYOUT_LOG, "frame_id", NULL, "frame_id, scale, received_at_ms, uuid, bytes, fate, why",
	  "results" },
	{ "birth_log", LAYOUT_KEPT, "birth_id", NULL,
	  "birth_id, animal_id, animal, collar, litter_id, litter, at, at_ms, sex, birth_g, stillborn, points, "
	  "weighing_id, "
	  "noted_by",
	  "births" },
	{ "sign_log", LAYOUT_KEPT, "sign_id", NULL,
	  "sign_id, animal_id, animal, litter_id, litter, at, at_ms, sign, value, noted_by", "signs" },
	{ "feed_log", LAYOUT_KEPT, "feed_id", NULL,
	  "feed_id, animal_id, animal, litter_id, litter, at, at_ms, how, ml, taken_g, u_g, what, noted_by", "feeds" },
	{ "order_log", LAYOUT_KEPT, "order_id", NULL,
	  "order_id, animal_id, animal, litter_id, litter, at, at_ms, vet, what, kind, route, per, amount_ml, "
	  "most_24h_ml, "
	  "every_h, from_ms, until_ms, ended_at_ms, ended_why, noted_by",
	  "orders" },
	{ "dose_log", LAYOUT_KEPT, "dose_id", NULL,
	  "dose_id, order_id, animal_id, animal, litter_id, litter, at, at_ms, what, route, ml, mass_g, judged, words, "
	  "noted_by",
	  "doses" },
	{ "tare_log", LAYOUT_NOW, NULL, NULL,
	  "tare_id, container_id, container, kind, scale, at, at_ms, mass_g, u_g, drift_g, drifted", NULL },
	{ "animal_now", LAYOUT_NOW, NULL, NULL,
	  "animal_id, animal, collar, sex, litter_id, litter, born_at_ms, birth_g, newest_at_ms, newest_g, "
	  "gain_g_per_day, "
	  "u_gain_g_per_day, gain_pct_per_day, verdict, tell_at_ms, newest_u_g, newest_reading_id",
	  NULL },
	{ "concern_now", LAYOUT_NOW, NULL, NULL,
	  "concern_id, animal_id, animal, level, rule, text, source, since_ms, litter_id, litter", NULL },
	{ "round_now", LAYOUT_NOW, NULL, NULL, "round_id, litter_id, litter, begun_at_ms, fed", NULL },
	{ "scale_now", LAYOUT_NOW, NULL, NULL,
	  "scale_id, address, name, container_id, container, adopted_at_ms, newest_at_ms", NULL },
	{ "container_now", LAYOUT_NOW, NULL, NULL,
	  "container_id, container, tare_g, u_g, tared_at_ms, checked_at_ms, drift_g, scale", NULL },
};
const size_t layout_n = sizeof layout / sizeof *layout;

static const char tables[] =
	"CREATE TABLE " LAYOUT_MARK " (b INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE, taken_at_ms INTEGER);\n"
	/* seq and id: the newest that was taken; n: how many rows there were up to it */
	"CREATE TABLE merged_position (b INTEGER, view TEXT, seq INTEGER NOT NULL, id TEXT NOT NULL, n INTEGER NOT "
	"NULL,\n"
	"  PRIMARY KEY (b, view)) WITHOUT ROWID;\n"
	/* an index of the logs: weighings that nobody has answered, or whose newest answer is 'reopen' */
	"CREATE TABLE merged_open (weighing_id TEXT PRIMARY KEY) WITHOUT ROWID;\n";

/* Of two answers that have one seq, the ledger was put back from an older copy between them: the greater id counts. */
#define NEWER(a, b) "(" a ".seq, " a ".answer_id) > (" b ".seq, " b ".answer_id)"

static const char indexes[] =
	"CREATE INDEX merged_answer_weighing ON merged_answer_log (weighing_id, seq, answer_id, kind);\n"
	"CREATE INDEX merged_answer_animal ON merged_answer_log (animal_id, weighed_at_ms) WHERE animal_id IS NOT "
	"NULL;\n"
	"CREATE INDEX merged_answer_weighed ON merged_answer_log (weighed_at_ms) WHERE animal_id IS NOT NULL;\n"
	"CREATE INDEX merged_answer_seq ON merged_answer_log (b, seq);\n"
	"CREATE INDEX merged_weighing_seq ON merged_weighing_log (b, seq);\n"
	"CREATE INDEX merged_weighing_tail ON merged_weighing_log (substr(weighing_id, -4));\n"
	"CREATE INDEX merged_concern_seq ON merged_concern_log (b, seq);\n"
	"CREATE INDEX merged_frame_received ON merged_frame_log (received_at_ms);\n"
	"CREATE INDEX merged_animal_litter ON merged_animal_log (litter_id);\n"
	"CREATE INDEX merged_animal_name ON merged_animal_log (animal);\n"
	"CREATE INDEX merged_animal_litter_name ON merged_animal_log (litter);\n"
	"CREATE TRIGGER merged_weighing_opens AFTER INSERT ON merged_weighing_log\n"
	"WHEN coalesce((SELECT kind FROM merged_answer_log WHERE weighing_id = NEW.weighing_id\n"
	"  ORDER BY seq DESC, answer_id DESC LIMIT 1), 'reopen') = 'reopen'\n"
	"BEGIN INSERT OR IGNORE INTO merged_open (weighing_id) VALUES (NEW.weighing_id); END;\n"
	"CREATE TRIGGER merged_answer_opens AFTER INSERT ON merged_answer_log\n"
	"BEGIN DELETE FROM merged_open WHERE weighing_id = NEW.weighing_id;\n"
	"  INSERT INTO merged_open (weighing_id) SELECT w.weighing_id FROM merged_weighing_log AS w\n"
	"  WHERE w.weighing_id = NEW.weighing_id AND 'reopen' = (SELECT kind FROM merged_answer_log\n"
	"    WHERE weighing_id = NEW.weighing_id ORDER BY seq DESC, answer_id DESC LIMIT 1); END;\n";

static const char readings[] =
	"CREATE VIEW reading AS\n"
	"SELECT w.weighing_id AS reading_id, n.animal_id AS animal_id, a.animal AS animal, a.collar AS collar,\n"
	"  a.litter_id AS litter_id, a.litter AS litter, " RFC3339(
		"n.weighed_at_ms") " AS at, n.weighed_at_ms AS at_ms,\n"
				   "  w.net_g AS net_g, w.u_g AS u_g, w.gross_g AS gross_g, w.tare_g AS tare_g, "
				   "w.container AS container,\n"
				   "  w.scale AS scale, w.origin AS origin, w.state AS state, n.fed AS fed, n.at_ms AS "
				   "answered_at_ms,\n"
				   "  n.answered_by AS answered_by, w.offset_min AS offset_min, w.step_g AS step_g, "
				   "r.name AS bridge\n"
				   "FROM merged_answer_log AS n\n"
				   "JOIN merged_weighing_log AS w ON w.weighing_id = n.weighing_id\n"
				   "JOIN merged_animal_log AS a ON a.animal_id = n.animal_id\n"
				   "JOIN " LAYOUT_MARK " AS r ON r.b = n.b\n"
				   "WHERE n.animal_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM merged_answer_log AS "
				   "later\n"
				   "  WHERE later.weighing_id = n.weighing_id AND " NEWER(
					   "later",
					   "n") ");\n"

						"CREATE VIEW unanswered AS\n"
						"SELECT w.weighing_id AS weighing_id, " RFC3339(
							"w.at_ms") " AS at, w.at_ms AS at_ms, w.net_g AS net_g, w.u_g "
								   "AS u_g,\n"
								   "  w.gross_g AS gross_g, w.tare_g AS tare_g, "
								   "w.container AS container, w.scale AS scale, "
								   "w.origin AS origin,\n"
								   "  w.state AS state, w.offset_min AS offset_min, "
								   "w.step_g AS step_g, r.name AS bridge\n"
								   "FROM merged_open AS o JOIN merged_weighing_log AS "
								   "w ON w.weighing_id = o.weighing_id\n"
								   "JOIN " LAYOUT_MARK " AS r ON r.b = w.b;\n";

static const char logs[] =
	"CREATE VIEW weighing_log AS\n"
	"SELECT w.weighing_id AS weighing_id, " RFC3339(
		"w.at_ms") " AS at, w.at_ms AS at_ms, w.net_g AS net_g, w.u_g AS u_g,\n"
			   "  w.gross_g AS gross_g, w.tare_g AS tare_g, w.container AS container, w.scale AS scale, "
			   "w.origin AS origin,\n"
			   "  w.state AS state, w.offset_min AS offset_min, w.step_g AS step_g, w.noted_at_ms AS "
			   "noted_at_ms, w.seq AS seq,\n"
			   "  r.name AS bridge\n"
			   "FROM merged_weighing_log AS w JOIN " LAYOUT_MARK " AS r ON r.b = w.b;\n"

			   "CREATE VIEW answer_log AS\n"
			   "SELECT n.answer_id AS answer_id, n.weighing_id AS weighing_id, n.weighed_at_ms AS "
			   "weighed_at_ms,\n"
			   "  n.animal_id AS animal_id, a.animal AS animal, a.litter_id AS litter_id, a.litter AS "
			   "litter,\n"
			   "  " RFC3339(
				   "n.at_ms") " AS at, n.at_ms AS at_ms, n.kind AS kind, n.why AS why, n.fed AS fed,\n"
					      "  n.answered_by AS answered_by, NOT EXISTS (SELECT 1 FROM "
					      "merged_answer_log AS later\n"
					      "  WHERE later.weighing_id = n.weighing_id AND " NEWER(
						      "later",
						      "n") ") AS counts, n.seq AS seq, r.name AS bridge\n"
							   "FROM merged_answer_log AS n JOIN " LAYOUT_MARK
							   " AS r ON r.b = n.b\n"
							   "LEFT JOIN merged_animal_log AS a ON a.animal_id = "
							   "n.animal_id;\n"

							   "CREATE VIEW concern_log AS\n"
							   "SELECT c.concern_id AS concern_id, c.animal_id AS "
							   "animal_id, a.animal AS animal, c.litter_id AS litter_id,\n"
							   "  l.litter AS litter, " RFC3339(
								   "c.at_ms") " AS at, c.at_ms AS at_ms, c.state AS "
									      "state, c.level AS level,\n"
									      "  c.rule AS rule, c.text AS text, "
									      "c.source AS source, c.since_ms AS "
									      "since_ms, c.entry_id AS entry_id, c.seq "
									      "AS seq,\n"
									      "  r.name AS bridge\n"
									      "FROM merged_concern_log AS c "
									      "JOIN " LAYOUT_MARK " AS r ON r.b = c.b\n"
									      "LEFT JOIN merged_litter_now AS l ON "
									      "l.litter_id = c.litter_id\n"
									      "LEFT JOIN merged_animal_log AS a ON "
									      "a.animal_id = c.animal_id;\n"

									      "CREATE VIEW frame_log AS\n"
									      "SELECT f.frame_id AS frame_id, f.scale "
									      "AS scale, f.received_at_ms AS "
									      "received_at_ms, f.uuid AS uuid, f.bytes "
									      "AS bytes,\n"
									      "  f.fate AS fate, f.why AS why, r.name "
									      "AS bridge\n"
									      "FROM merged_frame_log AS f "
									      "JOIN " LAYOUT_MARK
									      " AS r ON r.b = f.b;\n";

const char *const layout_sql[] = { tables, indexes, readings, logs };
const size_t layout_sql_n = sizeof layout_sql / sizeof *layout_sql;
