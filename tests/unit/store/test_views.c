// SPDX-License-Identifier: MIT
/* Each write, read back through the views by a connection of its own that can't write. */
#include "ledger.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#define READING                                                                                                        \
	"SELECT animal, collar, litter, at, at_ms, net_g, u_g, gross_g, tare_g, container, scale, origin, "            \
	"state, fed, answered_at_ms, answered_by, offset_min, step_g FROM reading"

static void roster(void **state)
{
	struct ledger *l = *state;
	const struct store_stamp stamp = ledger_stamp(LEDGER_T0 + 5000);

	ledger_expect(l->dir, "SELECT address, name, container, adopted_at_ms, newest_at_ms FROM scale_now",
		      "C0:FF:EE:00:00:01|kitchen|bowl|1767225600000|\n");
	ledger_expect(l->dir,
		      "SELECT container, tare_g, u_g, tared_at_ms, checked_at_ms, drift_g, scale FROM container_now",
		      "bowl|412.0|1.5|1767225600000|1767225600000||kitchen\n");
	ledger_expect(l->dir, "SELECT litter, dam, born_at_ms, adult_g, open, animals FROM litter_now",
		      "first|dam|1767225600000|9000.0|1|2\n");
	ledger_expect(l->dir,
		      "SELECT animal, collar, sex, litter, born_at_ms, birth_g, newest_at_ms, newest_g, "
		      "verdict FROM animal_now ORDER BY animal",
		      "one|green|f|first|1767225600000|300.5|||\ntwo|||first|1767225600001||||\n");

	assert_int_equal(store_put_container(l->store, &stamp, l->scale, NULL), 0);
	ledger_expect(l->dir, "SELECT name, container_id, container FROM scale_now", "kitchen||\n");
	ledger_expect(l->dir, "SELECT scale FROM container_now", "\n");
	assert_int_equal(store_animal_gone(l->store, &stamp, l->animal[1], "new home"), 0);
	ledger_expect(l->dir, "SELECT animal FROM animal_now", "one\n");
	ledger_expect(l->dir, "SELECT animals FROM litter_now", "1\n");
	assert_int_equal(store_close_litter(l->store, &stamp, l->litter), 0);
	ledger_expect(l->dir, "SELECT animal FROM animal_now", "");
	ledger_expect(l->dir, "SELECT litter, open FROM litter_now", "first|0\n");
	assert_int_equal(store_forget_scale(l->store, &stamp, l->scale), 0);
	ledger_expect(l->dir, "SELECT name FROM scale_now", "");
}

static void who_and_when_is_in_each_row(void **state)
{
	struct ledger *l = *state;
	const struct store_stamp stamp = {
		.at_ms = LEDGER_T0 + 9, .offset_min = -210, .peer = "someone", .said = "vet"
	};

	assert_int_equal(store_forget_scale(l->store, &stamp, l->scale), 0);
	ledger_expect(l->dir, "SELECT at_ms, offset_min, peer, said FROM scale_end",
		      "1767225600009|-210|someone|vet\n");
	ledger_expect(l->dir, "SELECT at_ms, offset_min, peer, said FROM animal_alias WHERE alias = '17'",
		      "1767225600000|60|uid 1000|\n");
}

