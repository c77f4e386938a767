// SPDX-License-Identifier: MIT
/* Which question is meant, and its suggestions by number. The first ask is the example of protocols/prompt.md; names
 * are our own invention. */
#include "contrib/client/question.h"
#include <setjmp.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

#define NOW INT64_C(1795610700000) /* 2026-11-25T12:45:00Z */

static const char example[] =
	"{\"ask\":\"019abc65-3f10-7cc2-9c1e-5b2f0d3e7a1c\",\"at\":\"2026-11-25T12:45:30.000Z\",\"scale\":\"kitchen\","
	"\"container\":\"box\",\"gross_g\":812.0,\"tare_g\":508.0,\"net_g\":304.0,\"u_g\":0.41,\"state\":\"settled\","
	"\"litter\":\"B\",\"whelping\":null,\"candidates\":[{\"animal\":\"019aa1b4-77d0-7a3e-8f21-c4d96e0b1a55\","
	"\"name\":\"Moss\",\"collar\":\"green\",\"expected_g\":306.2,\"u_expected_g\":5.1,\"probability\":0.74,"
	"\"why\":\"expected 306 g; last weighed 12 h ago\"}],\"say\":\"304 g. Is it Moss (green)?\"}";

static int setup(void **state)
{
	*state = calloc(1, sizeof(struct questions));
	return *state ? 0 : -1;
}

static int teardown(void **state)
{
	free(*state);
	return 0;
}

/* An ask of second s of that day, with suggestions of these ids. */
static json_t *ask_of(const char *id, int s, const char *animals)
{
	char at[64];
	json_t *list = json_array();

	(void)snprintf(at, sizeof at, "2026-11-25T12:%02d:%02d.000Z", 46 + s / 60, s % 60);
	for (; *animals; animals++) {
		char animal[2] = { *animals, '\0' };
		assert_int_equal(json_array_append_new(list, json_pack("{s:s, s:s, s:n, s:f}", "animal", animal, "name",
								       animal, "collar", "probability", 0.2)),
				 0);
	}
	return json_pack("{s:s, s:s, s:f, s:s, s:n, s:o}", "ask", id, "at", at, "net_g", 300.0 + s, "state", "settled",
			 "whelping", "candidates", list);
}

static bool put(struct questions *questions, const char *id, int s, const char *animals)
{
	json_t *ask = ask_of(id, s, animals);
	bool changed = questions_put(questions, ask, NOW);

	json_decref(ask);
	return changed;
}

static void expect(const struct questions *questions, const char *id)
{
	assert_non_null(questions_current(questions));
	assert_string_equal(questions_current(questions)->id, id);
}

static void test_example(void **state)
{
	struct questions *questions = *state;
	json_t *ask = json_loads(example, 0, NULL);
	const struct question *question;

	assert_null(questions_current(questions));
	assert_true(questions_put(questions, ask, NOW));
	question = questions_current(questions);
	assert_int_equal(question->at_ms, NOW + 30000);
	assert_int_equal(question->net_mg, 304000);
	assert_false(question->restless);
	assert_false(question->whelping);
	assert_int_equal(question->n_suggestions, 1);
	assert_string_equal(question->suggestions[0].name, "Moss");
	assert_string_equal(question->suggestions[0].collar, "green");
	assert_int_equal(question_named(question), 1);
	assert_false(question_is_clear(question));        /* 0.74 */
	assert_false(questions_put(questions, ask, NOW)); /* told again */
	json_decref(ask);
}

/* By when it was weighed: a stored result comes later and is older, and so is one that was opened again. */
static void test_oldest(void **state)
{
	struct questions *questions = *state;

	assert_true(put(questions, "b", 20, "MF"));
	assert_false(put(questions, "c", 30, "MF"));
	expect(questions, "b");
	assert_true(put(questions, "a", 10, "MF"));
	expect(questions, "a");
	assert_true(questions_drop(questions, "a"));
	expect(questions, "b");
	assert_true(put(questions, "a", 10, "MF"));
	expect(questions, "a");
	assert_false(questions_drop(questions, "c"));
	assert_false(questions_drop(questions, "nothing"));
	assert_true(questions_drop(questions, "a"));
	assert_true(questions_drop(questions, "b"));
	assert_null(questions_current(questions));
	/* at the same moment: as they came */
	(void)put(questions, "y", 40, "M");
	assert_false(put(questions, "x", 40, "M"));
	expect(questions, "y");
}

