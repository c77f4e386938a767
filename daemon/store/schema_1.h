// SPDX-License-Identifier: MIT
#pragma once
/*
 * Schema 1, as released: never edited, a change is a further step in migrations.c.
 *
 * Tables are the ledger: append-only, one row a change, written in the order of seq. Views are what readers get
 * (protocols/database.md). Masses are integer milligrams, times milliseconds since 1970 (UTC) with the offset of
 * local time in minutes east. Rows point at each other by id, not by seq, so that ledgers can be merged.
 */

#include "schema_row.h"

static const char schema_1_roster[] =
	"CREATE TABLE scale (\n" ROW
	"  address TEXT NOT NULL,\n"
	"  name TEXT NOT NULL\n"
	") STRICT;\n" APPEND_ONLY("scale")

	"CREATE TABLE scale_end (\n" ROW
	"  scale TEXT NOT NULL REFERENCES scale (id)\n"
	") STRICT;\n"
	"CREATE INDEX scale_end_scale ON scale_end (scale);\n" APPEND_ONLY("scale_end")

	"CREATE TABLE container (\n" ROW
	"  name TEXT NOT NULL\n"
	") STRICT;\n" APPEND_ONLY("container")

	/* container NULL: none stands on the scale, or the scale was zeroed with it */
	"CREATE TABLE scale_container (\n" ROW
	"  scale TEXT NOT NULL REFERENCES scale (id),\n"
	"  container TEXT REFERENCES container (id)\n"
	") STRICT;\n"
	"CREATE INDEX scale_container_scale ON scale_container (scale);\n"
	"CREATE INDEX scale_container_container ON scale_container (container);\n" APPEND_ONLY("scale_container")

	"CREATE TABLE litter (\n" ROW
	"  name TEXT NOT NULL,\n"
	"  dam TEXT,\n"
	"  born_ms INTEGER,\n"
	"  adult_mg INTEGER CHECK (adult_mg > 0)\n"
	") STRICT;\n"
	"CREATE INDEX litter_name ON litter (name);\n" APPEND_ONLY("litter")

	"CREATE TABLE litter_end (\n" ROW
	"  litter TEXT NOT NULL REFERENCES litter (id)\n"
	") STRICT;\n"
	"CREATE INDEX litter_end_litter ON litter_end (litter);\n" APPEND_ONLY("litter_end")

	"CREATE TABLE animal (\n" ROW
	"  name TEXT NOT NULL,\n"
	"  litter TEXT NOT NULL REFERENCES litter (id),\n"
	"  collar TEXT,\n"
	"  sex TEXT CHECK (sex IN ('f', 'm')),\n"
	"  birth_mg INTEGER CHECK (birth_mg > 0),\n"
	"  born_ms INTEGER\n"
	") STRICT;\n"
	"CREATE INDEX animal_litter ON animal (litter);\n"
	/* people ask by name: without these, each would look at every answer */
	"CREATE INDEX animal_name ON animal (name);\n" APPEND_ONLY("animal")

	"CREATE TABLE animal_alias (\n" ROW
	"  animal TEXT NOT NULL REFERENCES animal (id),\n"
	"  alias TEXT NOT NULL\n"
	") STRICT;\n"
	"CREATE INDEX animal_alias_animal ON animal_alias (animal);\n" APPEND_ONLY("animal_alias")

	"CREATE TABLE animal_end (\n" ROW
	"  animal TEXT NOT NULL REFERENCES animal (id),\n"
	"  why TEXT\n"
	") STRICT;\n"
	"CREATE INDEX animal_end_animal ON animal_end (animal);\n" APPEND_ONLY("animal_end");

