// SPDX-License-Identifier: MIT
/* What the daemon reads back: at its start, and to answer. */
#include "ledger.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct text {
	char line[2048];
	size_t n;
};

static void put(struct text *text, const char *format, ...) __attribute__((format(printf, 2, 3)));

static void put(struct text *text, const char *format, ...)
{
	va_list args;

	va_start(args, format);
	text->n += (size_t)vsnprintf(text->line + text->n, sizeof(text->line) - text->n, format, args);
	va_end(args);
	assert_true(text->n < sizeof(text->line));
}

static const char *or_none(const char *s)
{
	return s ? s : "-";
}

static int on_scale(void *userdata, const struct store_scale_row *row)
{
	put(userdata, "%s %s %zu;", row->address, row->name, row->container_id ? strlen(row->container_id) : 0);
	return 0;
}

static int on_container(void *userdata, const struct store_container_row *row)
{
	put(userdata, "%s %d %lld %lld %lld %lld;", row->name, row->has_tare, (long long)row->mass_mg,
	    (long long)row->u_mg, (long long)row->at_ms, (long long)row->checked_ms);
	return 0;
}

static int on_litter(void *userdata, const struct store_litter_row *row)
{
	put(userdata, "%s %s %lld %lld %d;", row->name, or_none(row->dam), (long long)row->born_ms,
	    (long long)row->adult_mg, row->closed);
	return 0;
}

static int on_animal(void *userdata, const struct store_animal_row *row)
{
	size_t i;

	put(userdata, "%s %s %c %lld %lld %lld %lld %lld", row->name, or_none(row->collar), row->sex ? row->sex : '-',
	    (long long)row->birth_mg, (long long)row->born_ms, (long long)row->newest_mg, (long long)row->newest_u_mg,
	    (long long)row->newest_at_ms);
	for (i = 0; i < row->n_aliases; i++)
		put(userdata, " %s", row->aliases[i]);
	put(userdata, ";");
	return 0;
}

static int on_weighing(void *userdata, const struct store_weighing_row *row)
{
	put(userdata, "%d%d%d%d %lld %lld %lld %lld %lld %lld %lld %d %s %s;", row->scale_id != NULL,
	    row->container_id != NULL, row->animal_id != NULL, row->aside, (long long)(row->at_ms - LEDGER_T0),
	    (long long)(row->received_ms - LEDGER_T0), (long long)row->gross_mg, (long long)row->tare_mg,
	    (long long)row->net_mg, (long long)row->u_mg, (long long)row->step_mg, row->restless,
	    weigh_origin_text(row->origin), or_none(row->answered_by));
	return 0;
}

static int on_result(void *userdata, const struct weigh_result *row)
{
	put(userdata, "%lld %lld %lld %d %lld %u;", (long long)row->gross_mg, (long long)row->step_mg,
	    (long long)(row->received_ms - LEDGER_T0), row->has_stamp, (long long)row->stamp_ms, row->link);
	return 0;
}

static void roster(void **state)
{
	struct ledger *l = *state;
	const struct store_stamp stamp = ledger_stamp(LEDGER_T0 + 1);
	const struct store_new_litter litter = { .name = "second", .born_ms = INT64_MIN };
	struct store_new_animal animal = { .name = "three", .birth_mg = 1, .born_ms = INT64_MIN };
	char id[UUID7_SIZE], other[UUID7_SIZE];
	struct text text = { 0 };

	assert_int_equal(store_add_container(l->store, &stamp, "box", id), 0);
	assert_int_equal(store_adopt_scale(l->store, &stamp, "C0:FF:EE:00:00:02", "hall", id), 0);
	assert_int_equal(store_adopt_scale(l->store, &stamp, "C0:FF:EE:00:00:03", "lost", id), 0);
	assert_int_equal(store_forget_scale(l->store, &stamp, id), 0);
	assert_int_equal(store_add_litter(l->store, &stamp, &litter, other), 0);
	animal.litter_id = other;
	assert_int_equal(store_add_animal(l->store, &stamp, &animal, id), 0);

	assert_int_equal(store_each_scale(l->store, on_scale, &text), 0);
	assert_string_equal(text.line, "C0:FF:EE:00:00:01 kitchen 36;C0:FF:EE:00:00:02 hall 0;");
	text = (struct text){ 0 };
	assert_int_equal(store_each_container(l->store, on_container, &text), 0);
	assert_string_equal(text.line, "bowl 1 412000 1500 1767225600000 1767225600000;box 0 0 0 0 0;");
	text = (struct text){ 0 };
	assert_int_equal(store_each_litter(l->store, on_litter, &text), 0);
	assert_string_equal(text.line, "first dam 1767225600000 9000000 0;second - -9223372036854775808 0 0;");
	text = (struct text){ 0 };
	assert_int_equal(store_each_animal(l->store, on_animal, &text), 0);
	assert_string_equal(text.line, "one green f 300500 1767225600000 0 0 0 uno 17;two - - 0 1767225600001 0 0 0;"
				       "three - - 1 -9223372036854775808 0 0 0;");

	assert_int_equal(store_animal_gone(l->store, &stamp, l->animal[0], NULL), 0);
	assert_int_equal(store_close_litter(l->store, &stamp, other), 0);
	text = (struct text){ 0 };
	assert_int_equal(store_each_animal(l->store, on_animal, &text), 0);
	assert_string_equal(text.line, "two - - 0 1767225600001 0 0 0;");
	text = (struct text){ 0 };
	assert_int_equal(store_each_litter(l->store, on_litter, &text), 0);
	assert_string_equal(text.line, "first dam 1767225600000 9000000 0;second - -9223372036854775808 0 1;");
}

