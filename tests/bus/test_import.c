// SPDX-License-Identifier: MIT
/*
 * A paper log into the ledger of the real bismard: nothing without a word, all or nothing with it, nothing a second
 * time, whatever is killed in between. Names and masses are our own invention.
 */
#include "nursery.h"
#include "daemon/limits.h"
#include <signal.h>
#include <unistd.h>

#define DAY_MS (INT64_C(24) * 3600 * 1000)

/* Writes a file in the rig's folder; the path lasts until the next call. */
__attribute__((format(printf, 2, 3))) static const char *file_of(struct rig *rig, const char *format, ...)
{
	static char path[128];
	va_list list;
	FILE *to;

	(void)snprintf(path, sizeof path, "%s/paper.csv", rig->dir);
	to = fopen(path, "we");
	assert_non_null(to);
	va_start(list, format);
	assert_true(vfprintf(to, format, list) > 0);
	va_end(list);
	assert_int_equal(fclose(to), 0);
	return path;
}

/* Runs `bismar import csv FILE` with up to two options. */
static const char *import(struct rig *rig, int status, const char *path, const char *one, const char *two)
{
	static struct rig_ran ran;

	rig_run_ctl(rig, (const char *const[]){ "import", "csv", path, one, two, NULL }, &ran);
	if (ran.status != status)
		deck_fail(rig->deck, "import ended with %d, not %d: %s%s", ran.status, status, ran.out, ran.err);
	return ran.out;
}

static void has(struct rig *rig, const char *text, const char *words)
{
	if (!strstr(text, words))
		deck_fail(rig->deck, "no \"%s\" in: %s", words, text);
}

/* "2026-11-20" of that many days before today, to be used before the eighth call after. */
static const char *day(int ago)
{
	static char days[8][16];
	static unsigned next;
	time_t s = (time_t)(nursery_now_s() - (int64_t)ago * 86400);
	struct tm tm;
	char *to = days[next++ % 8];

	assert_non_null(gmtime_r(&s, &tm));
	assert_true(strftime(to, sizeof days[0], "%Y-%m-%d", &tm) > 0);
	return to;
}

/* The litter `amber`, born ten days ago. */
static struct client *begin(struct rig *rig)
{
	struct client *client = client_open(rig);

	(void)client_call(client, "litter.add", "{s:s, s:I}", "name", "amber", "born",
			  (json_int_t)(nursery_now_s() * 1000 - 10 * DAY_MS));
	for (size_t i = 0; i < PUPS; i++)
		(void)client_call(client, "animal.add", "{s:s, s:s, s:s, s:i}", "name", nursery_pups[i].name, "litter",
				  "amber", "collar", nursery_pups[i].collar, "birth_g", nursery_pups[i].grams);
	return client;
}

