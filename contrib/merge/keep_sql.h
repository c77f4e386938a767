// SPDX-License-Identifier: MIT
#pragma once
/*
 * bismar-gather's statements. All that comes from outside is a parameter.
 *
 * era: a bridge whose ledger was put back from an older copy gives seq anew to other rows. When that shows (the newest
 * seq that it tells falls, or one seq has two ids), its era rises, and it counts as if nothing were there yet: all is
 * asked for once more, what comes again is stamped with the new era, and so what is missing of the new rows shows.
 * Nothing is removed. complete: the rows 1 to that one are all there, in this era. head: what the bridge told last;
 * seen: what came.
 */

#define KEEP_LOG(log, columns)                                                                                         \
	"CREATE TABLE IF NOT EXISTS bismar." log "_message (\n"                                                        \
	"  bridge text NOT NULL, id uuid NOT NULL, seq bigint NOT NULL, era integer NOT NULL,\n" columns ",\n"         \
	"  PRIMARY KEY (bridge, id));\n"                                                                               \
	"CREATE INDEX IF NOT EXISTS " log "_message_seq ON bismar." log "_message (bridge, seq);\n"

#define KEEP_AT(ms)                                                                                                    \
	"to_char(timestamp '1970-01-01' + " ms " * interval '1 millisecond', 'YYYY-MM-DD\"T\"HH24:MI:SS.MS\"Z\"')"

#define KEEP_MISSING "complete < greatest(head, seen)"

static const char keep_create[] = "CREATE SCHEMA IF NOT EXISTS bismar;\n" KEEP_LOG(
	"reading",
	"  reading_id uuid NOT NULL, kind text NOT NULL, animal_id "
	"uuid, animal text, collar text, litter_id uuid,\n"
	"  litter text, at_ms bigint NOT NULL, offset_min integer NOT "
	"NULL, net_g double precision NOT NULL,\n"
	"  u_g double precision NOT NULL, gross_g double precision "
	"NOT NULL, tare_g double precision NOT NULL,\n"
	"  step_g double precision, container text, scale text, "
	"origin text NOT NULL, state text NOT NULL, fed text,\n"
	"  why text, answered_at_ms bigint NOT NULL, answered_by text "
	"NOT NULL") "CREATE INDEX IF NOT EXISTS "
		    "reading_message_reading ON "
		    "bismar.reading_message (bridge, reading_id, seq, "
		    "id);\n"
		    "CREATE INDEX IF NOT EXISTS "
		    "reading_message_animal ON bismar.reading_message "
		    "(animal_id, at_ms)\n"
		    "  WHERE animal_id IS NOT NULL;\n" KEEP_LOG(
			    "concern",
			    "  concern_id uuid NOT NULL, animal_id "
			    "uuid, animal text, litter_id uuid NOT "
			    "NULL, litter text NOT NULL,\n"
			    "  at_ms bigint NOT NULL, state text NOT "
			    "NULL, level text NOT NULL, rule text NOT "
			    "NULL, text text NOT NULL,\n"
			    "  source text NOT NULL, since_ms bigint "
			    "NOT NULL") "CREATE INDEX IF NOT EXISTS "
					"concern_message_concern ON "
					"bismar.concern_message "
					"(bridge, concern_id, seq, "
					"id);\n"

					"CREATE TABLE IF NOT EXISTS "
					"bismar.bridge (\n"
					"  bridge text NOT NULL, "
					"topic text NOT NULL CHECK "
					"(topic IN ('reading', "
					"'concern')),\n"
					"  head bigint NOT NULL "
					"DEFAULT 0, seen bigint NOT "
					"NULL DEFAULT 0, complete bigint "
					"NOT NULL DEFAULT 0,\n"
					"  era integer NOT NULL "
					"DEFAULT 0, state text, "
					"state_at timestamptz, "
					"missing_at timestamptz, "
					"asked_at timestamptz,\n"
					"  refused bigint NOT NULL "
					"DEFAULT 0, PRIMARY KEY "
					"(bridge, topic));\n"
					"CREATE INDEX IF NOT EXISTS "
					"bridge_missing ON "
					"bismar.bridge (bridge) "
					"WHERE " KEEP_MISSING ";\n"

					"CREATE OR REPLACE VIEW "
					"bismar.reading AS\n"
					"SELECT id, bridge, seq, "
					"reading_id, kind, animal_id, "
					"animal, collar, litter_id, "
					"litter, " KEEP_AT(
						"at_ms") " AS at,\n"
							 "  at_ms, "
							 "offset_min, "
							 "net_g, u_g, "
							 "gross_g, "
							 "tare_g, "
							 "step_g, "
							 "container, "
							 "scale, "
							 "origin, "
							 "state, fed, "
							 "why,\n"
							 "  "
							 "answered_at_"
							 "ms, "
							 "answered_"
							 "by\n"
							 "FROM "
							 "bismar."
							 "reading_"
							 "message AS "
							 "m WHERE "
							 "animal_id "
							 "IS NOT NULL "
							 "AND NOT "
							 "EXISTS (\n"
							 "  SELECT 1 "
							 "FROM "
							 "bismar."
							 "reading_"
							 "message AS "
							 "later WHERE "
							 "later."
							 "bridge = "
							 "m.bridge "
							 "AND "
							 "later."
							 "reading_id "
							 "= "
							 "m.reading_"
							 "id\n"
							 "  AND "
							 "(later.seq, "
							 "later.id) > "
							 "(m.seq, "
							 "m.id));\n"

							 "CREATE OR "
							 "REPLACE "
							 "VIEW "
							 "bismar."
							 "concern_now "
							 "AS\n"
							 "SELECT id, "
							 "bridge, "
							 "seq, "
							 "concern_id, "
							 "animal_id, "
							 "animal, "
							 "litter_id, "
							 "litter,"
							 " " KEEP_AT("at_"
								     "ms") " AS at, at_ms, state,\n"
									   "  level, rule, text, source, since_ms\n"
									   "FROM bismar.concern_message AS m WHERE "
									   "state = 'open' AND NOT EXISTS (\n"
									   "  SELECT 1 FROM bismar.concern_message AS "
									   "later WHERE later.bridge = m.bridge AND "
									   "later.concern_id = m.concern_id\n"
									   "  AND (later.seq, later.id) > (m.seq, "
									   "m.id));\n";