static void weighing_answered_corrected_reopened_set_aside(void **state)
{
	struct ledger *l = *state;
	struct store_stamp stamp = ledger_stamp(LEDGER_T0 + 70000);
	char id[UUID7_SIZE], sql[160];

	assert_int_equal(ledger_weigh(l, LEDGER_T0 + 60500, 308000, id), 0);
	ledger_expect(
		l->dir,
		"SELECT at, at_ms, net_g, u_g, gross_g, tare_g, container, scale, origin, state, "
		"offset_min, step_g FROM unanswered",
		"2026-01-01T00:01:00.500Z|1767225660500|308.0|2.082|720.0|412.0|bowl|kitchen|radio|settled|60|5.0\n");
	(void)snprintf(sql, sizeof(sql), "SELECT count(*) FROM unanswered WHERE weighing_id = '%s'", id);
	ledger_expect(l->dir, sql, "1\n");
	ledger_expect(l->dir, READING, "");
	ledger_expect(l->dir, "SELECT newest_at_ms FROM scale_now", "1767225660500\n");

	stamp.said = "night shift";
	assert_int_equal(store_answer(l->store, &stamp, id, STORE_ANSWER, l->animal[0], NULL, "before"), 0);
	ledger_expect(l->dir, "SELECT count(*) FROM unanswered", "0\n");
	ledger_expect(
		l->dir, READING,
		"one|green|first|2026-01-01T00:01:00.500Z|1767225660500|308.0|2.082|720.0|412.0|bowl|kitchen|radio|"
		"settled|before|1767225670000|night shift|60|5.0\n");
	(void)snprintf(sql, sizeof(sql), "SELECT count(*) FROM reading WHERE reading_id = '%s' AND animal_id = '%s'",
		       id, l->animal[0]);
	ledger_expect(l->dir, sql, "1\n");
	ledger_expect(l->dir, "SELECT animal, newest_at_ms, newest_g, newest_u_g FROM animal_now WHERE newest_g > 0",
		      "one|1767225660500|308.0|2.082\n");

	stamp.said = NULL;
	stamp.at_ms += 1000;
	assert_int_equal(store_answer(l->store, &stamp, id, STORE_CORRECT, l->animal[1], NULL, NULL), 0);
	ledger_expect(l->dir, "SELECT animal, fed, answered_at_ms, answered_by FROM reading",
		      "two|before|1767225671000|uid 1000\n");
	ledger_expect(l->dir, "SELECT animal, newest_g FROM animal_now ORDER BY animal", "one|\ntwo|308.0\n");

	assert_int_equal(store_answer(l->store, &stamp, id, STORE_REOPEN, NULL, NULL, NULL), 0);
	ledger_expect(l->dir, "SELECT count(*) FROM reading UNION ALL SELECT count(*) FROM unanswered", "0\n1\n");
	assert_int_equal(store_answer(l->store, &stamp, id, STORE_REOPEN, NULL, NULL, NULL), 0); /* twice: no harm */
	assert_int_equal(store_answer(l->store, &stamp, id, STORE_ASIDE, NULL, "a slipper", NULL), 0);
	ledger_expect(l->dir, "SELECT count(*) FROM reading UNION ALL SELECT count(*) FROM unanswered", "0\n0\n");
	assert_int_equal(store_answer(l->store, &stamp, id, STORE_ANSWER, l->animal[0], NULL, NULL), 0);
	ledger_expect(l->dir, "SELECT animal, fed FROM reading", "one|\n");
	/* nothing was overwritten on the way */
	ledger_expect(l->dir, "SELECT group_concat(kind) FROM answer", "answer,correct,reopen,reopen,aside,answer\n");
	ledger_expect(l->dir, "SELECT why FROM answer WHERE kind = 'aside'", "a slipper\n");
}

static void readings_outlive_animal_litter_and_scale(void **state)
{
	struct ledger *l = *state;
	const struct store_stamp stamp = ledger_stamp(LEDGER_T0);
	char id[UUID7_SIZE];

	assert_int_equal(ledger_weigh(l, LEDGER_T0, 308000, id), 0);
	assert_int_equal(store_answer(l->store, &stamp, id, STORE_ANSWER, l->animal[0], NULL, "after"), 0);
	assert_int_equal(store_animal_gone(l->store, &stamp, l->animal[0], NULL), 0);
	assert_int_equal(store_close_litter(l->store, &stamp, l->litter), 0);
	assert_int_equal(store_forget_scale(l->store, &stamp, l->scale), 0);
	ledger_expect(l->dir, "SELECT animal, litter, scale, fed FROM reading", "one|first|kitchen|after\n");
	ledger_expect(l->dir, "SELECT scale, received_at_ms, uuid, bytes, fate, why FROM frame_log",
		      "kitchen|1767225600000|2a9d|009000|used|\n");
}

static void typed(void **state)
{
	struct ledger *l = *state;
	const struct store_stamp stamp = ledger_stamp(LEDGER_T0 + 10);
	const struct weighing weighing = {
		.at_ms = LEDGER_T0 - 1, .origin = WEIGH_TYPED, .gross_mg = 301001, .net_mg = 301001, .u_mg = 289
	};
	const struct store_weighing row = { .weighing = &weighing, .user = -1 };
	char id[UUID7_SIZE];

	assert_int_equal(store_add_typed(l->store, &stamp, &row, l->animal[0], NULL, id), 0);
	ledger_expect(
		l->dir, READING,
		"one|green|first|2025-12-31T23:59:59.999Z|1767225599999|301.001|0.289|301.001|0.0|||typed|settled||"
		"1767225600010|uid 1000|60|\n");
	ledger_expect(l->dir, "SELECT count(*) FROM unanswered UNION ALL SELECT count(*) FROM frame_log", "0\n0\n");
}