static void test_wide(void **state)
{
	struct rig *rig = *state;
	struct client *client = begin(rig);
	const json_t *notice;
	const char *path, *out;

	(void)client_call(client, "follow", "{s:[s, s, s]}", "topics", "ask", "recorded", "imported");
	path = file_of(
		rig,
		"\xef\xbb\xbf"
		"Date;Time;Ash (g);red (g);note\r\n%s;7:30;320,5;330;\"warm, \"\"fed\"\"\"\r\n%s;7:30 pm;334;;\r\n"
		"%s;7:30;352;362;\r\n",
		day(9), day(9), day(8));
	out = import(rig, 0, path, NULL, NULL);
	has(rig, out, "5 weighings");
	has(rig, out, "\"note\" is ignored");
	has(rig, out, "5 new.");
	rig_expect_row(rig, "0", "SELECT count(*) FROM reading");

	out = import(rig, 0, path, "--really", "--by=scribe");
	has(rig, out, "5 added.");
	rig_expect_row(rig, "5|5|5",
		       "SELECT count(*), sum(origin = 'typed'), sum(answered_by = 'scribe') FROM reading");
	rig_expect_row(rig, "320.5|0.1|0",
		       "SELECT net_g, step_g, offset_min FROM reading WHERE animal = 'Ash' ORDER BY at_ms LIMIT 1");
	rig_expect_row(rig, "362.0", "SELECT newest_g FROM animal_now WHERE animal = 'Birch'"); /* red */
	rig_expect_row(rig, day(9),
		       "SELECT substr(at, 1, 10) FROM reading WHERE net_g = 334 AND substr(at, 12) = '19:30:00.000Z'");
	notice = client_notice(client, "imported");
	assert_int_equal(json_integer_value(json_object_get(notice, "readings")), 5);
	assert_string_equal(json_string_value(json_array_get(json_object_get(notice, "litters"), 0)), "amber");
	assert_string_equal(client_text(client, notice, "by"), "scribe");
	assert_int_equal(client_notices(client, "recorded") + client_notices(client, "ask"), 0);

	/* a second time, and with one row more */
	out = import(rig, 0, path, "--really", NULL);
	has(rig, out, "0 added, 5 on record already.");
	path = file_of(rig, "date,time,pup,weight\n%s,7:30,Ash,352g\n%s,19:30,Ash,371g\n%s,19:30,green,371g\n", day(8),
		       day(8), day(8));
	out = import(rig, 0, path, "--really", NULL);
	has(rig, out, "1 added, 1 on record already, 1 twice in the file.");
	rig_expect_row(rig, "6", "SELECT count(*) FROM reading");

	/* what export writes, import reads: all of it is known */
	struct rig_ran ran;
	char own[128];
	(void)snprintf(own, sizeof own, "%s/own.csv", rig->dir);
	rig_run_ctl(rig, (const char *const[]){ "export", "csv", "-o", own, NULL }, &ran);
	assert_int_equal(ran.status, 0);
	has(rig, import(rig, 0, own, "--really", NULL), "0 added, 6 on record already.");
	client_close(client);
}

static void test_mistakes(void **state)
{
	struct rig *rig = *state;
	struct client *client = begin(rig);
	const char *path, *out;

	(void)client_call(client, "animal.gone", "{s:s, s:s}", "name", "Elm", "why", "sold");
	path = file_of(rig,
		       "date,time,pup,weight,fed\n%s,7:30,Ash,320g,before\n%s,7:30,Birch,330,\n%s,7:30,Zinnia,330g,\n%"
		       "s,7:30,Elm,330g,\n"
		       "2190-01-01,7:30,Ash,330g,\n",
		       day(9), day(9), day(9), day(9));
	out = import(rig, 1, path, "--really", "--doubtful");
	has(rig, out, "Row 3, column weight: the unit is missing");
	has(rig, out, "Row 4, column pup: no animal is called \"Zinnia\"");
	has(rig, out, "Row 5, column pup: Elm is gone since");
	has(rig, out, "Row 6, column date: that time lies ahead");
	rig_expect_row(rig, "0", "SELECT count(*) FROM weighing");
	/* the one that was right, with what else is told of it */
	path = file_of(rig, "date,time,pup,weight,fed\n%s,7:30 +05:30,Ash,320g,BEFORE\n", day(9));
	(void)import(rig, 0, path, "--really", NULL);
	rig_expect_row(rig, "before|330|02:00:00.000Z", "SELECT fed, offset_min, substr(at, 12) FROM reading");
	/* what isn't there, or is no text */
	(void)import(rig, 1, "/nonexistent", NULL, NULL);
	(void)import(rig, 1, rig->dir, NULL, NULL);
	(void)import(rig, 1, "/dev/null", NULL, NULL);
	(void)import(rig, 1, "/dev/zero", NULL, NULL);
	client_close(client);
}

