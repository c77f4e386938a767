// SPDX-License-Identifier: MIT
#pragma once
/*
 * What was added to schema 1 since, in order; a released one is never edited. Additions take nothing away from a
 * reader, so the schema's number stays (protocols/database.md), and an older bismard can go on with such a database.
 * The table `addition` has a row for each that is in it.
 */
#include "schema_row.h"

static const char addition_1[] =
	"CREATE TABLE addition (\n" ROW
	"  what TEXT NOT NULL\n"
	") STRICT;\n" APPEND_ONLY("addition")

	/* The index and consent code for a scale with several users (User Data Service). user NULL: none any more */
	"CREATE TABLE scale_consent (\n" ROW
	"  scale TEXT NOT NULL REFERENCES scale (id),\n"
	"  user INTEGER CHECK (user BETWEEN 0 AND 254),\n"
	"  code INTEGER CHECK (code BETWEEN 0 AND 9999),\n"
	"  CHECK ((user IS NULL) = (code IS NULL))\n"
	") STRICT;\n"
	"CREATE INDEX scale_consent_scale ON scale_consent (scale);\n" APPEND_ONLY("scale_consent")

	/* A scale's clock, as it was read on a link: its time less ours; was_set: it has been set to ours right after */
	"CREATE TABLE scale_clock (\n" ROW
	"  scale TEXT NOT NULL REFERENCES scale (id),\n"
	"  ahead_ms INTEGER NOT NULL,\n"
	"  was_set INTEGER NOT NULL CHECK (was_set IN (0, 1))\n"
	") STRICT;\n" APPEND_ONLY("scale_clock")

	/* store_last_bthome(): the counter of an encrypted broadcast must rise */
	"CREATE INDEX frame_bthome ON frame (scale) WHERE uuid = '" STORE_BTHOME_UUID "' AND fate <> 'refused';\n";

/* What the growth model said, what it worries about, and rounds. Computed from the readings, and so no second truth: kept
 * for readers, and to know what was told. */