/* The reader's SQLite counts milliseconds in floating point; the time in the row is an integer. */
static void each_millisecond_is_exact(void **state)
{
	struct ledger *l = *state;
	struct store_stamp stamp = ledger_stamp(LEDGER_T0);
	struct weighing weighing = { .origin = WEIGH_TYPED, .gross_mg = 300000, .net_mg = 300000, .u_mg = 1 };
	const struct store_weighing row = { .weighing = &weighing, .user = -1 };
	char id[UUID7_SIZE], line[64], *text, *at;
	int i;

	for (i = 0; i < 100; i++) {
		weighing.at_ms = LEDGER_T0 + INT64_C(86399993) * i + 7 * i * i;
		assert_int_equal(store_add_typed(l->store, &stamp, &row, l->animal[0], NULL, id), 0);
	}
	text = ledger_rows(l->dir, "SELECT at FROM reading ORDER BY reading_id");
	for (i = 0, at = text; i < 100; i++) {
		int64_t ms = LEDGER_T0 + INT64_C(86399993) * i + 7 * i * i;
		time_t s = (time_t)(ms / 1000);
		struct tm tm;
		size_t n = strftime(line, sizeof(line), "%Y-%m-%dT%H:%M:%S", gmtime_r(&s, &tm)); /* the C library's */

		(void)snprintf(line + n, sizeof(line) - n, ".%03dZ\n", (int)(ms % 1000));
		assert_memory_equal(at, line, strlen(line));
		at += strlen(line);
	}
	free(text);
}

static void animal_now_takes_the_newest_by_time(void **state)
{
	struct ledger *l = *state;
	const struct store_stamp stamp = ledger_stamp(LEDGER_T0 + 9000);
	char id[3][UUID7_SIZE], newest[UUID7_SIZE + 1];
	int i;

	/* the scale sends what it stored: the oldest comes last */
	for (i = 0; i < 3; i++) {
		assert_int_equal(ledger_weigh(l, LEDGER_T0 + 3000 - i * 1000, 308000 - i * 5000, id[i]), 0);
		assert_int_equal(store_answer(l->store, &stamp, id[i], STORE_ANSWER, l->animal[0], NULL, NULL), 0);
	}
	(void)snprintf(newest, sizeof(newest), "%s\n", id[0]);
	ledger_expect(l->dir, "SELECT newest_g FROM animal_now WHERE animal = 'one'", "308.0\n");
	ledger_expect(l->dir, "SELECT newest_reading_id FROM animal_now WHERE animal = 'one'", newest);
	assert_int_equal(store_answer(l->store, &stamp, id[0], STORE_ASIDE, NULL, NULL, NULL), 0);
	ledger_expect(l->dir, "SELECT newest_g FROM animal_now WHERE animal = 'one'", "303.0\n");
}

static void frames_and_checks(void **state)
{
	struct ledger *l = *state;
	struct store_stamp stamp = ledger_stamp(LEDGER_T0 + 1000);
	struct store_frame frame = { .scale_id = l->scale,
				     .uuid = "2a9d",
				     .octets = (const uint8_t *)"",
				     .n = 0,
				     .received_ms = LEDGER_T0 + 1000,
				     .fate = STORE_REFUSED,
				     .why = "too short" };
	struct store_check check = { .container_id = l->container, .gross_mg = 413000, .u_mg = 1444, .drift_mg = 1000 };

	assert_int_equal(store_add_frame(l->store, &stamp, &frame, NULL, NULL, NULL), 0);
	frame.octets = (const uint8_t *)"\x00\x53\x00";
	frame.n = 3;
	frame.fate = STORE_REPEAT;
	frame.why = NULL;
	assert_int_equal(store_add_frame(l->store, &stamp, &frame, NULL, NULL, NULL), 0);
	ledger_expect(l->dir, "SELECT received_at_ms, bytes, typeof(bytes), fate, why FROM frame_log ORDER BY frame_id",
		      "1767225601000||blob|refused|too short\n1767225601000|005300|blob|repeat|\n");

	frame.fate = STORE_USED;
	assert_int_equal(store_add_frame(l->store, &stamp, &frame, NULL, &check, NULL), 0);
	ledger_expect(l->dir, "SELECT tare_g, tared_at_ms, checked_at_ms, drift_g FROM container_now",
		      "412.0|1767225600000|1767225601000|1.0\n");
	frame.received_ms += 1000;
	check = (struct store_check){
		.container_id = l->container, .gross_mg = 440000, .u_mg = 1444, .drift_mg = 28000, .drifted = true
	};
	assert_int_equal(store_add_frame(l->store, &stamp, &frame, NULL, &check, NULL), 0);
	ledger_expect(l->dir, "SELECT tare_g, tared_at_ms, checked_at_ms, drift_g FROM container_now",
		      "412.0|1767225600000|1767225601000|28.0\n");
	frame.received_ms += 1000;
	check.becomes_tare = true;
	assert_int_equal(store_add_frame(l->store, &stamp, &frame, NULL, &check, NULL), 0);
	ledger_expect(l->dir, "SELECT tare_g, u_g, tared_at_ms, checked_at_ms, drift_g FROM container_now",
		      "440.0|1.444|1767225603000|1767225603000|\n");
	/* the newest by order of writing, whatever the clock said */
	stamp.at_ms = LEDGER_T0 - 1000;
	assert_int_equal(store_tare(l->store, &stamp, l->container, 415000, 289), 0);
	ledger_expect(l->dir, "SELECT tare_g, tared_at_ms, checked_at_ms, drift_g FROM container_now",
		      "415.0|1767225599000|1767225599000|\n");
}