static const char schema_1_weighing[] =
	/* mass_mg, step_mg, stamp_ms: as decoded when it came; bytes outrank them */
	"CREATE TABLE frame (\n" ROW
	"  scale TEXT NOT NULL REFERENCES scale (id),\n"
	"  received_ms INTEGER NOT NULL,\n"
	"  uuid TEXT NOT NULL,\n"
	"  bytes BLOB NOT NULL,\n"
	"  link INTEGER NOT NULL,\n"
	"  fate TEXT NOT NULL CHECK (fate IN ('used', 'repeat', 'refused')),\n"
	"  why TEXT,\n"
	"  mass_mg INTEGER,\n"
	"  step_mg INTEGER,\n"
	"  stamp_ms INTEGER\n"
	") STRICT;\n"
	"CREATE INDEX frame_received ON frame (received_ms);\n"
	"CREATE INDEX frame_result ON frame (scale) WHERE mass_mg IS NOT NULL AND fate <> 'refused';\n"
	APPEND_ONLY("frame")

	/* frame NULL: typed by a person, or not weighed at all */
	"CREATE TABLE container_tare (\n" ROW
	"  container TEXT NOT NULL REFERENCES container (id),\n"
	"  frame TEXT REFERENCES frame (id),\n"
	"  tared_ms INTEGER NOT NULL,\n"
	"  mass_mg INTEGER NOT NULL,\n"
	"  u_mg INTEGER NOT NULL CHECK (u_mg >= 0)\n"
	") STRICT;\n"
	"CREATE INDEX container_tare_container ON container_tare (container);\n" APPEND_ONLY("container_tare")

	/* tare: the one that the empty container was compared with */
	"CREATE TABLE container_check (\n" ROW
	"  container TEXT NOT NULL REFERENCES container (id),\n"
	"  tare TEXT REFERENCES container_tare (id),\n"
	"  frame TEXT NOT NULL REFERENCES frame (id),\n"
	"  seen_ms INTEGER NOT NULL,\n"
	"  gross_mg INTEGER NOT NULL,\n"
	"  u_mg INTEGER NOT NULL CHECK (u_mg >= 0),\n"
	"  drift_mg INTEGER NOT NULL,\n"
	"  drifted INTEGER NOT NULL CHECK (drifted IN (0, 1))\n"
	") STRICT;\n"
	"CREATE INDEX container_check_tare ON container_check (tare);\n"
	"CREATE INDEX container_check_clean ON container_check (tare) WHERE drifted = 0;\n"
	APPEND_ONLY("container_check")

	/* frame NULL: typed. user: the scale's own user index */
	"CREATE TABLE weighing (\n" ROW
	"  frame TEXT REFERENCES frame (id),\n"
	"  scale TEXT REFERENCES scale (id),\n"
	"  container TEXT REFERENCES container (id),\n"
	"  weighed_ms INTEGER NOT NULL,\n"
	"  origin TEXT NOT NULL CHECK (origin IN ('radio', 'stored', 'typed')),\n"
	"  state TEXT NOT NULL CHECK (state IN ('settled', 'restless')),\n"
	"  user INTEGER,\n"
	"  gross_mg INTEGER NOT NULL,\n"
	"  tare_mg INTEGER NOT NULL,\n"
	"  net_mg INTEGER NOT NULL CHECK (net_mg = gross_mg - tare_mg),\n"
	"  u_mg INTEGER NOT NULL CHECK (u_mg >= 0),\n"
	"  step_mg INTEGER NOT NULL CHECK (step_mg >= 0)\n"
	") STRICT;\n"
	/* people give the last characters of an id */
	"CREATE INDEX weighing_tail ON weighing (substr(id, -4));\n" APPEND_ONLY("weighing")

	/* weighed_ms: the weighing's, so that an animal's newest reading is one look into an index, and a day's a range */
	"CREATE TABLE answer (\n" ROW
	"  weighing TEXT NOT NULL REFERENCES weighing (id),\n"
	"  kind TEXT NOT NULL CHECK (kind IN ('answer', 'aside', 'correct', 'reopen')),\n"
	"  animal TEXT REFERENCES animal (id),\n"
	"  why TEXT,\n"
	"  fed TEXT CHECK (fed IN ('before', 'after')),\n"
	"  weighed_ms INTEGER NOT NULL,\n"
	"  CHECK ((kind IN ('answer', 'correct')) = (animal IS NOT NULL))\n"
	") STRICT;\n"
	"CREATE INDEX answer_weighing ON answer (weighing);\n"
	"CREATE INDEX answer_animal ON answer (animal, weighed_ms) WHERE animal IS NOT NULL;\n"
	"CREATE INDEX answer_weighed ON answer (weighed_ms) WHERE animal IS NOT NULL;\n"
	APPEND_ONLY("answer")

	/*
	 * No ledger, but an index of it: the seq of each weighing whose newest answer is none or 'reopen'. Kept by
	 * the triggers, so that `unanswered` needn't look at a million weighings to find three.
	 */
	"CREATE TABLE open_weighing (\n"
	"  seq INTEGER PRIMARY KEY REFERENCES weighing (seq)\n"
	") STRICT;\n"
	"CREATE TRIGGER weighing_opens AFTER INSERT ON weighing\n"
	"BEGIN INSERT INTO open_weighing (seq) VALUES (NEW.seq); END;\n"
	"CREATE TRIGGER answer_closes AFTER INSERT ON answer WHEN NEW.kind <> 'reopen'\n"
	"BEGIN DELETE FROM open_weighing WHERE seq = (SELECT seq FROM weighing WHERE id = NEW.weighing); END;\n"
	"CREATE TRIGGER answer_reopens AFTER INSERT ON answer WHEN NEW.kind = 'reopen'\n"
	"BEGIN INSERT OR IGNORE INTO open_weighing (seq) SELECT seq FROM weighing WHERE id = NEW.weighing; END;\n";

