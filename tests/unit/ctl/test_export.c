// SPDX-License-Identifier: MIT
/*
 * Weight events, by tables that have the columns of the views. What a whole ledger's export is to other programs is
 * tried in tests/external/check_export.py. Fields and words: icarWeightEventResource of ICAR's Animal Data Exchange
 * (branch ADE-1).
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>

#include "daemon/ctl/export.h"
#include "daemon/ctl/field.h"

static sqlite3 *ledger(const char *sql)
{
	sqlite3 *db = NULL;

	assert_int_equal(sqlite3_open(":memory:", &db), SQLITE_OK);
	assert_int_equal(
		sqlite3_exec(
			db,
			"CREATE TABLE reading(reading_id, animal_id, animal, collar, litter_id, litter, at, at_ms, "
			"net_g,"
			" u_g, scale, origin, state, fed, answered_at_ms, answered_by, step_g);"
			"CREATE TABLE answer_log(answer_id, weighing_id, weighed_at_ms, animal_id, animal, litter_id,"
			" litter, at, at_ms, kind, why, fed, answered_by, counts, seq);",
			NULL, NULL, NULL),
		SQLITE_OK);
	assert_int_equal(sqlite3_exec(db, sql, NULL, NULL, NULL), SQLITE_OK);
	return db;
}

/* The export as JSON: the array, or the only line. */
static json_t *events(sqlite3 *db, const char *litter, bool lines)
{
	const struct export_ask ask = {
		.litter = litter, .since = "0", .source = "org.example.litters", .lines = lines
	};
	char *text = NULL;
	size_t size = 0;
	FILE *to = open_memstream(&text, &size);
	json_t *json;

	assert_non_null(to);
	assert_int_equal(export_icar(to, db, &ask), 0);
	assert_int_equal(fclose(to), 0);
	json = json_loads(text, 0, NULL);
	assert_non_null(json);
	free(text);
	return json;
}

static const char *inside(const json_t *event, const char *object, const char *key)
{
	return field_text(json_object_get(event, object), key);
}

/* 2026-01-01T06:30:00Z is 1767249000 s (date -u -d). */
static void test_scale(void **state)
{
	sqlite3 *db = ledger(
		"INSERT INTO reading VALUES('r1','a1','Moss \"x\", y','green','l1','hedge','',1767249000000,304.5,1.4,"
		"'kitchen','radio','restless','before',1767249060000,'keeper',5.0)");
	json_t *list = events(db, NULL, false), *event = json_array_get(list, 0), *alone;
	const json_t *weight = json_object_get(event, "weight");

	(void)state;
	assert_int_equal(json_array_size(list), 1);
	assert_string_equal(field_text(event, "resourceType"), "icarWeightEventResource");
	assert_string_equal(field_text(event, "id"), "r1");
	assert_string_equal(field_text(event, "eventDateTime"), "2026-01-01T06:30:00.000Z");
	assert_string_equal(field_text(event, "contemporaryGroup"), "hedge l1");
	assert_string_equal(
		field_text(event, "remark"),
		"Moss \"x\", y (green), standard uncertainty 1.4 g, it moved on the scale, weighed before a feed");
	assert_string_equal(inside(event, "animal", "scheme"), "org.example.litters.animal");
	assert_string_equal(inside(event, "animal", "id"), "a1");
	assert_string_equal(inside(event, "meta", "source"), "org.example.litters");
	assert_string_equal(inside(event, "meta", "sourceId"), "r1");
	assert_string_equal(inside(event, "meta", "modified"), "2026-01-01T06:31:00.000Z");
	assert_true(json_is_false(json_object_get(json_object_get(event, "meta"), "isDeleted")));
	assert_true(json_real_value(json_object_get(weight, "measurement")) == 304.5);
	assert_string_equal(field_text(weight, "units"), "GRM");
	assert_string_equal(field_text(weight, "method"), "LoadCell");
	assert_true(json_real_value(json_object_get(weight, "resolution")) == 5);
	assert_string_equal(inside(json_object_get(event, "device"), "identifier", "scheme"),
			    "org.example.litters.scale");
	assert_string_equal(inside(json_object_get(event, "device"), "identifier", "id"), "kitchen");
	assert_null(json_object_get(event, "responsible"));
	assert_null(json_object_get(event, "timeOffFeed"));
	alone = events(db, NULL, true);
	assert_true(json_equal(alone, event));
	json_decref(alone);
	json_decref(list);
	assert_int_equal(sqlite3_close(db), SQLITE_OK);
}