static void containers_move(void **state)
{
	struct ledger *l = *state;
	const struct store_stamp stamp = ledger_stamp(LEDGER_T0);
	char other[UUID7_SIZE], box[UUID7_SIZE];

	assert_int_equal(store_adopt_scale(l->store, &stamp, "C0:FF:EE:00:00:02", "hall", other), 0);
	assert_int_equal(store_add_container(l->store, &stamp, "box", box), 0);
	assert_int_equal(store_put_container(l->store, &stamp, other, l->container), 0);
	assert_int_equal(store_put_container(l->store, &stamp, l->scale, box), 0);
	ledger_expect(l->dir, "SELECT name, container FROM scale_now ORDER BY name", "hall|bowl\nkitchen|box\n");
	ledger_expect(l->dir, "SELECT container, tare_g, scale FROM container_now ORDER BY container",
		      "bowl|412.0|hall\nbox||kitchen\n");
	assert_int_equal(store_forget_scale(l->store, &stamp, other), 0);
	ledger_expect(l->dir, "SELECT container, scale FROM container_now ORDER BY container", "bowl|\nbox|kitchen\n");
}

/* The caller's mistakes: refused, whole, and the store goes on. */
static void impossible_values_are_refused(void **state)
{
	struct ledger *l = *state;
	const struct store_stamp stamp = ledger_stamp(LEDGER_T0), nobody = { 0 };
	const char *const nine[] = { "1", "2", "3", "4", "5", "6", "7", "8", "9" };
	const char *const hollow[] = { "1", "" };
	const struct store_new_animal too_many = {
		.name = "three", .litter_id = l->litter, .born_ms = INT64_MIN, .aliases = nine, .n_aliases = 9
	};
	const struct store_new_animal eight = {
		.name = "three", .litter_id = l->litter, .born_ms = INT64_MIN, .aliases = nine, .n_aliases = 8
	};
	const struct store_new_animal half = {
		.name = "four", .litter_id = l->litter, .born_ms = INT64_MIN, .aliases = hollow, .n_aliases = 2
	};
	const struct weighing wrong = { .gross_mg = 2, .tare_mg = 1, .net_mg = 2 };
	const struct store_weighing row = { .weighing = &wrong, .user = -1 };
	char id[UUID7_SIZE] = "untouched", other[UUID7_SIZE];

	assert_int_equal(store_answer(l->store, &stamp, "no-such", STORE_ANSWER, l->animal[0], NULL, NULL), -EINVAL);
	assert_int_equal(ledger_weigh(l, LEDGER_T0, 308000, other), 0);
	assert_int_equal(store_answer(l->store, &stamp, other, STORE_ANSWER, "no-such", NULL, NULL), -EINVAL);
	assert_int_equal(store_answer(l->store, &stamp, other, STORE_ANSWER, NULL, NULL, NULL), -EINVAL);
	assert_int_equal(store_answer(l->store, &stamp, other, STORE_ASIDE, l->animal[0], NULL, NULL), -EINVAL);
	assert_int_equal(store_answer(l->store, &stamp, other, STORE_ANSWER, l->animal[0], NULL, "maybe"), -EINVAL);
	assert_int_equal(store_add_typed(l->store, &stamp, &row, l->animal[0], NULL, id), -EINVAL);
	assert_int_equal(store_adopt_scale(l->store, &stamp, "", "x", id), -EINVAL);
	assert_int_equal(store_adopt_scale(l->store, &nobody, "C0:FF:EE:00:00:03", "x", id), -EINVAL);
	assert_int_equal(store_add_animal(l->store, &stamp, &too_many, id), -EINVAL);
	assert_int_equal(store_add_animal(l->store, &stamp, &half, id), -EINVAL);
	assert_string_equal(id, "untouched");
	assert_true(strlen(store_detail(l->store)) > 0);
	ledger_expect(l->dir,
		      "SELECT count(*) FROM answer UNION ALL SELECT count(*) FROM animal "
		      "UNION ALL SELECT count(*) FROM animal_alias UNION ALL SELECT count(*) FROM weighing",
		      "0\n2\n2\n1\n");
	assert_int_equal(store_add_animal(l->store, &stamp, &eight, id), 0); /* at the cap */
	ledger_expect(l->dir, "SELECT count(*) FROM animal_alias", "10\n");
}

