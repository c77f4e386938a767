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

static const struct addition {
	const char *what, *sql;
} additions[] = {
	{ "consent codes and clocks of scales", addition_1 },
	{ "growth, concerns, rounds", addition_2 },
};