/* Each session: what counts is on the disk when COMMIT returns, whatever the server's defaults. */
static const char keep_session[] =
	"SET synchronous_commit = on; SET client_encoding = 'UTF8'; SET statement_timeout = '120s';"
	"SET client_min_messages = warning;";

/* One receiver at a time on one database; it ends with the session. The number is ours: "bismar" in ASCII. */
static const char keep_lock[] = "SELECT pg_try_advisory_lock(108205047636338)";

static const char keep_there[] =
	"SELECT to_regclass('bismar.bridge') IS NOT NULL AND to_regclass('bismar.concern_now') IS NOT NULL";

#define KEEP_READING_COLUMNS                                                                                           \
	"reading_id, kind, animal_id, animal, collar, litter_id, litter, at_ms, offset_min, net_g, u_g, gross_g, "     \
	"tare_g, "                                                                                                     \
	"step_g, container, scale, origin, state, fed, why, answered_at_ms, answered_by"
#define KEEP_CONCERN_COLUMNS                                                                                           \
	"concern_id, animal_id, animal, litter_id, litter, at_ms, state, level, rule, text, source, since_ms"

/* The statements of one batch, in this order; $1 is a JSON array of rows. */
#define KEEP_BATCH(log, columns)                                                                                       \
	{                                                                                                              \
		"INSERT INTO bismar.bridge (bridge, topic) SELECT DISTINCT bridge, '" log "' FROM "                    \
		"jsonb_to_recordset($1::jsonb) AS x (bridge text) ORDER BY bridge ON CONFLICT DO NOTHING",             \
			"INSERT INTO bismar." log "_message AS m (bridge, id, seq, era, " columns ") "                 \
			"SELECT DISTINCT ON (bridge, id) bridge, id, seq, (SELECT b.era FROM bismar.bridge AS b "      \
			"WHERE b.bridge = x.bridge AND b.topic = '" log "'), " columns " "                             \
			"FROM jsonb_populate_recordset(NULL::bismar." log                                              \
			"_message, $1::jsonb) AS x ORDER BY bridge, id "                                               \
			"ON CONFLICT (bridge, id) DO UPDATE SET era = excluded.era WHERE m.era < excluded.era",        \
			"UPDATE bismar.bridge AS b SET seen = greatest(b.seen, x.seq) FROM (SELECT bridge, max(seq) "  \
			"AS seq FROM "                                                                                 \
			"jsonb_to_recordset($1::jsonb) AS y (bridge text, seq bigint) GROUP BY bridge) AS x "          \
			"WHERE b.bridge = x.bridge AND b.topic = '" log "' AND b.seen < x.seq",                        \
			"UPDATE bismar.bridge AS b SET era = era + 1, complete = 0, seen = 0, missing_at = NULL "      \
			"WHERE "                                                                                       \
			"topic = '" log "' "                                                                           \
			"AND bridge IN (SELECT x.bridge FROM jsonb_to_recordset($1::jsonb) AS x (bridge text, id "     \
			"uuid, seq bigint) "                                                                           \
			"JOIN bismar." log "_message AS m ON m.bridge = x.bridge AND m.seq = x.seq AND m.id <> x.id "  \
			"JOIN bismar.bridge AS c ON c.bridge = x.bridge AND c.topic = '" log "' AND c.era = m.era)",   \
			KEEP_ADVANCE(log, "b.bridge IN (SELECT y.bridge FROM jsonb_to_recordset($1::jsonb) AS y "      \
					  "(bridge text))"),                                                           \
	}