/* open_weighing is an index that triggers keep: compared with its definition after a long walk of answers. */
static void unanswered_agrees_with_its_definition(void **state)
{
	struct ledger *l = *state;
	const struct store_stamp stamp = ledger_stamp(LEDGER_T0);
	char id[40][UUID7_SIZE];
	unsigned seed = 1, i;

	for (i = 0; i < 40; i++)
		assert_int_equal(ledger_weigh(l, LEDGER_T0 + i, 308000, id[i]), 0);
	for (i = 0; i < 400; i++) {
		enum store_answer_kind kind = (seed >> 16) % 4;
		bool animal = kind == STORE_ANSWER || kind == STORE_CORRECT;

		assert_int_equal(store_answer(l->store, &stamp, id[(seed >> 20) % 40], kind,
					      animal ? l->animal[i % 2] : NULL, NULL, NULL),
				 0);
		seed = seed * 1103515245u + 12345u; /* C11, 7.22.2.2, EXAMPLE */
	}
	ledger_expect(l->dir,
		      "SELECT count(*) FROM (SELECT w.id FROM weighing AS w WHERE coalesce((SELECT kind FROM answer "
		      "WHERE weighing = w.id ORDER BY seq DESC LIMIT 1), 'reopen') = 'reopen' "
		      "EXCEPT SELECT weighing_id FROM unanswered)",
		      "0\n");
	ledger_expect(l->dir,
		      "SELECT count(*) FROM unanswered AS u WHERE coalesce((SELECT kind FROM answer "
		      "WHERE weighing = u.weighing_id ORDER BY seq DESC LIMIT 1), 'reopen') <> 'reopen'",
		      "0\n");
	assert_true(ledger_count(l->dir, "SELECT count(*) FROM unanswered") > 0);
	ledger_expect(l->dir, "SELECT count(*) FROM (SELECT reading_id FROM reading GROUP BY 1 HAVING count(*) > 1)",
		      "0\n");
	ledger_expect(l->dir,
		      "SELECT (SELECT count(*) FROM reading) = (SELECT count(*) FROM weighing AS w WHERE (SELECT kind "
		      "FROM answer WHERE weighing = w.id ORDER BY seq DESC LIMIT 1) IN ('answer', 'correct'))",
		      "1\n");
}

static void growth_of_the_newest(void **state)
{
	struct ledger *l = *state;
	const struct store_stamp stamp = ledger_stamp(LEDGER_T0);
	struct store_growth growth = { .animal_id = l->animal[0], .as_of_ms = LEDGER_T0 + 1, .gain_mg_per_day = -3100,
				       .u_gain_mg_per_day = 900, .gain_pct_per_day = -1.25, .verdict = "losing",
				       .tell_ms = INT64_MAX };

	ledger_follow(l, LEDGER_T0);
	ledger_expect(l->dir,
		      "SELECT animal, gain_g_per_day, u_gain_g_per_day, gain_pct_per_day, verdict, tell_at_ms FROM animal_now "
		      "ORDER BY animal",
		      "one|14.25|2.5|4.75|gaining|1767229200000\ntwo|||||\n");
	assert_int_equal(store_add_growth(l->store, &stamp, &growth), 0);
	ledger_expect(l->dir,
		      "SELECT animal, gain_g_per_day, u_gain_g_per_day, gain_pct_per_day, verdict, tell_at_ms FROM animal_now "
		      "WHERE animal = 'one'",
		      "one|-3.1|0.9|-1.25|losing|\n");
	growth.verdict = "fine";
	assert_int_equal(store_add_growth(l->store, &stamp, &growth), -EINVAL);
	growth.verdict = "flat";
	growth.animal_id = "nobody";
	assert_int_equal(store_add_growth(l->store, &stamp, &growth), -EINVAL);
}

static int concern_row(void *userdata, const struct store_concern *row)
{
	char *to = userdata;

	(void)snprintf(to + strlen(to), 256 - strlen(to), "%s %s %s %s;", row->animal_id ? "one" : "all", row->level, row->rule,
		       row->text);
	return 0;
}

/* Each concern is there as its newest row has it, as long as that isn't closed. */
static void concerns_open_change_and_close(void **state)
{
	struct ledger *l = *state;
	const struct store_stamp stamp = ledger_stamp(LEDGER_T0);
	struct store_concern concern = { .litter_id = l->litter, .open = true, .level = "act", .rule = "litter-slow",
					 .text = "slow", .source = "a handbook", .since_ms = LEDGER_T0 };
	char id[UUID7_SIZE], again[UUID7_SIZE], text[256] = "";

	ledger_follow(l, LEDGER_T0);
	assert_int_equal(store_add_concern(l->store, &stamp, &concern, id), 0);
	ledger_expect(l->dir, "SELECT animal, litter, level, rule, text, source, since_ms FROM concern_now ORDER BY rule",
		      "|first|act|litter-slow|slow|a handbook|1767225600000\n"
		      "one|first|look|overdue|one wasn't weighed for 27 h|a handbook|1767225600000\n");
	concern.concern_id = id;
	concern.level = "vet";
	concern.text = "slower";
	assert_int_equal(store_add_concern(l->store, &stamp, &concern, again), 0);
	assert_string_equal(again, id);
	ledger_expect(l->dir, "SELECT level, text FROM concern_now WHERE animal IS NULL", "vet|slower\n");
	assert_int_equal(store_each_concern(l->store, concern_row, text), 0);
	assert_string_equal(text, "one look overdue one wasn't weighed for 27 h;all vet litter-slow slower;");
	concern.open = false;
	assert_int_equal(store_add_concern(l->store, &stamp, &concern, again), 0);
	ledger_expect(l->dir, "SELECT rule FROM concern_now", "overdue\n");
	ledger_expect(l->dir, "SELECT group_concat(state) FROM concern WHERE rule = 'litter-slow'", "open,open,closed\n");
	concern.level = "panic";
	assert_int_equal(store_add_concern(l->store, &stamp, &concern, again), -EINVAL);
}

