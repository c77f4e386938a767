// SPDX-License-Identifier: MIT
/* What came to schema 1 later: it is added to an older database, which stays schema 1, and can be used. */
#include "ledger.h"

#include <string.h>

#define WITHOUT_SECOND                                                                                                \
	"DROP VIEW concern_now; DROP VIEW round_now; DROP VIEW animal_now; DROP TABLE growth; DROP TABLE open_concern; "    \
	"DROP TABLE concern; DROP TABLE round_end; DROP TABLE round; DROP TABLE litter_limits; "                           \
	"CREATE VIEW animal_now AS SELECT id AS animal_id, NULL AS verdict FROM animal; "
#define WITHOUT_FIFTH "DROP VIEW weighing_log; "
#define WITHOUT_FOURTH "DROP VIEW animal_log; DROP VIEW answer_log; DROP VIEW concern_log; DROP VIEW tare_log; "
#define WITHOUT_THIRD                                                                                                 \
	"DROP VIEW birth_log; DROP VIEW sign_log; DROP VIEW feed_log; DROP VIEW order_log; DROP VIEW dose_log; "            \
	"DROP TABLE whelping_end; DROP TABLE whelping; DROP TABLE birth; DROP TABLE newborn_score; DROP TABLE sign; "      \
	"DROP TABLE feed; DROP TABLE dose; DROP TABLE vet_order_end; DROP TABLE vet_order; "

/* As the first release left it: without any addition. The view stands for the one of the first release: it is replaced. */
static void take_away(const char *dir)
{
	static const char sql[] = WITHOUT_FIFTH WITHOUT_FOURTH WITHOUT_THIRD WITHOUT_SECOND
				  "DROP TABLE scale_consent; DROP TABLE scale_clock; "
				  "DROP INDEX frame_bthome; DROP TABLE addition;";
	char path[96];
	sqlite3 *db = NULL;

	ledger_path(dir, STORE_FILE, path);
	assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
	if (sqlite3_exec(db, sql, NULL, NULL, NULL) != SQLITE_OK)
		fail_msg("%s", sqlite3_errmsg(db));
	sqlite3_close(db);
}

static void an_older_database_is_added_to(void **state)
{
	struct ledger *l = *state;
	char id[UUID7_SIZE];

	assert_int_equal(ledger_weigh(l, LEDGER_T0, 308000, id), 0);
	l->store = store_close(l->store);
	take_away(l->dir);
	l->store = ledger_open(l->dir);
	ledger_expect(l->dir, "SELECT id, what FROM addition", "addition-1|consent codes and clocks of scales\naddition-2|growth, concerns, rounds\n"
		      "addition-3|whelping, signs, feeds, orders, doses\naddition-4|logs of animals, answers, concerns, tares\n"
		      "addition-5|what readers go on from\n");
	ledger_follow(l, LEDGER_T0);
	ledger_expect(l->dir, "SELECT verdict FROM animal_now WHERE animal = 'one'", "gaining\n");
	ledger_expect(l->dir, "PRAGMA user_version", "1\n");
	ledger_expect(l->dir, "SELECT count(*) FROM unanswered", "1\n");
	ledger_expect(l->dir, "PRAGMA integrity_check", "ok\n");
}

static void it_is_added_once(void **state)
{
	struct ledger *l = *state;

	l->store = store_close(l->store);
	l->store = ledger_open(l->dir);
	ledger_expect(l->dir, "SELECT count(*) FROM addition", "5\n");
}

/* A newer bismar's additions take nothing away, so this one goes on. */
static void further_additions_are_left_alone(void **state)
{
	struct ledger *l = *state;
	char path[96];
	sqlite3 *db = NULL;

	l->store = store_close(l->store);
	ledger_path(l->dir, STORE_FILE, path);
	assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
	assert_int_equal(sqlite3_exec(db, "INSERT INTO addition (id, at_ms, offset_min, peer, what) "
					  "VALUES ('addition-99', 0, 0, 'newer', 'more')", NULL, NULL, NULL), SQLITE_OK);
	sqlite3_close(db);
	l->store = ledger_open(l->dir);
	ledger_expect(l->dir, "SELECT count(*) FROM addition", "6\n");
}

/* A database that has the first addition alone gets the others. */
static void the_first_alone(void **state)
{
	struct ledger *l = *state;
	char path[96];
	sqlite3 *db = NULL;

	l->store = store_close(l->store);
	take_away(l->dir);
	ledger_path(l->dir, STORE_FILE, path);
	l->store = ledger_open(l->dir);
	l->store = store_close(l->store);
	assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
	assert_int_equal(sqlite3_exec(db,
				      WITHOUT_FIFTH WITHOUT_FOURTH WITHOUT_THIRD WITHOUT_SECOND "DROP TRIGGER addition_delete; "
				      "DELETE FROM addition WHERE id IN ('addition-2', 'addition-3', 'addition-4', 'addition-5');",
				      NULL, NULL, NULL),
			 SQLITE_OK);
	sqlite3_close(db);
	l->store = ledger_open(l->dir);
	ledger_follow(l, LEDGER_T0);
	ledger_expect(l->dir, "SELECT count(*) FROM concern_now", "1\n");
}