/* A slip of the pen, another pup's, and a time before birth are told, and need a word. */
static void test_doubts(void **state)
{
	struct rig *rig = *state;
	struct client *client = begin(rig);
	const char *path, *out;

	path = file_of(
		rig, "date,time,Ash (g),Birch (g)\n%s,7:30,322,331\n%s,7:30,345,3570\n%s,7:30,371,382\n%s,7:30,290,\n",
		day(9), day(8), day(7), day(11));
	out = import(rig, 1, path, "--really", NULL);
	has(rig, out, "Doubtful: Row 3, column Birch: 3570 g is far off what Birch weighed before");
	has(rig, out, "Doubtful: Row 5, column date: that is before Ash was born");
	if (strstr(out, "Row 2") || strstr(out, "Row 4"))
		deck_fail(rig->deck, "more doubts than there are: %s", out);
	rig_expect_row(rig, "0", "SELECT count(*) FROM weighing");
	out = import(rig, 0, path, "--really", "--doubtful");
	has(rig, out, "7 added.");
	/* on record, it isn't doubted again */
	out = import(rig, 0, path, "--really", NULL);
	has(rig, out, "0 added, 7 on record already.");
	/* nothing is known of it, and the first that is written is the slip: that isn't held against all the others */
	(void)client_call(client, "animal.add", "{s:s, s:s}", "name", "Rowan", "litter", "amber");
	path = file_of(rig, "date,time,Rowan (g)\n%s,7:30,3050\n%s,7:30,322\n%s,7:30,345\n%s,7:30,371\n%s,7:30,398\n",
		       day(9), day(8), day(7), day(6), day(5));
	out = import(rig, 1, path, "--json", NULL);
	has(rig, out, "\"doubts\":1,");
	has(rig, out, "{\"row\":3,\"column\":\"Rowan\",\"doubtful\":true,");
	client_close(client);
}

/* What was taken back or corrected since stays so. */
static void test_taken_back(void **state)
{
	struct rig *rig = *state;
	struct client *client = begin(rig);
	const char *path = file_of(rig, "date,time,Ash (g),Birch (g)\n%s,7:30,322,331\n", day(9));
	char id[64];

	(void)import(rig, 0, path, "--really", NULL);
	(void)snprintf(id, sizeof id, "%s", rig_row(rig, "SELECT reading_id FROM reading WHERE animal = 'Ash'"));
	(void)client_call(client, "correct", "{s:s, s:s}", "reading", id, "animal", "Cedar");
	(void)snprintf(id, sizeof id, "%s", rig_row(rig, "SELECT reading_id FROM reading WHERE animal = 'Birch'"));
	(void)client_call(client, "aside", "{s:s}", "ask",
			  client_text(client, client_call(client, "reopen", "{s:s}", "ask", id), "ask"));
	has(rig, import(rig, 0, path, "--really", NULL), "0 added, 2 on record already.");
	rig_expect_row(rig, "Cedar|1", "SELECT animal, count(*) FROM reading");
	client_close(client);
}

/* Concerns follow as from late readings: a pup that lost weight on paper is worried about. */
static void test_concern(void **state)
{
	struct rig *rig = *state;
	struct client *client = begin(rig);
	const json_t *concern;
	char text[2048] = "date,time,Ash (g),Birch (g)\n";

	(void)client_call(client, "follow", "{s:[s, s]}", "topics", "concern", "ask");
	for (int i = 0; i < 6; i++) {
		size_t n = strlen(text);
		(void)snprintf(text + n, sizeof text - n, "%s,8:00,%d,%d\n", day(9 - i), 330 + 20 * i, 340 - 9 * i);
	}
	(void)import(rig, 0, file_of(rig, "%s", text), "--really", "--doubtful");
	concern = client_notice_of(client, "concern", "name", "Birch");
	assert_true(json_is_true(json_object_get(concern, "open")));
	assert_int_equal(client_notices(client, "ask"), 0);
	/* as if they had been typed one by one, in any order: the same readings make the same growth */
	const json_t *growth = client_call(client, "growth", "{s:s}", "who", "Birch");
	assert_int_equal(
		json_integer_value(json_object_get(json_array_get(json_object_get(growth, "growth"), 0), "readings")),
		7);
	client_close(client);
}

/* ---- the requests ---- */