/* A key's meaning changes with the order of the suggestions, and with nothing else of them. */
static void test_changes(void **state)
{
	struct questions *questions = *state;

	assert_true(put(questions, "a", 10, "MFG"));
	assert_false(put(questions, "a", 10, "MFG"));
	assert_true(put(questions, "a", 10, "FMG"));
	assert_true(put(questions, "a", 10, "FM"));
	assert_true(put(questions, "a", 11, "FM")); /* another mass */
	assert_false(put(questions, "b", 50, "FM"));
	assert_false(put(questions, "b", 50, "MF")); /* not the current one */
	assert_int_equal(questions->n, 2);
}

static void test_set(void **state)
{
	struct questions *questions = *state;
	json_t *asks = json_pack("[o, o]", ask_of("b", 20, "M"), ask_of("a", 10, "M"));

	(void)put(questions, "z", 1, "M"); /* answered while we were away */
	assert_true(questions_set(questions, asks, NOW));
	expect(questions, "a");
	assert_int_equal(questions->n, 2);
	assert_false(questions_set(questions, asks, NOW));
	json_decref(asks);
	assert_true(questions_set(questions, NULL, NOW));
	assert_int_equal(questions->n, 0);
}

static void test_odd(void **state)
{
	static const char *const odd[] = { "{}", "[]", "{\"ask\":null}", "{\"ask\":17}", "{\"ask\":\"\"}", "null" };
	struct questions *questions = *state;
	json_t *bare =
		json_loads("{\"ask\":\"a\",\"candidates\":[17,{},{\"animal\":\"\"},{\"animal\":\"m\"}]}", 0, NULL);

	for (size_t i = 0; i < sizeof odd / sizeof *odd; i++) {
		json_t *ask = json_loads(odd[i], JSON_DECODE_ANY, NULL);
		assert_false(questions_put(questions, ask, NOW));
		json_decref(ask);
	}
	assert_false(questions_put(questions, NULL, NOW));
	assert_int_equal(questions->n, 0);
	assert_true(questions_put(questions, bare, NOW));
	assert_int_equal(questions_current(questions)->at_ms, NOW);
	assert_int_equal(questions_current(questions)->n_suggestions, 1);
	json_decref(bare);
}

/* The caps: as many questions as the daemon keeps open, as many suggestions as it makes. */
static void test_caps(void **state)
{
	struct questions *questions = *state;
	char id[32];

	for (int i = 0; i < LIMIT_OPEN_ASKS + 10; i++) {
		(void)snprintf(id, sizeof id, "id %d", i);
		(void)put(questions, id, i, "ABCDEFGHIJKLMNOPQRSTUVWXYZ");
	}
	assert_int_equal(questions->n, LIMIT_OPEN_ASKS);
	expect(questions, "id 0");
	assert_int_equal(questions_current(questions)->n_suggestions, LIMIT_CANDIDATES);
	assert_int_equal(question_named(questions_current(questions)), QUESTION_NAMED);
}

static void test_named(void **state)
{
	struct question question = { .n_suggestions = 3 };

	(void)state;
	question.suggestions[0].probability = 0.01; /* the first is named whatever it is */
	question.suggestions[1].probability = 0.01;
	assert_int_equal(question_named(&question), 1);
	question.suggestions[1].probability = 0.05;
	assert_int_equal(question_named(&question), 2);
	question.n_suggestions = 0;
	assert_int_equal(question_named(&question), 0);
	assert_false(question_is_clear(&question));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test_setup_teardown(test_example, setup, teardown),
		cmocka_unit_test_setup_teardown(test_oldest, setup, teardown),
		cmocka_unit_test_setup_teardown(test_changes, setup, teardown),
		cmocka_unit_test_setup_teardown(test_set, setup, teardown),
		cmocka_unit_test_setup_teardown(test_odd, setup, teardown),
		cmocka_unit_test_setup_teardown(test_caps, setup, teardown),
		cmocka_unit_test(test_named),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