static void checked_without_drift(void **state)
{
	struct ledger *l = *state;
	const struct store_stamp stamp = ledger_stamp(LEDGER_T0);
	struct store_frame frame = { .scale_id = l->scale,
				     .uuid = "2a9d",
				     .octets = (const uint8_t *)"\0\0",
				     .n = 3,
				     .received_ms = LEDGER_T0 + 7000 };
	struct store_check check = { .container_id = l->container, .gross_mg = 413000, .u_mg = 1, .drift_mg = 1000 };
	struct text text = { 0 };

	assert_int_equal(store_add_frame(l->store, &stamp, &frame, NULL, &check, NULL), 0);
	frame.received_ms += 1000;
	check.drifted = true;
	assert_int_equal(store_add_frame(l->store, &stamp, &frame, NULL, &check, NULL), 0);
	assert_int_equal(store_each_container(l->store, on_container, &text), 0);
	assert_string_equal(text.line, "bowl 1 412000 1500 1767225600000 1767225607000;");
}

static void newest(void **state)
{
	struct ledger *l = *state;
	const struct store_stamp stamp = ledger_stamp(LEDGER_T0);
	struct text text = { 0 };
	char id[2][UUID7_SIZE];
	int64_t mg, u_mg, at_ms;

	assert_int_equal(store_newest(l->store, l->animal[0], &mg, &u_mg, &at_ms), 0);
	assert_int_equal(mg, 0);
	assert_int_equal(ledger_weigh(l, LEDGER_T0 + 2, 310000, id[0]), 0);
	assert_int_equal(ledger_weigh(l, LEDGER_T0 + 1, 305000, id[1]), 0);
	assert_int_equal(store_answer(l->store, &stamp, id[0], STORE_ANSWER, l->animal[0], NULL, NULL), 0);
	assert_int_equal(store_answer(l->store, &stamp, id[1], STORE_ANSWER, l->animal[0], NULL, NULL), 0);
	assert_int_equal(store_newest(l->store, l->animal[0], &mg, &u_mg, &at_ms), 0);
	assert_int_equal(mg, 310000);
	assert_int_equal(u_mg, 2082);
	assert_int_equal(at_ms, LEDGER_T0 + 2);
	assert_int_equal(store_each_animal(l->store, on_animal, &text), 0);
	assert_non_null(strstr(text.line, "one green f 300500 1767225600000 310000 2082 1767225600002 uno 17;"));
	assert_int_equal(store_answer(l->store, &stamp, id[0], STORE_CORRECT, l->animal[1], NULL, NULL), 0);
	assert_int_equal(store_newest(l->store, l->animal[0], &mg, &u_mg, &at_ms), 0);
	assert_int_equal(mg, 305000);
	assert_int_equal(store_newest(l->store, l->animal[1], &mg, &u_mg, &at_ms), 0);
	assert_int_equal(mg, 310000);
}