static const char addition_2[] =
	"CREATE TABLE growth (\n" ROW
	"  animal TEXT NOT NULL REFERENCES animal (id),\n"
	"  as_of_ms INTEGER NOT NULL,\n"
	"  gain_mg_per_day INTEGER NOT NULL,\n"
	"  u_gain_mg_per_day INTEGER NOT NULL CHECK (u_gain_mg_per_day >= 0),\n"
	"  gain_pct_per_day REAL NOT NULL,\n"
	"  verdict TEXT NOT NULL CHECK (verdict IN ('gaining', 'flat', 'losing', 'too soon')),\n"
	"  tell_ms INTEGER\n"
	") STRICT;\n"
	"CREATE INDEX growth_animal ON growth (animal);\n" APPEND_ONLY("growth")

	/* one row a change of a concern; rows of one concern share concern. animal NULL: the whole litter */
	"CREATE TABLE concern (\n" ROW
	"  concern TEXT NOT NULL,\n"
	"  litter TEXT NOT NULL REFERENCES litter (id),\n"
	"  animal TEXT REFERENCES animal (id),\n"
	"  state TEXT NOT NULL CHECK (state IN ('open', 'closed')),\n"
	"  level TEXT NOT NULL CHECK (level IN ('look', 'act', 'vet')),\n"
	"  rule TEXT NOT NULL,\n"
	"  text TEXT NOT NULL,\n"
	"  source TEXT NOT NULL,\n"
	"  since_ms INTEGER NOT NULL\n"
	") STRICT;\n"
	"CREATE INDEX concern_concern ON concern (concern);\n"
	"CREATE INDEX concern_litter ON concern (litter);\n" APPEND_ONLY("concern")
	/* no ledger, but an index of it: the newest row of each concern that is open */
	"CREATE TABLE open_concern (\n"
	"  concern TEXT PRIMARY KEY,\n"
	"  seq INTEGER NOT NULL\n"
	") STRICT;\n"
	"CREATE TRIGGER concern_opens AFTER INSERT ON concern WHEN NEW.state = 'open'\n"
	"BEGIN DELETE FROM open_concern WHERE concern = NEW.concern;\n"
	"  INSERT INTO open_concern (concern, seq) VALUES (NEW.concern, NEW.seq); END;\n"
	"CREATE TRIGGER concern_closes AFTER INSERT ON concern WHEN NEW.state = 'closed'\n"
	"BEGIN DELETE FROM open_concern WHERE concern = NEW.concern; END;\n"

	/* fed: what holds for each reading of the round; NULL: not told */
	"CREATE TABLE round (\n" ROW
	"  litter TEXT NOT NULL REFERENCES litter (id),\n"
	"  fed TEXT CHECK (fed IN ('before', 'after'))\n"
	") STRICT;\n"
	"CREATE INDEX round_litter ON round (litter);\n" APPEND_ONLY("round")
	"CREATE TABLE round_end (\n" ROW
	"  round TEXT NOT NULL REFERENCES round (id),\n"
	"  why TEXT NOT NULL CHECK (why IN ('asked', 'complete', 'lapsed'))\n"
	") STRICT;\n"
	"CREATE INDEX round_end_round ON round_end (round);\n" APPEND_ONLY("round_end")

	/* limits of the rules for one litter, on its vet's advice; NULL: the published one */
	"CREATE TABLE litter_limits (\n" ROW
	"  litter TEXT NOT NULL REFERENCES litter (id),\n"
	"  early_loss_pct REAL, band_low_pct REAL, overdue_h REAL, behind_pct REAL\n"
	") STRICT;\n"
	"CREATE INDEX litter_limits_litter ON litter_limits (litter);\n" APPEND_ONLY("litter_limits")

	"DROP VIEW animal_now;\n"
	"CREATE VIEW animal_now AS\n"
	"SELECT a.id AS animal_id, a.name AS animal, a.collar AS collar, a.sex AS sex,\n"
	"  l.id AS litter_id, l.name AS litter, coalesce(a.born_ms, l.born_ms) AS born_at_ms,\n"
	"  a.birth_mg / 1000.0 AS birth_g, w.weighed_ms AS newest_at_ms, w.net_mg / 1000.0 AS newest_g,\n"
	"  g.gain_mg_per_day / 1000.0 AS gain_g_per_day, g.u_gain_mg_per_day / 1000.0 AS u_gain_g_per_day,\n"
	"  g.gain_pct_per_day AS gain_pct_per_day, g.verdict AS verdict, g.tell_ms AS tell_at_ms,\n"
	"  w.u_mg / 1000.0 AS newest_u_g, w.id AS newest_reading_id\n"
	"FROM animal AS a\n"
	"JOIN litter AS l ON l.id = a.litter\n"
	"LEFT JOIN growth AS g ON g.seq = (SELECT max(seq) FROM growth WHERE animal = a.id)\n"
	"LEFT JOIN weighing AS w ON w.id = (\n"
	"  SELECT n.weighing FROM answer_now AS n WHERE n.animal = a.id\n"
	"  ORDER BY n.weighed_ms DESC, n.seq DESC LIMIT 1)\n"
	"WHERE NOT EXISTS (SELECT 1 FROM animal_end AS e WHERE e.animal = a.id)\n"
	"AND NOT EXISTS (SELECT 1 FROM litter_end AS e WHERE e.litter = l.id);\n"

	"CREATE VIEW concern_now AS\n"
	"SELECT c.concern AS concern_id, c.animal AS animal_id, a.name AS animal, c.level AS level, c.rule AS rule,\n"
	"  c.text AS text, c.source AS source, c.since_ms AS since_ms, l.id AS litter_id, l.name AS litter\n"
	"FROM open_concern AS o\n"
	"JOIN concern AS c ON c.seq = o.seq\n"
	"JOIN litter AS l ON l.id = c.litter\n"
	"LEFT JOIN animal AS a ON a.id = c.animal;\n"

	"CREATE VIEW round_now AS\n"
	"SELECT r.id AS round_id, l.id AS litter_id, l.name AS litter, r.at_ms AS begun_at_ms, r.fed AS fed\n"
	"FROM litter AS l\n"
	"JOIN round AS r ON r.seq = (SELECT max(seq) FROM round WHERE litter = l.id)\n"
	"WHERE NOT EXISTS (SELECT 1 FROM round_end AS e WHERE e.round = r.id);\n";