struct seen_round {
	int n;
	char fed[8];
	int64_t ended_ms;
};

static int round_row(void *userdata, const struct store_round_row *row)
{
	struct seen_round *seen = userdata;

	seen->n++;
	(void)snprintf(seen->fed, sizeof(seen->fed), "%s", row->fed ? row->fed : "");
	seen->ended_ms = row->ended_ms;
	return 0;
}

static void rounds_begin_and_end(void **state)
{
	struct ledger *l = *state;
	const struct store_stamp stamp = ledger_stamp(LEDGER_T0 + 5);
	struct seen_round seen = { 0 };
	char id[UUID7_SIZE];

	ledger_follow(l, LEDGER_T0);
	ledger_expect(l->dir, "SELECT litter, begun_at_ms, fed FROM round_now", "first|1767225600000|before\n");
	assert_int_equal(store_each_round(l->store, round_row, &seen), 0);
	assert_int_equal(seen.n, 1); /* the newest */
	assert_string_equal(seen.fed, "before");
	assert_true(seen.ended_ms == INT64_MIN);
	char *text = ledger_rows(l->dir, "SELECT round_id FROM round_now");
	text[strcspn(text, "\n")] = '\0';
	assert_int_equal(store_end_round(l->store, &stamp, text, "complete"), 0);
	free(text);
	ledger_expect(l->dir, "SELECT count(*) FROM round_now", "0\n");
	assert_int_equal(store_each_round(l->store, round_row, &seen), 0);
	assert_int_equal(seen.n, 2);
	assert_true(seen.ended_ms == LEDGER_T0 + 5);
	assert_int_equal(store_begin_round(l->store, &stamp, l->litter, "during", id), -EINVAL);
	assert_int_equal(store_end_round(l->store, &stamp, "nothing", "asked"), -EINVAL);
}

static int limits_row(void *userdata, const char *litter_id, const struct store_limits *limits)
{
	(void)litter_id;
	*(struct store_limits *)userdata = *limits;
	return 0;
}

static void limits_set_last(void **state)
{
	struct ledger *l = *state;
	const struct store_stamp stamp = ledger_stamp(LEDGER_T0);
	struct store_limits got = { 0 };

	ledger_follow(l, LEDGER_T0);
	assert_int_equal(store_each_limits(l->store, limits_row, &got), 0);
	assert_true(got.overdue_h > 12.4 && got.overdue_h < 12.6 && got.behind_pct <= 0);
	assert_int_equal(store_set_limits(l->store, &stamp, l->litter, &(struct store_limits){ .behind_pct = 30 }), 0);
	assert_int_equal(store_each_limits(l->store, limits_row, &got), 0);
	assert_true(got.overdue_h <= 0 && got.behind_pct > 29.9);
}

/* In order of time, whoever came first; of animals that are gone too; from a time on. */
static int reading_row(void *userdata, const struct store_reading_row *row)
{
	char *to = userdata;

	(void)snprintf(to + strlen(to), 256 - strlen(to), "%lld %lld %s;", (long long)(row->at_ms - LEDGER_T0),
		       (long long)row->net_mg, row->fed ? row->fed : "-");
	return 0;
}