static void unanswered(void **state)
{
	struct ledger *l = *state;
	const struct store_stamp stamp = ledger_stamp(LEDGER_T0);
	struct text text = { 0 };
	char id[3][UUID7_SIZE];
	int i;

	for (i = 0; i < 3; i++)
		assert_int_equal(ledger_weigh(l, LEDGER_T0 + i * 100, 300000 + i, id[i]), 0);
	assert_int_equal(store_answer(l->store, &stamp, id[1], STORE_ANSWER, l->animal[0], NULL, NULL), 0);
	assert_int_equal(store_each_unanswered(l->store, INT64_MIN, on_weighing, &text), 0);
	assert_string_equal(text.line, "1100 0 0 712000 412000 300000 2082 5000 0 radio -;"
				       "1100 200 200 712002 412000 300002 2082 5000 0 radio -;");
	text = (struct text){ 0 };
	assert_int_equal(store_each_unanswered(l->store, LEDGER_T0 + 200, on_weighing, &text), 0);
	assert_string_equal(text.line, "1100 200 200 712002 412000 300002 2082 5000 0 radio -;");
	text = (struct text){ 0 };
	assert_int_equal(store_each_unanswered(l->store, LEDGER_T0 + 201, on_weighing, &text), 0);
	assert_string_equal(text.line, "");
	assert_int_equal(store_answer(l->store, &stamp, id[1], STORE_REOPEN, NULL, NULL, NULL), 0);
	assert_int_equal(store_each_unanswered(l->store, LEDGER_T0 + 100, on_weighing, &text), 0);
	assert_string_equal(text.line, "1100 100 100 712001 412000 300001 2082 5000 0 radio -;"
				       "1100 200 200 712002 412000 300002 2082 5000 0 radio -;");
}

/* stored, restless, received later than weighed */
static void each_field_comes_back(void **state)
{
	struct ledger *l = *state;
	struct store_stamp stamp = ledger_stamp(LEDGER_T0);
	const struct store_frame frame = { .scale_id = l->scale,
					   .uuid = "2a9d",
					   .octets = (const uint8_t *)"\0\0",
					   .n = 3,
					   .received_ms = LEDGER_T0 + 60000 };
	const struct weighing weighing = {
		.at_ms = LEDGER_T0 + 5, .origin = WEIGH_STORED, .gross_mg = 300000, .net_mg = 300000, .u_mg = 7
	};
	const struct store_weighing row = {
		.scale_id = l->scale, .weighing = &weighing, .restless = true, .user = 2, .step_mg = 10
	};
	struct text text = { 0 };
	char id[UUID7_SIZE];

	assert_int_equal(store_add_frame(l->store, &stamp, &frame, &row, NULL, id), 0);
	assert_int_equal(store_find_weighing(l->store, id, on_weighing, &text), 0);
	stamp.said = "phone";
	assert_int_equal(store_answer(l->store, &stamp, id, STORE_ASIDE, NULL, NULL, NULL), 0);
	assert_int_equal(store_find_weighing(l->store, id, on_weighing, &text), 0);
	assert_int_equal(store_answer(l->store, &stamp, id, STORE_ANSWER, l->animal[0], NULL, NULL), 0);
	assert_int_equal(store_find_weighing(l->store, id, on_weighing, &text), 0);
	assert_int_equal(store_answer(l->store, &stamp, id, STORE_REOPEN, NULL, NULL, NULL), 0);
	assert_int_equal(store_find_weighing(l->store, id, on_weighing, &text), 0);
	assert_string_equal(text.line, "1000 5 60000 300000 0 300000 7 10 1 stored -;"
				       "1001 5 60000 300000 0 300000 7 10 1 stored phone;"
				       "1010 5 60000 300000 0 300000 7 10 1 stored phone;"
				       "1000 5 60000 300000 0 300000 7 10 1 stored -;");
	ledger_expect(l->dir, "SELECT user FROM weighing", "2\n");
}

static void found_by_its_last_characters(void **state)
{
	struct ledger *l = *state;
	struct text text = { 0 };
	char id[UUID7_SIZE], upper[UUID7_SIZE], *tail;
	size_t i;

	assert_int_equal(ledger_weigh(l, LEDGER_T0, 300000, id), 0);
	tail = id + strlen(id) - 4;
	assert_int_equal(store_find_weighing(l->store, id, on_weighing, &text), 0);
	assert_int_equal(store_find_weighing(l->store, tail, on_weighing, &text), 0);
	assert_int_equal(store_find_weighing(l->store, tail - 7, on_weighing, &text), 0);
	for (i = 0; i < UUID7_SIZE; i++)
		upper[i] = id[i] >= 'a' ? (char)(id[i] - 32) : id[i];
	assert_int_equal(store_find_weighing(l->store, upper, on_weighing, &text), 0);
	assert_int_equal(text.n, 4 * strlen("1100 0 0 712000 412000 300000 2082 5000 0 radio -;"));

	assert_int_equal(store_find_weighing(l->store, tail + 1, on_weighing, &text), -ENOENT); /* 3 characters */
	assert_int_equal(store_find_weighing(l->store, "", on_weighing, &text), -ENOENT);
	assert_int_equal(store_find_weighing(l->store, "%%%%", on_weighing, &text), -ENOENT);
	assert_int_equal(store_find_weighing(l->store, "zzzz", on_weighing, &text), -ENOENT);
	memcpy(upper, id, sizeof(id));
	upper[20] = upper[20] == 'a' ? 'b' : 'a'; /* the same tail, but not this one */
	assert_int_equal(store_find_weighing(l->store, upper, on_weighing, &text), -ENOENT);
}