/* What is seen and done at the box beside weighing: whelping, signs, feeds, a vet's orders, doses. */
static const char addition_3[] =
	"CREATE TABLE whelping (\n" ROW
	"  litter TEXT NOT NULL REFERENCES litter (id)\n"
	") STRICT;\n"
	"CREATE INDEX whelping_litter ON whelping (litter);\n" APPEND_ONLY("whelping")
	"CREATE TABLE whelping_end (\n" ROW
	"  whelping TEXT NOT NULL REFERENCES whelping (id)\n"
	") STRICT;\n"
	"CREATE INDEX whelping_end_whelping ON whelping_end (whelping);\n" APPEND_ONLY("whelping_end")
	/* one row a pup, in the order of birth; animal NULL: stillborn. weighing: where the birth weight came from */
	"CREATE TABLE birth (\n" ROW
	"  litter TEXT NOT NULL REFERENCES litter (id),\n"
	"  animal TEXT REFERENCES animal (id),\n"
	"  weighing TEXT REFERENCES weighing (id),\n"
	"  born_ms INTEGER NOT NULL,\n"
	"  sex TEXT CHECK (sex IN ('f', 'm')),\n"
	"  mass_mg INTEGER CHECK (mass_mg > 0)\n"
	") STRICT;\n"
	"CREATE INDEX birth_litter ON birth (litter);\n" APPEND_ONLY("birth")
	/* points: a digit for each item, in the order of apgar.h */
	"CREATE TABLE newborn_score (\n" ROW
	"  animal TEXT NOT NULL REFERENCES animal (id),\n"
	"  scored_ms INTEGER NOT NULL,\n"
	"  points TEXT NOT NULL CHECK (points GLOB '[0-2][0-2][0-2][0-2][0-2]')\n"
	") STRICT;\n"
	"CREATE INDEX newborn_score_animal ON newborn_score (animal);\n" APPEND_ONLY("newborn_score")

	/* a later row of the same kind counts; nothing is taken back */
	"CREATE TABLE sign (\n" ROW
	"  animal TEXT NOT NULL REFERENCES animal (id),\n"
	"  seen_ms INTEGER NOT NULL,\n"
	"  sign TEXT NOT NULL,\n"
	"  value TEXT NOT NULL\n"
	") STRICT;\n"
	"CREATE INDEX sign_animal ON sign (animal, seen_ms);\n" APPEND_ONLY("sign")

	/* given: so many microlitres of something; nursed: by weighing before and after */
	"CREATE TABLE feed (\n" ROW
	"  animal TEXT NOT NULL REFERENCES animal (id),\n"
	"  fed_ms INTEGER NOT NULL,\n"
	"  how TEXT NOT NULL CHECK (how IN ('given', 'nursed')),\n"
	"  ul INTEGER CHECK (ul > 0),\n"
	"  taken_mg INTEGER,\n"
	"  u_mg INTEGER CHECK (u_mg >= 0),\n"
	"  what TEXT,\n"
	"  CHECK ((how = 'given') = (ul IS NOT NULL)),\n"
	"  CHECK ((how = 'nursed') = (taken_mg IS NOT NULL))\n"
	") STRICT;\n"
	"CREATE INDEX feed_animal ON feed (animal, fed_ms);\n" APPEND_ONLY("feed")

	/* animal NULL: for the whole litter; per: what the amounts are by */
	"CREATE TABLE vet_order (\n" ROW
	"  litter TEXT NOT NULL REFERENCES litter (id),\n"
	"  animal TEXT REFERENCES animal (id),\n"
	"  what TEXT NOT NULL,\n"
	"  vet TEXT NOT NULL,\n"
	"  kind TEXT NOT NULL CHECK (kind IN ('fluid', 'medicine')),\n"
	"  route TEXT NOT NULL CHECK (route IN ('under the skin', 'by mouth')),\n"
	"  per TEXT NOT NULL CHECK (per IN ('animal', 'kg', '100 g')),\n"
	"  amount_ul INTEGER NOT NULL CHECK (amount_ul > 0),\n"
	"  most_ul INTEGER NOT NULL CHECK (most_ul > 0),\n"
	"  every_ms INTEGER NOT NULL CHECK (every_ms > 0),\n"
	"  from_ms INTEGER NOT NULL,\n"
	"  until_ms INTEGER NOT NULL CHECK (until_ms > from_ms)\n"
	") STRICT;\n"
	"CREATE INDEX vet_order_litter ON vet_order (litter);\n" APPEND_ONLY("vet_order")
	"CREATE TABLE vet_order_end (\n" ROW
	"  vet_order TEXT NOT NULL REFERENCES vet_order (id),\n"
	"  why TEXT NOT NULL\n"
	") STRICT;\n"
	"CREATE INDEX vet_order_end_order ON vet_order_end (vet_order);\n" APPEND_ONLY("vet_order_end")
	/* mass_mg: what it was computed from; check_word: as order.h judged it; words: typed to override */
	"CREATE TABLE dose (\n" ROW
	"  vet_order TEXT NOT NULL REFERENCES vet_order (id),\n"
	"  animal TEXT NOT NULL REFERENCES animal (id),\n"
	"  given_ms INTEGER NOT NULL,\n"
	"  ul INTEGER NOT NULL CHECK (ul > 0),\n"
	"  mass_mg INTEGER NOT NULL CHECK (mass_mg > 0),\n"
	"  judged TEXT NOT NULL CHECK (judged IN ('plain', 'second look', 'overridden', 'written down')),\n"
	"  words TEXT\n"
	") STRICT;\n"
	"CREATE INDEX dose_animal ON dose (animal, given_ms);\n" APPEND_ONLY("dose")

	"CREATE VIEW birth_log AS\n"
	"SELECT b.id AS birth_id, a.id AS animal_id, a.name AS animal, a.collar AS collar, l.id AS litter_id,\n"
	"  l.name AS litter, " RFC3339("b.born_ms") " AS at, b.born_ms AS at_ms, b.sex AS sex,\n"
	"  b.mass_mg / 1000.0 AS birth_g, a.id IS NULL AS stillborn, s.points AS points, b.weighing AS weighing_id,\n"
	"  coalesce(b.said, b.peer) AS noted_by\n"
	"FROM birth AS b\n"
	"JOIN litter AS l ON l.id = b.litter\n"
	"LEFT JOIN animal AS a ON a.id = b.animal\n"
	"LEFT JOIN newborn_score AS s ON s.seq = (SELECT max(seq) FROM newborn_score WHERE animal = a.id);\n"
	"CREATE VIEW sign_log AS\n"
	"SELECT g.id AS sign_id, a.id AS animal_id, a.name AS animal, l.id AS litter_id, l.name AS litter,\n"
	"  " RFC3339("g.seen_ms") " AS at, g.seen_ms AS at_ms, g.sign AS sign, g.value AS value,\n"
	"  coalesce(g.said, g.peer) AS noted_by\n"
	"FROM sign AS g JOIN animal AS a ON a.id = g.animal JOIN litter AS l ON l.id = a.litter;\n"
	"CREATE VIEW feed_log AS\n"
	"SELECT f.id AS feed_id, a.id AS animal_id, a.name AS animal, l.id AS litter_id, l.name AS litter,\n"
	"  " RFC3339("f.fed_ms") " AS at, f.fed_ms AS at_ms, f.how AS how, f.ul / 1000.0 AS ml,\n"
	"  f.taken_mg / 1000.0 AS taken_g, f.u_mg / 1000.0 AS u_g, f.what AS what, coalesce(f.said, f.peer) AS noted_by\n"
	"FROM feed AS f JOIN animal AS a ON a.id = f.animal JOIN litter AS l ON l.id = a.litter;\n"
	"CREATE VIEW order_log AS\n"
	"SELECT o.id AS order_id, a.id AS animal_id, a.name AS animal, l.id AS litter_id, l.name AS litter,\n"
	"  " RFC3339("o.at_ms") " AS at, o.at_ms AS at_ms, o.vet AS vet, o.what AS what, o.kind AS kind, o.route AS route,\n"
	"  o.per AS per, o.amount_ul / 1000.0 AS amount_ml, o.most_ul / 1000.0 AS most_24h_ml,\n"
	"  o.every_ms / 3600000.0 AS every_h, o.from_ms AS from_ms, o.until_ms AS until_ms, e.at_ms AS ended_at_ms,\n"
	"  e.why AS ended_why, coalesce(o.said, o.peer) AS noted_by\n"
	"FROM vet_order AS o\n"
	"JOIN litter AS l ON l.id = o.litter\n"
	"LEFT JOIN animal AS a ON a.id = o.animal\n"
	"LEFT JOIN vet_order_end AS e ON e.seq = (SELECT min(seq) FROM vet_order_end WHERE vet_order = o.id);\n"
	"CREATE VIEW dose_log AS\n"
	"SELECT d.id AS dose_id, d.vet_order AS order_id, a.id AS animal_id, a.name AS animal, l.id AS litter_id,\n"
	"  l.name AS litter, " RFC3339("d.given_ms") " AS at, d.given_ms AS at_ms, o.what AS what, o.route AS route,\n"
	"  d.ul / 1000.0 AS ml, d.mass_mg / 1000.0 AS mass_g, d.judged AS judged, d.words AS words,\n"
	"  coalesce(d.said, d.peer) AS noted_by\n"
	"FROM dose AS d\n"
	"JOIN vet_order AS o ON o.id = d.vet_order\n"
	"JOIN animal AS a ON a.id = d.animal\n"
	"JOIN litter AS l ON l.id = a.litter;\n";