/* n rows of Ash from this minute on, a minute apart. */
static json_t *rows_of(int n, int from)
{
	json_t *rows = json_array();
	int64_t born_ms = nursery_now_s() / 60 * 60000 - 9 * DAY_MS;

	for (int i = from; i < from + n; i++)
		assert_int_equal(
			json_array_append_new(rows, json_pack("{s:s, s:s, s:I}", "animal", "Ash", "mass", "330g", "at",
							      (json_int_t)(born_ms + i * 60000))),
			0);
	return rows;
}

static void hand_in(struct client *client, int n, int from)
{
	json_t *rows = rows_of(n, from);

	(void)client_call(client, "import.rows", "{s:o}", "rows", rows);
}

/* One at a time, of the connection that began it, and gone with it. */
static void test_own(void **state)
{
	struct rig *rig = *state;
	struct client *client = begin(rig), *other = client_open(rig);
	const json_t *result;

	(void)client_refused(client, "no-import", "import.check", NULL);
	result = client_call(client, "import.begin", NULL);
	assert_int_equal(json_integer_value(json_object_get(result, "room")), LIMIT_IMPORT_ROWS);
	hand_in(client, 3, 0);
	(void)client_refused(other, "busy", "import.begin", NULL);
	(void)client_refused(other, "no-import", "import.commit", NULL);
	hand_in(client, 2, 2); /* one of them again */
	result = client_call(client, "import.check", NULL);
	assert_int_equal(json_integer_value(json_object_get(result, "new")), 4);
	assert_int_equal(json_integer_value(json_object_get(result, "repeated")), 1);
	client_close(client);
	/* the daemon hears of the end when it comes to it: until then it is busy */
	for (;;) {
		const json_t *reply = client_reply(other, client_ask(other, "import.begin", NULL));
		if (json_object_get(reply, "result"))
			break;
	}
	result = client_call(other, "import.commit", NULL); /* nothing is handed in: nothing is left of the other's */
	assert_int_equal(json_integer_value(json_object_get(result, "added")), 0);
	rig_expect_row(rig, "0", "SELECT count(*) FROM weighing");

	/* begun anew, what was handed in before is gone; refused rows hold up all */
	(void)client_call(other, "import.begin", NULL);
	hand_in(other, 3, 0);
	(void)client_call(other, "import.begin", NULL);
	result = client_call(other, "import.rows", "{s:[{s:s, s:s, s:s}, {s:s, s:s, s:s, s:s}, {s:s}]}", "rows",
			     "animal", "Ash", "mass", "330", "at", "2026-01-01T00:00:00Z", "who", "nobody", "mass_g",
			     "330g", "at", "2026-01-01T00:00:00Z", "fed", "before", "bogus", "x");
	assert_int_equal(json_integer_value(json_object_get(result, "n_refused")), 3);
	assert_string_equal(client_text(other, json_array_get(json_object_get(result, "refused"), 0), "code"),
			    "which-unit");
	assert_string_equal(client_text(other, json_array_get(json_object_get(result, "refused"), 1), "code"),
			    "not-found");
	assert_string_equal(client_text(other, json_array_get(json_object_get(result, "refused"), 2), "code"),
			    "unknown-param");
	(void)client_refused(other, "bad-rows", "import.commit", NULL);
	assert_int_equal(json_integer_value(json_object_get(client_call(other, "import.drop", NULL), "rows")), 3);
	(void)client_refused(other, "no-import", "import.drop", NULL);
	client_close(other);
}

/* Forgotten by its client, it is dropped: another may begin, and what was handed in is gone. */
static void test_idle(void **state)
{
	struct rig *rig = *state;
	struct client *client = begin(rig), *other = client_open(rig);

	(void)client_refused(client, "bad-value", "import.begin", "{s:i}", "seconds", 61);
	(void)client_refused(client, "bad-value", "import.begin", "{s:i}", "seconds", 0);
	(void)client_call(client, "import.begin", "{s:i}", "seconds", 1);
	hand_in(client, 3, 0);
	(void)client_refused(other, "busy", "import.begin", NULL);
	while (!json_object_get(client_reply(other, client_ask(other, "import.begin", NULL)), "result"))
		(void)usleep(20000); /* until it lapses: nothing tells that */
	(void)client_refused(client, "no-import", "import.commit", NULL);
	client_close(other);
	client_close(client);
}