static void several_that_end_so(void **state)
{
	struct ledger *l = *state;
	struct text text = { 0 };
	char id[UUID7_SIZE], *rows;
	int64_t twins = 0;
	int i;

	/* by the birthday bound 900 of 65536 tails hold a pair almost surely: 1 - exp(-900^2 / 131072) = 0.998 */
	for (i = 0; i < 3000 && twins == 0; i++) {
		assert_int_equal(ledger_weigh(l, LEDGER_T0, 300000, id), 0);
		if (i % 100 == 99)
			twins = ledger_count(l->dir,
					     "SELECT count(*) FROM (SELECT 1 FROM weighing GROUP BY substr(id, -4) "
					     "HAVING count(*) > 1)");
	}
	assert_true(twins > 0);
	rows = ledger_rows(l->dir, "SELECT substr(id, -4) FROM weighing GROUP BY 1 HAVING count(*) > 1 LIMIT 1");
	rows[4] = '\0';
	assert_int_equal(store_find_weighing(l->store, rows, on_weighing, &text), -EEXIST);
	assert_int_equal(text.n, 0);
	free(rows);
}

static void results_of_one_scale(void **state)
{
	struct ledger *l = *state;
	const struct store_stamp stamp = ledger_stamp(LEDGER_T0);
	struct store_frame frame = { .scale_id = l->scale, .uuid = "2a9d", .octets = (const uint8_t *)"\0\0", .n = 3 };
	struct text text = { 0 };
	char other[UUID7_SIZE];
	int i;

	assert_int_equal(store_adopt_scale(l->store, &stamp, "C0:FF:EE:00:00:02", "hall", other), 0);
	for (i = 0; i < 8; i++) {
		frame.scale_id = i == 1 ? other : l->scale;
		frame.fate = i == 3 ? STORE_REFUSED : i == 4 ? STORE_REPEAT : STORE_USED;
		frame.has_mass = i != 6;
		frame.mass_mg = 300000 + i;
		frame.step_mg = 5000;
		frame.received_ms = LEDGER_T0 + i;
		frame.has_stamp = i == 5;
		frame.stamp_ms = 55;
		frame.link = UINT32_MAX - (uint32_t)i;
		assert_int_equal(store_add_frame(l->store, &stamp, &frame, NULL, NULL, NULL), 0);
	}
	assert_int_equal(store_each_result(l->store, l->scale, 3, on_result, &text), 0);
	assert_string_equal(text.line, "300004 5000 4 0 0 4294967291;300005 5000 5 1 55 4294967290;"
				       "300007 5000 7 0 0 4294967288;");
	text = (struct text){ 0 };
	assert_int_equal(store_each_result(l->store, other, SIZE_MAX, on_result, &text), 0);
	assert_string_equal(text.line, "300001 5000 1 0 0 4294967294;");
	text = (struct text){ 0 };
	assert_int_equal(store_each_result(l->store, l->scale, 0, on_result, &text), 0);
	assert_int_equal(text.n, 0);
}

static int stop_at_once(void *userdata, const struct store_animal_row *row)
{
	(void)row;
	++*(int *)userdata;
	return 42;
}

static int again(void *userdata, const struct store_animal_row *row)
{
	int n = 0;

	(void)row;
	return store_each_animal(userdata, stop_at_once, &n);
}

static void walks_end_when_told(void **state)
{
	struct ledger *l = *state;
	int n = 0;

	assert_int_equal(store_each_animal(l->store, stop_at_once, &n), 42);
	assert_int_equal(n, 1);
	assert_int_equal(store_each_animal(l->store, again, l->store), -EBUSY); /* not the same within itself */
	assert_int_equal(store_each_animal(l->store, stop_at_once, &n), 42);
	assert_int_equal(n, 2);
}

#define WITH_LEDGER(test) cmocka_unit_test_setup_teardown(test, ledger_setup, ledger_teardown)

int main(void)
{
	const struct CMUnitTest tests[] = {
		WITH_LEDGER(roster),
		WITH_LEDGER(checked_without_drift),
		WITH_LEDGER(newest),
		WITH_LEDGER(unanswered),
		WITH_LEDGER(each_field_comes_back),
		WITH_LEDGER(found_by_its_last_characters),
		WITH_LEDGER(several_that_end_so),
		WITH_LEDGER(results_of_one_scale),
		WITH_LEDGER(walks_end_when_told),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