/* For a reader of the whole record: what isn't so any more, and how it came to be as it is. Views alone. */
static const char addition_4[] =
	"CREATE VIEW animal_log AS\n"
	"SELECT a.id AS animal_id, a.name AS animal, a.collar AS collar, a.sex AS sex, l.id AS litter_id, l.name AS litter,\n"
	"  coalesce(a.born_ms, l.born_ms) AS born_at_ms, a.birth_mg / 1000.0 AS birth_g, a.at_ms AS noted_at_ms,\n"
	"  e.at_ms AS gone_at_ms, e.why AS gone_why, coalesce(a.said, a.peer) AS noted_by\n"
	"FROM animal AS a\n"
	"JOIN litter AS l ON l.id = a.litter\n"
	"LEFT JOIN animal_end AS e ON e.seq = (SELECT min(seq) FROM animal_end WHERE animal = a.id);\n"

	"CREATE VIEW answer_log AS\n"
	"SELECT n.id AS answer_id, n.weighing AS weighing_id, n.weighed_ms AS weighed_at_ms, a.id AS animal_id,\n"
	"  a.name AS animal, l.id AS litter_id, l.name AS litter, " RFC3339("n.at_ms") " AS at, n.at_ms AS at_ms,\n"
	"  n.kind AS kind, n.why AS why, n.fed AS fed, coalesce(n.said, n.peer) AS answered_by,\n"
	"  NOT EXISTS (SELECT 1 FROM answer AS later WHERE later.weighing = n.weighing AND later.seq > n.seq) AS counts\n"
	"FROM answer AS n\n"
	"LEFT JOIN animal AS a ON a.id = n.animal\n"
	"LEFT JOIN litter AS l ON l.id = a.litter;\n"

	"CREATE VIEW concern_log AS\n"
	"SELECT c.concern AS concern_id, a.id AS animal_id, a.name AS animal, l.id AS litter_id, l.name AS litter,\n"
	"  " RFC3339("c.at_ms") " AS at, c.at_ms AS at_ms, c.state AS state, c.level AS level, c.rule AS rule,\n"
	"  c.text AS text, c.source AS source, c.since_ms AS since_ms\n"
	"FROM concern AS c\n"
	"JOIN litter AS l ON l.id = c.litter\n"
	"LEFT JOIN animal AS a ON a.id = c.animal;\n"

	"CREATE VIEW tare_log AS\n"
	"SELECT t.id AS tare_id, c.id AS container_id, c.name AS container, 'tare' AS kind, s.name AS scale,\n"
	"  " RFC3339("t.tared_ms") " AS at, t.tared_ms AS at_ms, t.mass_mg / 1000.0 AS mass_g, t.u_mg / 1000.0 AS u_g,\n"
	"  NULL AS drift_g, NULL AS drifted\n"
	"FROM container_tare AS t\n"
	"JOIN container AS c ON c.id = t.container\n"
	"LEFT JOIN frame AS f ON f.id = t.frame\n"
	"LEFT JOIN scale AS s ON s.id = f.scale\n"
	"UNION ALL\n"
	"SELECT k.tare, c.id, c.name, 'check', s.name, " RFC3339("k.seen_ms") ", k.seen_ms, k.gross_mg / 1000.0,\n"
	"  k.u_mg / 1000.0, k.drift_mg / 1000.0, k.drifted\n"
	"FROM container_check AS k\n"
	"JOIN container AS c ON c.id = k.container\n"
	"LEFT JOIN frame AS f ON f.id = k.frame\n"
	"LEFT JOIN scale AS s ON s.id = f.scale;\n";