/* Nobody said what a typed mass was weighed with: no method, no resolution, no device. */
static void test_typed(void **state)
{
	sqlite3 *db = ledger(
		"INSERT INTO reading VALUES('r1','a1','Moss',NULL,'l1','hedge','',1767249000000,304,0.3,NULL,'typed',"
		"'settled',NULL,1767249060000,'keeper',1.0)");
	json_t *list = events(db, "HEDGE", false), *event = json_array_get(list, 0);
	const json_t *weight = json_object_get(event, "weight");

	(void)state;
	assert_int_equal(json_object_size(weight), 2);
	assert_null(json_object_get(event, "device"));
	assert_string_equal(field_text(event, "responsible"), "keeper");
	assert_string_equal(field_text(event, "remark"), "Moss, standard uncertainty 0.3 g, typed by hand");
	json_decref(list);
	list = events(db, "beech", false);
	assert_int_equal(json_array_size(list), 0); /* and a valid array all the same */
	json_decref(list);
	assert_int_equal(sqlite3_close(db), SQLITE_OK);
}

/* What was some pup's and is nobody's comes without its mass; what was never anyone's doesn't come. The clock was set
 * back between the first two answers: their order is that of seq. */
static void test_taken_back(void **state)
{
	sqlite3 *db =
		ledger("INSERT INTO answer_log VALUES"
		       "('n1','w1',1767249000000,'a1','Moss','l1','hedge','',25,'answer',NULL,NULL,'k',0,1),"
		       "('n2','w1',1767249000000,'a2','Fern','l1','hedge','',20,'correct',NULL,NULL,'k',0,2),"
		       "('n3','w1',1767249000000,NULL,NULL,NULL,NULL,'',1767249060000,'aside','a hand',NULL,'k',1,3),"
		       "('n4','w2',1767249000000,NULL,NULL,NULL,NULL,'',30,'aside',NULL,NULL,'k',1,4),"
		       "('n5','w3',1767249000000,'a1','Moss','l1','hedge','',10,'answer',NULL,NULL,'k',1,5)");
	json_t *list = events(db, "hedge", false), *event = json_array_get(list, 0);

	(void)state;
	assert_int_equal(json_array_size(list), 1);
	assert_string_equal(field_text(event, "id"), "w1");
	assert_string_equal(inside(event, "animal", "id"), "a2");
	assert_string_equal(inside(event, "meta", "modified"), "2026-01-01T06:31:00.000Z");
	assert_true(field_true(json_object_get(event, "meta"), "isDeleted"));
	assert_string_equal(field_text(event, "remark"), "Fern, set aside: a hand");
	assert_null(json_object_get(event, "weight"));
	json_decref(list);
	assert_int_equal(sqlite3_close(db), SQLITE_OK);
}

static void test_source(void **state)
{
	(void)state;
	assert_true(export_is_source("org.example.litters"));
	assert_true(export_is_source("local.bismar-2"));
	assert_false(export_is_source(""));
	assert_false(export_is_source("example"));
	assert_false(export_is_source(".org"));
	assert_false(export_is_source("org."));
	assert_false(export_is_source("org..example"));
	assert_false(export_is_source("org.-x"));
	assert_false(export_is_source("org.x-"));
	assert_false(export_is_source("https://example.org"));
	assert_false(export_is_source("org.ex ample"));
	assert_false(export_is_source("org.a234567890123456789012345678901234567890123456789012345678901"));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_scale),
		cmocka_unit_test(test_typed),
		cmocka_unit_test(test_taken_back),
		cmocka_unit_test(test_source),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