/* complete goes on over all that is there without a gap, five thousand rows at once. */
#define KEEP_ADVANCE(log, which)                                                                                       \
	"UPDATE bismar.bridge AS b SET complete = b.complete + n.n, missing_at = NULL FROM (SELECT b.bridge, ("        \
	"SELECT count(*) FROM (SELECT d.seq, row_number() OVER (ORDER BY d.seq) AS nth FROM ("                         \
	"SELECT DISTINCT m.seq FROM bismar." log "_message AS m WHERE m.bridge = b.bridge AND m.era = b.era "          \
	"AND m.seq > b.complete ORDER BY m.seq LIMIT 5000) AS d) AS i WHERE i.seq = b.complete + i.nth) AS n "         \
	"FROM bismar.bridge AS b WHERE b.topic = '" log "' AND " which ") AS n "                                       \
	"WHERE b.bridge = n.bridge AND b.topic = '" log "' AND n.n > 0"

enum { KEEP_STEPS = 5, KEEP_STEP_ROWS = 1 /* whose count tells what is new */ };

static const char *const keep_batch[2][KEEP_STEPS] = {
	KEEP_BATCH("reading", KEEP_READING_COLUMNS),
	KEEP_BATCH("concern", KEEP_CONCERN_COLUMNS),
};

/* $1 bridge, $2 topic, $3 state, $4 head or NULL */
static const char keep_state[] =
	"INSERT INTO bismar.bridge AS b (bridge, topic, state, state_at, head) VALUES ($1, $2, $3, now(), "
	"coalesce($4::bigint, 0)) "
	"ON CONFLICT (bridge, topic) DO UPDATE SET state = excluded.state, state_at = excluded.state_at, "
	"head = CASE WHEN $4::bigint IS NULL THEN b.head ELSE excluded.head END, "
	"era = b.era + CASE WHEN $4::bigint < b.head THEN 1 ELSE 0 END, "
	"complete = CASE WHEN $4::bigint < b.head THEN 0 ELSE b.complete END, "
	"seen = CASE WHEN $4::bigint < b.head THEN 0 ELSE b.seen END, "
	"missing_at = CASE WHEN $4::bigint < b.head THEN NULL ELSE b.missing_at END";

/* $1 bridge, $2 how many; a bridge that isn't known has no row to count in */
static const char keep_refused[] =
	"UPDATE bismar.bridge SET refused = refused + $2::bigint WHERE bridge = $1 AND topic = 'reading'";

static const char *const keep_advance[2] = {
	KEEP_ADVANCE("reading", KEEP_MISSING),
	KEEP_ADVANCE("concern", KEEP_MISSING),
};
/* where complete moved, it is NULL again already */
static const char keep_mark[] =
	"UPDATE bismar.bridge SET missing_at = now() WHERE " KEEP_MISSING " AND missing_at IS NULL";
/* $1 seconds from when it shows to the first wish, $2 seconds between two. Both topics of a bridge in one wish. */
static const char keep_ask[] =
	"UPDATE bismar.bridge AS b SET asked_at = now() FROM (SELECT DISTINCT m.bridge FROM bismar.bridge AS m "
	"WHERE " KEEP_MISSING " AND state = 'here' AND missing_at <= now() - $1::float8 * interval '1 second' "
	"AND NOT EXISTS (SELECT 1 FROM bismar.bridge AS o WHERE o.bridge = m.bridge "
	"AND o.asked_at > now() - $2::float8 * interval '1 second') LIMIT 500) AS w "
	"WHERE b.bridge = w.bridge AND " KEEP_MISSING " RETURNING b.bridge, b.topic, b.complete + 1";
static const char keep_missing[] = "SELECT bridge, topic, complete, greatest(head, seen), coalesce(state, '') FROM "
				   "bismar.bridge WHERE " KEEP_MISSING " ORDER BY bridge, topic LIMIT 100";