/*
 * For a reader that goes on where it left off: seq, which only ever rises, in the logs that only ever grow; and each
 * weighing, answered or not, as it was written. Views alone.
 */
static const char addition_5[] =
	"CREATE VIEW weighing_log AS\n"
	"SELECT w.id AS weighing_id, " RFC3339("w.weighed_ms") " AS at, w.weighed_ms AS at_ms, w.net_mg / 1000.0 AS net_g,\n"
	"  w.u_mg / 1000.0 AS u_g, w.gross_mg / 1000.0 AS gross_g, w.tare_mg / 1000.0 AS tare_g, c.name AS container,\n"
	"  s.name AS scale, w.origin AS origin, w.state AS state, w.offset_min AS offset_min,\n"
	"  nullif(w.step_mg, 0) / 1000.0 AS step_g, w.at_ms AS noted_at_ms, w.seq AS seq\n"
	"FROM weighing AS w\n"
	"LEFT JOIN container AS c ON c.id = w.container\n"
	"LEFT JOIN scale AS s ON s.id = w.scale;\n"

	"DROP VIEW answer_log;\n"
	"CREATE VIEW answer_log AS\n"
	"SELECT n.id AS answer_id, n.weighing AS weighing_id, n.weighed_ms AS weighed_at_ms, a.id AS animal_id,\n"
	"  a.name AS animal, l.id AS litter_id, l.name AS litter, " RFC3339("n.at_ms") " AS at, n.at_ms AS at_ms,\n"
	"  n.kind AS kind, n.why AS why, n.fed AS fed, coalesce(n.said, n.peer) AS answered_by,\n"
	"  NOT EXISTS (SELECT 1 FROM answer AS later WHERE later.weighing = n.weighing AND later.seq > n.seq) AS counts,\n"
	"  n.seq AS seq\n"
	"FROM answer AS n\n"
	"LEFT JOIN animal AS a ON a.id = n.animal\n"
	"LEFT JOIN litter AS l ON l.id = a.litter;\n"

	"DROP VIEW concern_log;\n"
	"CREATE VIEW concern_log AS\n"
	"SELECT c.concern AS concern_id, a.id AS animal_id, a.name AS animal, l.id AS litter_id, l.name AS litter,\n"
	"  " RFC3339("c.at_ms") " AS at, c.at_ms AS at_ms, c.state AS state, c.level AS level, c.rule AS rule,\n"
	"  c.text AS text, c.source AS source, c.since_ms AS since_ms, c.id AS entry_id, c.seq AS seq\n"
	"FROM concern AS c\n"
	"JOIN litter AS l ON l.id = c.litter\n"
	"LEFT JOIN animal AS a ON a.id = c.animal;\n";

static const struct addition {
	const char *what, *sql;
} additions[] = {
	{ "consent codes and clocks of scales", addition_1 },
	{ "growth, concerns, rounds", addition_2 },
	{ "whelping, signs, feeds, orders, doses", addition_3 },
	{ "logs of animals, answers, concerns, tares", addition_4 },
	{ "what readers go on from", addition_5 },
};