static void readings_of_a_litter(void **state)
{
	struct ledger *l = *state;
	const struct store_stamp stamp = ledger_stamp(LEDGER_T0);
	char id[2][UUID7_SIZE], animals[2][UUID7_SIZE], text[256] = "";

	assert_int_equal(ledger_weigh(l, LEDGER_T0 + 2000, 308000, id[0]), 0);
	assert_int_equal(ledger_weigh(l, LEDGER_T0 + 1000, 333000, id[1]), 0);
	assert_int_equal(store_answer(l->store, &stamp, id[0], STORE_ANSWER, l->animal[0], NULL, "before"), 0);
	assert_int_equal(store_answer(l->store, &stamp, id[1], STORE_ANSWER, l->animal[1], NULL, NULL), 0);
	assert_int_equal(store_each_reading(l->store, l->litter, 0, INT64_MAX, reading_row, text), 0);
	assert_string_equal(text, "1000 333000 -;2000 308000 before;");
	memcpy(animals[0], l->animal[1], UUID7_SIZE);
	memcpy(animals[1], l->animal[0], UUID7_SIZE);
	assert_int_equal(store_exchange(l->store, &stamp, (const char(*)[UUID7_SIZE])id, (const char(*)[UUID7_SIZE])animals, 2), 0);
	ledger_expect(l->dir, "SELECT animal, net_g, fed FROM reading ORDER BY animal", "one|333.0|\ntwo|308.0|before\n");
	/* one that can't be leaves the other as it was */
	memcpy(animals[0], l->animal[0], UUID7_SIZE);
	(void)snprintf(animals[1], UUID7_SIZE, "nobody");
	assert_int_equal(store_exchange(l->store, &stamp, (const char(*)[UUID7_SIZE])id, (const char(*)[UUID7_SIZE])animals, 2),
			 -EINVAL);
	ledger_expect(l->dir, "SELECT animal, net_g FROM reading ORDER BY animal", "one|333.0\ntwo|308.0\n");
	assert_int_equal(store_animal_gone(l->store, &stamp, l->animal[1], NULL), 0);
	text[0] = '\0';
	assert_int_equal(store_each_reading(l->store, l->litter, LEDGER_T0 + 1500, INT64_MAX, reading_row, text), 0);
	assert_string_equal(text, "2000 308000 before;");
	text[0] = '\0';
	assert_int_equal(store_each_reading(l->store, l->litter, LEDGER_T0 + 2001, INT64_MAX, reading_row, text), 0);
	assert_int_equal(store_each_reading(l->store, l->litter, 0, LEDGER_T0 + 1999, reading_row, text), 0);
	assert_null(strstr(text, "2000 "));
}

/* What is no longer so stays in the logs. */
static void logs_keep_what_was(void **state)
{
	struct ledger *l = *state;
	const struct store_stamp stamp = ledger_stamp(LEDGER_T0 + 5), by = { .at_ms = LEDGER_T0 + 9, .peer = "someone",
									     .said = "Jo" };
	char id[UUID7_SIZE];

	assert_int_equal(ledger_weigh(l, LEDGER_T0 + 2000, 308000, id), 0);
	assert_int_equal(store_answer(l->store, &stamp, id, STORE_ANSWER, l->animal[0], NULL, "before"), 0);
	assert_int_equal(store_answer(l->store, &by, id, STORE_CORRECT, l->animal[1], NULL, NULL), 0);
	assert_int_equal(store_answer(l->store, &stamp, id, STORE_ASIDE, NULL, "the cat", NULL), 0);
	ledger_expect(l->dir,
		      "SELECT animal, litter, at_ms - 1767225600000, weighed_at_ms - 1767225600000, kind, why, fed, answered_by, counts "
		      "FROM answer_log WHERE weighing_id = (SELECT weighing_id FROM answer_log LIMIT 1) ORDER BY answer_id",
		      "one|first|5|2000|answer||before|uid 1000|0\ntwo|first|9|2000|correct||before|Jo|0\n||5|2000|aside|the cat||uid 1000|1\n");
	assert_int_equal(store_animal_gone(l->store, &stamp, l->animal[1], "sold"), 0);
	assert_int_equal(store_close_litter(l->store, &stamp, l->litter), 0);
	ledger_expect(l->dir,
		      "SELECT animal, collar, sex, litter, born_at_ms - 1767225600000, birth_g, noted_at_ms, gone_at_ms - "
		      "1767225600000, gone_why FROM animal_log ORDER BY animal",
		      "one|green|f|first|0|300.5|1767225600000||\ntwo|||first|1||1767225600000|5|sold\n");
}

/* weighing_log has each weighing whatever became of it; seq is the order of writing, also where the clock went back. */
static void logs_can_be_gone_on_with(void **state)
{
	struct ledger *l = *state;
	const struct store_stamp stamp = ledger_stamp(LEDGER_T0 + 9), back = ledger_stamp(LEDGER_T0 - 86400000);
	char id[3][UUID7_SIZE], *set_aside;

	for (int i = 0; i < 3; i++)
		assert_int_equal(ledger_weigh(l, LEDGER_T0 + 2000 - i, 308000 + i * 1000, id[i]), 0);
	assert_int_equal(store_answer(l->store, &stamp, id[2], STORE_ANSWER, l->animal[0], NULL, "before"), 0);
	assert_int_equal(store_answer(l->store, &back, id[1], STORE_ASIDE, NULL, "the cat", NULL), 0);
	ledger_expect(l->dir, "SELECT seq, at_ms - 1767225600000, net_g, origin FROM weighing_log WHERE seq > 0 ORDER BY seq",
		      "1|2000|308.0|radio\n2|1999|309.0|radio\n3|1998|310.0|radio\n");
	ledger_expect(l->dir, "SELECT a.seq, animal, kind, fed, net_g FROM answer_log AS a JOIN weighing_log AS w "
			      "USING (weighing_id) WHERE a.seq > 0 ORDER BY a.seq",
		      "1|one|answer|before|310.0\n2||aside||309.0\n");
	set_aside = ledger_rows(l->dir, "SELECT * FROM weighing_log WHERE seq = 2");
	ledger_expect(l->dir, "SELECT * FROM weighing_log EXCEPT SELECT w.* FROM weighing_log AS w JOIN "
			      "(SELECT reading_id AS id, at, net_g, gross_g, u_g, step_g FROM reading UNION ALL "
			      "SELECT weighing_id, at, net_g, gross_g, u_g, step_g FROM unanswered) AS v "
			      "ON v.id = w.weighing_id AND v.at = w.at AND v.net_g = w.net_g AND v.gross_g = w.gross_g "
			      "AND v.u_g = w.u_g AND v.step_g = w.step_g WHERE w.seq <> 2",
		      set_aside);
	free(set_aside);
}