static void test_cap(void **state)
{
	struct rig *rig = *state;
	struct client *client = begin(rig);
	const json_t *result;

	(void)client_call(client, "import.begin", NULL);
	for (int i = 0; i < LIMIT_IMPORT_ROWS; i += 500)
		hand_in(client, 500, i);
	json_t *more = rows_of(1, LIMIT_IMPORT_ROWS);
	(void)client_refused(client, "too-many", "import.rows", "{s:o}", "rows", more);
	result = client_call(client, "import.check", NULL);
	assert_int_equal(json_integer_value(json_object_get(result, "new")), LIMIT_IMPORT_ROWS);
	result = client_call(client, "import.commit", NULL);
	assert_int_equal(json_integer_value(json_object_get(result, "added")), LIMIT_IMPORT_ROWS);
	rig_expect_row(rig, "10000", "SELECT count(*) FROM reading");
	client_close(client);
}

/* ---- killed ---- */

static void restart(struct rig *rig, struct client **client)
{
	client_close(*client);
	rig_kill_daemon(rig);
	rig_start_daemon(rig);
	*client = client_open(rig);
}

#define LOT 800

static void hand_in_lot(struct client *client, int lot)
{
	(void)client_call(client, "import.begin", NULL);
	for (int i = 0; i < LOT; i += 400)
		hand_in(client, 400, lot * LOT + i);
}

/* Rows of this lot that are in the ledger: as weighings, and as answers. */
static void count_lot(struct rig *rig, long ret[2])
{
	const char *row = rig_row(rig, "SELECT (SELECT count(*) FROM weighing), (SELECT count(*) FROM answer)");
	char *end;

	ret[0] = strtol(row, &end, 10);
	ret[1] = strtol(end + 1, NULL, 10);
}

/* Killed before, during and after its commit: all or nothing, and once more makes it whole. */
static void test_killed(void **state)
{
	struct rig *rig = *state;
	struct client *client = begin(rig);
	const json_t *result;
	long n[2];

	hand_in_lot(client, 0);
	restart(rig, &client); /* before */
	count_lot(rig, n);
	assert_int_equal(n[0] + n[1], 0);
	for (int lot = 0; lot < 5; lot++) {
		int64_t added;
		hand_in_lot(client, lot);
		(void)client_ask(client, "import.commit", NULL);
		(void)usleep((useconds_t)(lot * lot *
					  3000)); /* another moment each time; what must hold is the same at any */
		restart(rig, &client);
		count_lot(rig, n);
		assert_int_equal(n[0], n[1]);
		if (n[0] != lot * LOT && n[0] != (lot + 1) * LOT)
			deck_fail(rig->deck, "%ld of a lot of %d were added", n[0] - lot * LOT, LOT);
		hand_in_lot(client, lot);
		result = client_call(client, "import.commit", NULL);
		added = json_integer_value(json_object_get(result, "added"));
		assert_int_equal(added, n[0] == lot * LOT ? LOT : 0);
		assert_int_equal(json_integer_value(json_object_get(result, "on_record")), LOT - added);
		count_lot(rig, n);
		assert_int_equal(n[0], (lot + 1) * LOT);
		assert_int_equal(n[1], (lot + 1) * LOT);
		rig_expect_row(rig, "ok", "PRAGMA integrity_check");
	}
	client_close(client);
}

#define CASE(name) cmocka_unit_test_setup_teardown(name, rig_setup, rig_teardown)

int main(int argc, char **argv)
{
	const struct CMUnitTest tests[] = {
		CASE(test_wide), CASE(test_mistakes), CASE(test_doubts), CASE(test_taken_back), CASE(test_concern),
		CASE(test_own),  CASE(test_idle),     CASE(test_cap),    CASE(test_killed),
	};

	rig_programs(argc, argv);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
