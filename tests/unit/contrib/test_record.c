// SPDX-License-Identifier: MIT
/* What may be believed of a message: each member missing, null, of another type, and out of its range. */
#include "contrib/merge/record.h"
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>

/* As contrib/broker/MESSAGES.md has them, an answer and a concern of a whole litter. */
static const char reading[] =
	"{\"id\": \"019b76eb-0e2c-7154-8111-7595de3a5db5\", \"bridge\": \"moss\", \"seq\": 2, \"reading_id\": "
	"\"019b76eb-004a-78cf-8b91-f703959f3a51\", \"kind\": \"answer\", \"animal_id\": "
	"\"019b76ea-1abf-71a2-9450-c464e6c3f339\", "
	"\"animal\": \"Fern\", \"collar\": \"green\", \"litter_id\": \"019b76ea-0b9f-7720-ae2d-b63f442e3d43\", "
	"\"litter\": \"hedge\", "
	"\"at\": \"2026-01-01T00:17:50.452Z\", \"at_ms\": 1767226670452, \"offset_min\": 60, \"net_g\": 372.272, "
	"\"u_g\": 0.289, "
	"\"gross_g\": 372.272, \"tare_g\": 0, \"step_g\": 1, \"container\": \"basket\", \"scale\": \"kitchen\", "
	"\"origin\": \"radio\", "
	"\"state\": \"settled\", \"fed\": \"after\", \"why\": \"x\", \"answered_at_ms\": 1767226674732, "
	"\"answered_by\": \"Ann\"}";
static const char concern[] =
	"{\"id\": \"019b76eb-0e2c-7154-8111-7595de3a5db5\", \"bridge\": \"moss\", \"seq\": 1, \"concern_id\": "
	"\"019b76eb-004a-78cf-8b91-f703959f3a51\", \"animal_id\": null, \"animal\": null, \"litter_id\": "
	"\"019b76ea-0b9f-7720-ae2d-b63f442e3d43\", \"litter\": \"hedge\", \"at\": \"2026-01-01T00:17:50.452Z\", "
	"\"at_ms\": 1767226670452, "
	"\"state\": \"open\", \"level\": \"vet\", \"rule\": \"behind\", \"text\": \"It lost.\", \"source\": \"ours\", "
	"\"since_ms\": 5}";
static const char here[] = "{\"bridge\": \"moss\", \"state\": \"here\", \"reading\": 5, \"concern\": 0}";

static int read_text(const char *topic, const char *text, struct record *ret, const char **ret_why)
{
	return record_read("bismar", topic, text, strlen(text), ret, ret_why);
}

static void good(const char *topic, const char *text, enum record_kind kind, size_t members)
{
	struct record record;
	const char *why = "nothing";

	if (read_text(topic, text, &record, &why) != 0)
		fail_msg("refused: %s", why);
	assert_int_equal(record.kind, kind);
	assert_string_equal(record.bridge, "moss");
	assert_int_equal(json_object_size(record.row), members);
	json_decref(record.row);
}

static void refused(const char *topic, const char *text, size_t n)
{
	struct record record = { .row = NULL };
	const char *why = NULL;

	assert_int_equal(record_read("bismar", topic, text, n, &record, &why), -EINVAL);
	assert_null(record.row);
	assert_non_null(why);
}

static void taken(void **state)
{
	(void)state;
	good("bismar/moss/reading", reading, RECORD_READING, 25);
	good("bismar/moss/concern", concern, RECORD_CONCERN, 15);
	good("bismar/moss/state", here, RECORD_STATE, 4);
	good("bismar/moss/state", "{\"bridge\": \"moss\", \"state\": \"gone\"}", RECORD_STATE, 2);
}

static void cut_at_each_length(void **state)
{
	(void)state;
	for (size_t n = 0; n < sizeof reading - 1; n++)
		refused("bismar/moss/reading", reading, n);
	for (size_t n = 0; n < sizeof concern - 1; n++)
		refused("bismar/moss/concern", concern, n);
}

/* Which of the values that one member is given in turn are refused; `at` alone isn't looked at. */
static void each_member(const char *topic, const char *text, const char *const *may_be_null)
{
	static const char *const never[] = { "{}", "[1]", "true", "1e999", "\"\\u0000\"" };
	json_t *object = json_loads(text, 0, NULL);
	json_t *walk = json_deep_copy(object), *value;
	const char *name;

	json_object_foreach (walk, name, value) {
		json_t *changed = json_deep_copy(object);
		char *dumped;
		bool nullable = false;
		struct record record;
		const char *why;
		if (strcmp(name, "at") == 0) {
			json_decref(changed);
			continue;
		}
		for (size_t i = 0; may_be_null[i]; i++)
			nullable = nullable || strcmp(may_be_null[i], name) == 0;
		(void)json_object_set_new(changed, name, json_null());
		dumped = json_dumps(changed, 0);
		assert_int_equal(read_text(topic, dumped, &record, &why), nullable ? 0 : -EINVAL);
		json_decref(record.row);
		free(dumped);
		(void)json_object_del(changed, name);
		dumped = json_dumps(changed, 0);
		refused(topic, dumped, strlen(dumped));
		for (size_t i = 0; i < sizeof never / sizeof *never; i++) {
			char *put = NULL;
			assert_true(asprintf(&put, "%.*s, \"%s\": %s}", (int)strlen(dumped) - 1, dumped, name,
					     never[i]) > 0);
			refused(topic, put, strlen(put));
			free(put);
		}
		free(dumped);
		json_decref(changed);
	}
	json_decref(walk);
	json_decref(object);
}

static void members(void **state)
{
	static const char *const of_reading[] = { "collar", "step_g", "container", "scale", "fed", "why", NULL };
	static const char *const of_concern[] = { "animal_id", "animal", NULL };
	static const char *const of_state[] = { NULL };

	(void)state;
	each_member("bismar/moss/reading", reading, of_reading);
	each_member("bismar/moss/concern", concern, of_concern);
	each_member("bismar/moss/state", here, of_state);
}

static void topics(void **state)
{
	static const char *const wrong[] = {
		"bismar/moss", "bismar/moss/again",  "bismar/moss/reading/more", "bismar//reading",
		"bismar",      "other/moss/reading", "bismarmoss/reading",       "bismar/a\x01/reading"
	};

	(void)state;
	for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++)
		refused(wrong[i], reading, sizeof reading - 1);
	refused("bismar/fern/reading", reading, sizeof reading - 1); /* another's */
	refused("bismar/moss/concern", reading, sizeof reading - 1);
	refused("bismar/moss/state", reading, sizeof reading - 1);
}

static void bases(void **state)
{
	(void)state;
	assert_null(name_base_wrong("bismar"));
	assert_null(name_base_wrong("houses/weights"));
	assert_non_null(name_base_wrong(""));
	assert_non_null(name_base_wrong("a/+"));
	assert_non_null(name_base_wrong("/a"));
	assert_non_null(name_base_wrong("a/"));
	assert_non_null(name_base_wrong("$SYS"));
	assert_non_null(name_base_wrong("a\n"));
}

int main(void)
{
	const struct CMUnitTest tests[] = { cmocka_unit_test(taken), cmocka_unit_test(cut_at_each_length),
					    cmocka_unit_test(members), cmocka_unit_test(topics),
					    cmocka_unit_test(bases) };

	return cmocka_run_group_tests(tests, NULL, NULL);
}
