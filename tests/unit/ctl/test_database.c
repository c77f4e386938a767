// SPDX-License-Identifier: MIT
#include "daemon/ctl/database.h"
#include "lab.h"
#include <fcntl.h>
#include <sys/stat.h>

static struct lab lab;

static void check_refused(const char *path, const char *word)
{
	sqlite3 *db = (sqlite3 *)&lab;
	char text[512] = "";

	assert_int_equal(database_open(path, &db, text, sizeof text), -1);
	assert_ptr_equal(db, &lab); /* written only on success */
	if (!strstr(text, word))
		fail_msg("no \"%s\" in: %s", word, text);
}

static void test_refused(void **state)
{
	char other[64], path[128];

	(void)state;
	lab_init(&lab);
	(void)snprintf(other, sizeof other, "%s/other", lab.dir);
	check_refused(other, "There is no database at");
	assert_int_equal(access(other, F_OK), -1); /* and none was made */
	lab_sql(other, "CREATE TABLE t(x)");
	check_refused(other, "no database of bismard's");
	lab_sql(other, "PRAGMA application_id=1112101709");
	check_refused(other, "older bismard");
	lab_sql(other, "PRAGMA user_version=2");
	check_refused(other, "newer bismard");
	lab_sql(other, "PRAGMA user_version=1");
	assert_int_equal(chmod(other, 0), 0);
	if (geteuid() != 0) /* root may read everything */
		check_refused(other, "usermod -aG bismar");
	(void)unlink(other);

	int fd = open(other, O_CREAT | O_WRONLY | O_CLOEXEC, 0600);
	assert_true(fd >= 0);
	for (int i = 0; i < 100; i++)
		assert_int_equal(write(fd, "this is no database, whatever it is called ", 43), 43);
	assert_int_equal(close(fd), 0);
	check_refused(other, "no database of bismard's");
	(void)snprintf(path, sizeof path, "%s/x", other);
	check_refused(path, "There is no database at");
	lab_done(&lab);
}

static void test_read_only(void **state)
{
	sqlite3 *db = NULL;
	char text[512];

	(void)state;
	lab_init(&lab);
	assert_int_equal(database_open(lab.database, &db, text, sizeof text), 0);
	assert_int_equal(sqlite3_exec(db, "DELETE FROM reading", NULL, NULL, NULL), SQLITE_READONLY);
	database_close(db);
	lab_done(&lab);
}

static void test_rows(void **state)
{
	const char *name = "Acer";
	sqlite3 *db = NULL;
	sqlite3_stmt *row;
	int64_t value = 7;
	char text[512], *json;
	json_t *object;

	(void)state;
	lab_init(&lab);
	assert_int_equal(database_open(lab.database, &db, text, sizeof text), 0);
	assert_null(database_ask(db, "SELECT * FROM no_such_view", NULL, 0));
	row = database_ask(db, "SELECT animal, collar, fed, at_ms, net_g FROM reading WHERE animal = ?1", &name, 1);
	assert_non_null(row);
	assert_int_equal(sqlite3_step(row), SQLITE_ROW);
	assert_string_equal(database_text(row, "animal"), "Acer");
	assert_string_equal(database_text(row, "fed"), "");
	assert_string_equal(database_text(row, "absent"), "");
	assert_false(database_whole(row, "fed", &value));
	assert_int_equal(value, 7);
	assert_true(database_mg(row, "net_g", &value));
	assert_int_equal(value, 312500);
	object = database_json(row);
	json = json_dumps(object, JSON_COMPACT | JSON_REAL_PRECISION(15));
	assert_string_equal(
		json,
		"{\"animal\":\"Acer\",\"collar\":\"green\",\"fed\":null,\"at_ms\":1795610730000,\"net_g\":312.5}");
	free(json);
	json_decref(object);
	assert_int_equal(sqlite3_finalize(row), SQLITE_OK);
	database_close(db);
	database_close(NULL);
	lab_done(&lab);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_refused),
		cmocka_unit_test(test_read_only),
		cmocka_unit_test(test_rows),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