static const char schema_1_views[] =
	/* Inside only: the newest answer of each weighing that has one. */
	"CREATE VIEW answer_now AS\n"
	"SELECT * FROM answer AS given\n"
	"WHERE NOT EXISTS (SELECT 1 FROM answer AS later\n"
	"  WHERE later.weighing = given.weighing AND later.seq > given.seq);\n"

	"CREATE VIEW reading AS\n"
	"SELECT w.id AS reading_id, a.id AS animal_id, a.name AS animal, a.collar AS collar,\n"
	"  l.id AS litter_id, l.name AS litter, " RFC3339("n.weighed_ms") " AS at, n.weighed_ms AS at_ms,\n"
	"  w.net_mg / 1000.0 AS net_g, w.u_mg / 1000.0 AS u_g, w.gross_mg / 1000.0 AS gross_g,\n"
	"  w.tare_mg / 1000.0 AS tare_g, c.name AS container, s.name AS scale, w.origin AS origin,\n"
	"  w.state AS state, n.fed AS fed, n.at_ms AS answered_at_ms, coalesce(n.said, n.peer) AS answered_by,\n"
	"  w.offset_min AS offset_min, nullif(w.step_mg, 0) / 1000.0 AS step_g\n"
	"FROM answer_now AS n\n"
	"JOIN weighing AS w ON w.id = n.weighing\n"
	"JOIN animal AS a ON a.id = n.animal\n"
	"JOIN litter AS l ON l.id = a.litter\n"
	"LEFT JOIN container AS c ON c.id = w.container\n"
	"LEFT JOIN scale AS s ON s.id = w.scale;\n"

	"CREATE VIEW unanswered AS\n"
	"SELECT w.id AS weighing_id, " RFC3339("w.weighed_ms") " AS at, w.weighed_ms AS at_ms,\n"
	"  w.net_mg / 1000.0 AS net_g, w.u_mg / 1000.0 AS u_g, w.gross_mg / 1000.0 AS gross_g,\n"
	"  w.tare_mg / 1000.0 AS tare_g, c.name AS container, s.name AS scale, w.origin AS origin,\n"
	"  w.state AS state, w.offset_min AS offset_min, nullif(w.step_mg, 0) / 1000.0 AS step_g\n"
	"FROM open_weighing AS o\n"
	"JOIN weighing AS w ON w.seq = o.seq\n"
	"LEFT JOIN container AS c ON c.id = w.container\n"
	"LEFT JOIN scale AS s ON s.id = w.scale;\n"

	"CREATE VIEW animal_now AS\n"
	"SELECT a.id AS animal_id, a.name AS animal, a.collar AS collar, a.sex AS sex,\n"
	"  l.id AS litter_id, l.name AS litter, coalesce(a.born_ms, l.born_ms) AS born_at_ms,\n"
	"  a.birth_mg / 1000.0 AS birth_g, w.weighed_ms AS newest_at_ms, w.net_mg / 1000.0 AS newest_g,\n"
	"  NULL AS gain_g_per_day, NULL AS u_gain_g_per_day, NULL AS gain_pct_per_day, NULL AS verdict,\n"
	"  NULL AS tell_at_ms, w.u_mg / 1000.0 AS newest_u_g, w.id AS newest_reading_id\n"
	"FROM animal AS a\n"
	"JOIN litter AS l ON l.id = a.litter\n"
	"LEFT JOIN weighing AS w ON w.id = (\n"
	"  SELECT n.weighing FROM answer_now AS n WHERE n.animal = a.id\n"
	"  ORDER BY n.weighed_ms DESC, n.seq DESC LIMIT 1)\n"
	"WHERE NOT EXISTS (SELECT 1 FROM animal_end AS e WHERE e.animal = a.id)\n"
	"AND NOT EXISTS (SELECT 1 FROM litter_end AS e WHERE e.litter = l.id);\n"

	"CREATE VIEW litter_now AS\n"
	"SELECT l.id AS litter_id, l.name AS litter, l.dam AS dam, l.born_ms AS born_at_ms,\n"
	"  l.adult_mg / 1000.0 AS adult_g,\n"
	"  NOT EXISTS (SELECT 1 FROM litter_end AS e WHERE e.litter = l.id) AS open,\n"
	"  (SELECT count(*) FROM animal AS a WHERE a.litter = l.id\n"
	"    AND NOT EXISTS (SELECT 1 FROM animal_end AS e WHERE e.animal = a.id)) AS animals\n"
	"FROM litter AS l;\n"

	"CREATE VIEW scale_now AS\n"
	"SELECT s.id AS scale_id, s.address AS address, s.name AS name, c.id AS container_id,\n"
	"  c.name AS container, s.at_ms AS adopted_at_ms,\n"
	"  (SELECT f.received_ms FROM frame AS f WHERE f.scale = s.id AND f.mass_mg IS NOT NULL\n"
	"    AND f.fate <> 'refused' ORDER BY f.seq DESC LIMIT 1) AS newest_at_ms\n"
	"FROM scale AS s\n"
	"LEFT JOIN scale_container AS p\n"
	"  ON p.seq = (SELECT max(q.seq) FROM scale_container AS q WHERE q.scale = s.id)\n"
	"LEFT JOIN container AS c ON c.id = p.container\n"
	"WHERE NOT EXISTS (SELECT 1 FROM scale_end AS e WHERE e.scale = s.id);\n"

	"CREATE VIEW container_now AS\n"
	"SELECT c.id AS container_id, c.name AS container, t.mass_mg / 1000.0 AS tare_g,\n"
	"  t.u_mg / 1000.0 AS u_g, t.tared_ms AS tared_at_ms,\n"
	"  max(t.tared_ms, coalesce((SELECT k.seen_ms FROM container_check AS k\n"
	"    WHERE k.tare = t.id AND k.drifted = 0 ORDER BY k.seq DESC LIMIT 1), t.tared_ms)) AS checked_at_ms,\n"
	"  (SELECT k.drift_mg FROM container_check AS k WHERE k.tare = t.id\n"
	"    ORDER BY k.seq DESC LIMIT 1) / 1000.0 AS drift_g,\n"
	"  (SELECT s.name FROM scale_container AS p JOIN scale AS s ON s.id = p.scale\n"
	"    WHERE p.container = c.id\n"
	"    AND p.seq = (SELECT max(q.seq) FROM scale_container AS q WHERE q.scale = p.scale)\n"
	"    AND NOT EXISTS (SELECT 1 FROM scale_end AS e WHERE e.scale = s.id)\n"
	"    ORDER BY p.seq DESC LIMIT 1) AS scale\n"
	"FROM container AS c\n"
	"LEFT JOIN container_tare AS t\n"
	"  ON t.seq = (SELECT max(u.seq) FROM container_tare AS u WHERE u.container = c.id);\n"

	"CREATE VIEW frame_log AS\n"
	"SELECT f.id AS frame_id, s.name AS scale, f.received_ms AS received_at_ms, f.uuid AS uuid,\n"
	"  f.bytes AS bytes, f.fate AS fate, f.why AS why\n"
	"FROM frame AS f JOIN scale AS s ON s.id = f.scale;\n";

static const char *const schema_1[] = { schema_1_roster, schema_1_weighing, schema_1_views };