static void concern_log_has_each_change(void **state)
{
	struct ledger *l = *state;
	const struct store_stamp stamp = ledger_stamp(LEDGER_T0), later = ledger_stamp(LEDGER_T0 + 7);
	struct store_concern concern = { .litter_id = l->litter, .open = true, .level = "act", .rule = "litter-slow",
					 .text = "slow", .source = "a handbook", .since_ms = LEDGER_T0 - 3 };
	char id[UUID7_SIZE];

	assert_int_equal(store_add_concern(l->store, &stamp, &concern, id), 0);
	concern.concern_id = id;
	concern.open = false;
	concern.text = "as fast as it should be";
	assert_int_equal(store_add_concern(l->store, &later, &concern, id), 0);
	ledger_expect(l->dir,
		      "SELECT animal, litter, at_ms - 1767225600000, state, level, rule, text, source, since_ms - 1767225600000 "
		      "FROM concern_log ORDER BY at_ms",
		      "|first|0|open|act|litter-slow|slow|a handbook|-3\n"
		      "|first|7|closed|act|litter-slow|as fast as it should be|a handbook|-3\n");
	ledger_expect(l->dir, "SELECT count(DISTINCT concern_id), count(DISTINCT entry_id), max(seq) FROM concern_log", "1|2|2\n");
}

/* A tare and what the empty container weighed since; which tare a check belongs to. */
static void tare_log_has_checks(void **state)
{
	struct ledger *l = *state;
	const struct store_stamp stamp = ledger_stamp(LEDGER_T0);
	const struct store_frame frame = { .scale_id = l->scale, .uuid = "2a9d", .octets = (const uint8_t *)"\0\0", .n = 3,
					   .received_ms = LEDGER_T0 + 4, .fate = STORE_USED };
	const struct store_check check = { .container_id = l->container, .gross_mg = 431000, .drift_mg = 19000, .u_mg = 1500,
					   .drifted = true };

	assert_int_equal(store_add_frame(l->store, &stamp, &frame, NULL, &check, NULL), 0);
	ledger_expect(l->dir,
		      "SELECT container, kind, scale, at_ms - 1767225600000, mass_g, u_g, drift_g, drifted FROM tare_log "
		      "ORDER BY at_ms",
		      "bowl|tare||0|412.0|1.5||\nbowl|check|kitchen|4|431.0|1.5|19.0|1\n");
	ledger_expect(l->dir, "SELECT count(DISTINCT tare_id), count(DISTINCT container_id) FROM tare_log", "1|1\n");
}

#define WITH_LEDGER(test) cmocka_unit_test_setup_teardown(test, ledger_setup, ledger_teardown)

int main(void)
{
	const struct CMUnitTest tests[] = {
		WITH_LEDGER(roster),
		WITH_LEDGER(who_and_when_is_in_each_row),
		WITH_LEDGER(weighing_answered_corrected_reopened_set_aside),
		WITH_LEDGER(readings_outlive_animal_litter_and_scale),
		WITH_LEDGER(typed),
		WITH_LEDGER(each_millisecond_is_exact),
		WITH_LEDGER(animal_now_takes_the_newest_by_time),
		WITH_LEDGER(frames_and_checks),
		WITH_LEDGER(containers_move),
		WITH_LEDGER(impossible_values_are_refused),
		WITH_LEDGER(unanswered_agrees_with_its_definition),
		WITH_LEDGER(growth_of_the_newest),
		WITH_LEDGER(concerns_open_change_and_close),
		WITH_LEDGER(rounds_begin_and_end),
		WITH_LEDGER(limits_set_last),
		WITH_LEDGER(readings_of_a_litter),
		WITH_LEDGER(logs_keep_what_was),
		WITH_LEDGER(logs_can_be_gone_on_with),
		WITH_LEDGER(concern_log_has_each_change),
		WITH_LEDGER(tare_log_has_checks),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