static int consent_row(void *userdata, const struct store_scale_row *row)
{
	unsigned *ret = userdata;

	ret[0] = row->user;
	ret[1] = row->code;
	return 0;
}

static void newest_consent_counts(void **state)
{
	struct ledger *l = *state;
	const struct store_stamp stamp = ledger_stamp(LEDGER_T0);
	unsigned got[2] = { 0, 0 };

	assert_int_equal(store_each_scale(l->store, consent_row, got), 0);
	assert_int_equal(got[0], STORE_NO_USER);
	assert_int_equal(store_set_consent(l->store, &stamp, l->scale, 0, 0), 0);
	assert_int_equal(store_set_consent(l->store, &stamp, l->scale, 3, 9999), 0);
	assert_int_equal(store_each_scale(l->store, consent_row, got), 0);
	assert_int_equal(got[0], 3);
	assert_int_equal(got[1], 9999);
	assert_int_equal(store_set_consent(l->store, &stamp, l->scale, STORE_NO_USER, 0), 0);
	assert_int_equal(store_each_scale(l->store, consent_row, got), 0);
	assert_int_equal(got[0], STORE_NO_USER);
	/* a consent code has four digits (User Data Service; facts, 5.5) */
	assert_true(store_set_consent(l->store, &stamp, l->scale, 3, 10000) < 0);
}

static int octets_row(void *userdata, const uint8_t *octets, size_t n)
{
	assert_int_equal(n, 4);
	memcpy(userdata, octets, n);
	return 0;
}

static void last_bthome_with_an_effect(void **state)
{
	struct ledger *l = *state;
	const struct store_stamp stamp = ledger_stamp(LEDGER_T0);
	struct store_frame frame = { .scale_id = l->scale, .uuid = STORE_BTHOME_UUID, .n = 4, .received_ms = LEDGER_T0 };
	uint8_t got[4] = { 0 };

	assert_int_equal(store_last_bthome(l->store, l->scale, octets_row, got), 0);
	assert_int_equal(got[0], 0);
	frame.octets = (const uint8_t *)"\x40\x00\x01\x02";
	assert_int_equal(store_add_frame(l->store, &stamp, &frame, NULL, NULL, NULL), 0);
	frame.octets = (const uint8_t *)"\x40\x00\x07\x07";
	frame.fate = STORE_REFUSED;
	assert_int_equal(store_add_frame(l->store, &stamp, &frame, NULL, NULL, NULL), 0);
	frame.uuid = "00002a9d-0000-1000-8000-00805f9b34fb";
	frame.fate = STORE_USED;
	assert_int_equal(store_add_frame(l->store, &stamp, &frame, NULL, NULL, NULL), 0);
	assert_int_equal(store_last_bthome(l->store, l->scale, octets_row, got), 0);
	assert_memory_equal(got, "\x40\x00\x01\x02", 4);
}

/* All of a stream's frames, or none; the weighing belongs to the last. */
static void frames_of_a_stream(void **state)
{
	struct ledger *l = *state;
	const struct store_stamp stamp = ledger_stamp(LEDGER_T0);
	const struct weighing w = { .at_ms = LEDGER_T0, .gross_mg = 300000, .net_mg = 300000, .u_mg = 900 };
	struct store_weighing weighing = { .scale_id = l->scale, .weighing = &w, .restless = true, .user = -1 };
	struct store_frame frames[3];
	char id[UUID7_SIZE];

	for (int i = 0; i < 3; i++)
		frames[i] = (struct store_frame){ .scale_id = l->scale, .uuid = "x", .octets = (const uint8_t *)"abc" + i, .n = 1,
						   .received_ms = LEDGER_T0 + i };
	assert_int_equal(store_add_frames(l->store, &stamp, frames, 3, &weighing, NULL, id), 0);
	ledger_expect(l->dir, "SELECT group_concat(CAST(bytes AS TEXT), '') FROM frame", "abc\n");
	ledger_expect(l->dir, "SELECT CAST(f.bytes AS TEXT), w.state FROM weighing AS w JOIN frame AS f ON f.id = w.frame",
		      "c|restless\n");
	frames[2].scale_id = "nobody";
	assert_true(store_add_frames(l->store, &stamp, frames, 3, &weighing, NULL, id) < 0);
	ledger_expect(l->dir, "SELECT count(*) FROM frame", "3\n");
}

#define WITH_LEDGER(test) cmocka_unit_test_setup_teardown(test, ledger_setup, ledger_teardown)

int main(void)
{
	const struct CMUnitTest tests[] = {
		WITH_LEDGER(an_older_database_is_added_to),
		WITH_LEDGER(it_is_added_once),
		WITH_LEDGER(further_additions_are_left_alone),
		WITH_LEDGER(the_first_alone),
		WITH_LEDGER(newest_consent_counts),
		WITH_LEDGER(last_bthome_with_an_effect),
		WITH_LEDGER(frames_of_a_stream),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
