// SPDX-License-Identifier: MIT
/* backup and checkup of the real daemon: a backup made under load, put back as README.md says, is the whole record. */
#include "nursery.h"
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <sqlite3.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#define LOAD 400 /* masses typed while one backup is made */
#define BACKUPS 3
#define BACKUPS_MAX 10 /* until one was made in the middle of it: a fast disk takes the load before bismar has begun   \
			*/

static struct rig_ran ran;

#define CTL(rig, ...) rig_run_ctl(rig, (const char *const[]){ __VA_ARGS__, NULL }, &ran)

static json_t *written(struct rig *rig, const char *file)
{
	json_t *json;

	CTL(rig, "--json", "backup", file);
	if (ran.status != 0)
		deck_fail(rig->deck, "backup: status %d: %s", ran.status, ran.err);
	json = json_loads(ran.out, 0, NULL);
	assert_non_null(json);
	return json;
}

static int64_t whole(const json_t *object, const char *key)
{
	const json_t *value = json_object_get(object, key);

	assert_true(json_is_integer(value));
	return json_integer_value(value);
}

/* A number out of a file, read with SQLite alone. */
static int64_t ask(const char *file, const char *sql)
{
	sqlite3_stmt *row;
	sqlite3 *db;
	int64_t value;

	assert_int_equal(sqlite3_open_v2(file, &db, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
	assert_int_equal(sqlite3_prepare_v2(db, sql, -1, &row, NULL), SQLITE_OK);
	assert_int_equal(sqlite3_step(row), SQLITE_ROW);
	value = sqlite3_column_int64(row, 0);
	(void)sqlite3_finalize(row);
	assert_int_equal(sqlite3_close(db), SQLITE_OK);
	return value;
}

static const char *in(const char *dir, const char *name)
{
	static char paths[4][256];
	static unsigned next;
	char *path = paths[next++ % 4];

	(void)snprintf(path, sizeof *paths, "%s/%s", dir, name);
	return path;
}

/* README.md, Backup: the database and what lies beside it moves away, the backup takes its place; the mark stays. */
static void put_back(struct rig *rig, const char *backup)
{
	static const char *const old[] = { "bismar.db", "bismar.db-wal", "bismar.db-shm" };
	char buffer[65536];
	ssize_t n;
	int from, to;

	for (size_t i = 0; i < sizeof old / sizeof *old; i++)
		assert_true(unlink(in(rig->state, old[i])) == 0 || errno == ENOENT);
	from = open(backup, O_RDONLY | O_CLOEXEC);
	to = open(in(rig->state, "bismar.db"), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0640);
	assert_true(from >= 0 && to >= 0);
	while ((n = read(from, buffer, sizeof buffer)) > 0)
		assert_int_equal(write(to, buffer, (size_t)n), n);
	assert_int_equal(n, 0);
	(void)close(from);
	assert_int_equal(close(to), 0);
}

/* What the daemon has told to be recorded before a backup begins is in it; the last one has all. */
static void test_under_load(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);
	int ids[LOAD * BACKUPS_MAX], sent = 0, told = 0;
	char first[160] = "";
	bool overlapped = false;

	nursery_make(rig, client);
	for (int b = 0; b < BACKUPS || (!overlapped && b < BACKUPS_MAX); b++) {
		json_t *json;
		int64_t rows;
		char name[32], file[160];
		/* the daemon has this much before it while the copy is made */
		for (int until = LOAD * (b + 1); sent < until; sent++)
			ids[sent] = client_ask(client, "weigh", "{s:s, s:i}", "animal", nursery_pups[sent % PUPS].name,
					       "mass_g", 300 + sent);
		(void)snprintf(name, sizeof name, "backup-%d.db", b);
		(void)snprintf(file, sizeof file, "%s", in(rig->dir, name));
		if (!overlapped)
			(void)snprintf(first, sizeof first, "%s", file);
		json = written(rig, file);
		rows = ask(file, "SELECT count(*) FROM reading");
		assert_true(rows >= told && rows <= sent);
		overlapped = overlapped || (rows > 0 && rows < sent);
		/* what it says is what is in it */
		assert_int_equal(whole(json, "readings"), rows);
		assert_int_equal(whole(json_object_get(json, "rows"), "weighing"), rows);
		assert_int_equal(whole(json_object_get(json, "rows"), "animal"), PUPS);
		assert_null(json_object_get(json_object_get(json, "rows"), "open_weighing")); /* it may shrink */
		assert_int_equal(whole(json, "schema"), ask(file, "PRAGMA user_version"));
		assert_int_equal(ask(file, "PRAGMA application_id"), 1112101709); /* protocols/database.md */
		for (; told < sent; told++)
			assert_non_null(json_object_get(client_reply(client, ids[told]), "result"));
		json_decref(json);
	}
	assert_true(overlapped); /* or it wasn't under load at all */
	assert_int_equal(WEXITSTATUS(rig_stop_daemon(rig, SIGTERM)), 0);
	client_close(client);

	/* one made in the middle of it: a whole record of its time */
	put_back(rig, first);
	rig_start_daemon(rig);
	client = client_open(rig);
	rig_expect_row(rig, "ok", "PRAGMA integrity_check");
	int64_t rows = ask(first, "SELECT count(*) FROM reading");
	char expected[32];
	(void)snprintf(expected, sizeof expected, "%lld", (long long)rows);
	rig_expect_row(rig, expected, "SELECT count(*) FROM reading");
	/* none in the middle is missing: masses rise one by one */
	(void)snprintf(expected, sizeof expected, "%lld", (long long)rows - 1);
	rig_expect_row(rig, expected, "SELECT cast(max(net_g) - min(net_g) AS INTEGER) FROM reading");
	/* and it goes on from there, by radio too */
	(void)client_call(client, "weigh", "{s:s, s:i}", "animal", "Ash", "mass_g", 999);
	nursery_weigh(rig, BENCH, BOX_G + 305);
	assert_int_equal(client_mg(client, client_notice(client, "ask"), "net_g"), 305000);
	client_close(client);
}

/* The newest backup, put into an empty folder on another machine: no mark, no log. */
static void test_elsewhere(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);
	char backup[160];

	nursery_make(rig, client);
	nursery_weigh(rig, BENCH, BOX_G + 300);
	(void)client_notice(client, "ask");
	(void)client_word(client, "green");
	nursery_weigh(rig, BENCH, BOX_G + 310);
	(void)client_notice(client, "ask"); /* stays open */
	client_close(client);
	assert_int_equal(WEXITSTATUS(rig_stop_daemon(rig, SIGTERM)), 0);
	(void)snprintf(backup, sizeof backup, "%s", in(rig->dir, "stopped.db"));
	json_decref(written(rig, backup)); /* works while the daemon doesn't run */
	assert_int_equal(unlink(in(rig->state, "bismar.began")), 0);
	put_back(rig, backup);
	rig_start_daemon(rig);
	client = client_open(rig);
	assert_int_equal(client_mg(client, client_notice(client, "ask"), "net_g"), 310000); /* asked again */
	rig_expect_row(rig, "Ash|300.0|bench|box", "SELECT animal, net_g, scale, container FROM reading");
	assert_int_equal(access(in(rig->state, "bismar.began"), F_OK), 0);
	client_close(client);
}

/* As a person does it. */
static void test_words(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);
	char file[160];
	struct stat status;

	nursery_litter(client);
	(void)client_call(client, "weigh", "{s:s, s:i}", "animal", "Ash", "mass_g", 300);
	(void)snprintf(file, sizeof file, "%s", in(rig->dir, "a.db"));
	CTL(rig, "backup", file);
	assert_int_equal(ran.status, 0);
	assert_non_null(strstr(ran.out, "a.db: 1 reading, newest"));
	assert_string_equal(ran.err, "");
	assert_int_equal(stat(file, &status), 0);
	assert_int_equal(status.st_mode & 07777, 0640);
	CTL(rig, "backup", file);
	assert_int_equal(ran.status, 1);
	assert_non_null(strstr(ran.err, "--force"));
	CTL(rig, "backup", "--force", file);
	assert_int_equal(ran.status, 0);
	CTL(rig, "backup", in(rig->state, "bismar.db"), "--force");
	assert_int_equal(ran.status, 1);
	rig_expect_row(rig, "1", "SELECT count(*) FROM reading");
	CTL(rig, "backup", in(rig->dir, "none/a.db"));
	assert_int_equal(ran.status, 1);
	CTL(rig, "backup", "-");
	assert_int_equal(ran.status, 2);
	CTL(rig, "backup");
	assert_int_equal(ran.status, 2);
	CTL(rig, "--database", in(rig->dir, "none.db"), "backup", in(rig->dir, "b.db"));
	assert_int_equal(ran.status, 3);
	assert_int_not_equal(access(in(rig->dir, "b.db"), F_OK), 0);
	client_close(client);
}

/* The line of a check, or a failure; the reference is the caller's. */
static json_t *line_of(struct rig *rig, const char *check)
{
	char copy[sizeof ran.out], *rest = copy;

	(void)snprintf(copy, sizeof copy, "%s", ran.out);
	for (char *line; (line = strsep(&rest, "\n"));) {
		json_t *json = *line ? json_loads(line, 0, NULL) : NULL;
		const char *name = json_string_value(json_object_get(json, "check"));
		if (name && strcmp(name, check) == 0)
			return json;
		json_decref(json);
	}
	deck_fail(rig->deck, "no line of %s in: %s", check, ran.out);
}

static void expect_line(struct rig *rig, const char *check, bool good, const char *words)
{
	json_t *line = line_of(rig, check);
	const char *text = json_string_value(json_object_get(line, good ? "say" : "todo"));

	if (json_is_true(json_object_get(line, "good")) != good || !text || !strstr(text, words))
		deck_fail(rig->deck, "%s should be %s with \"%s\": %s", check, good ? "good" : "to do", words, ran.out);
	json_decref(line);
}

/* Whether this machine has Bluetooth and a synchronised clock is none of the test's business; the rest is as the rig
 * made it. */
static void test_checkup(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);

	CTL(rig, "checkup", "--json");
	expect_line(rig, "scale", false, "scale find");
	expect_line(rig, "database", true, "nothing has been weighed");
	nursery_make(rig, client);
	CTL(rig, "checkup", "--json");
	expect_line(rig, "scale", false, "Put something on it");
	nursery_weigh(rig, BENCH, BOX_G + 300);
	(void)client_notice(client, "ask");
	CTL(rig, "checkup", "--json");
	expect_line(rig, "bluetoothd", true, "runs");
	expect_line(rig, "policy", true, "may speak");
	expect_line(rig, "power", true, "is on");
	expect_line(rig, "socket", true, "answers");
	expect_line(rig, "rights", true, "use the socket and read the database");
	expect_line(rig, "version", true, "both");
	expect_line(rig, "database", true, "newest weighing");
	expect_line(rig, "disk", true, "MB left");
	expect_line(rig, "scale", true, "bench: last heard");
	expect_line(rig, "container", true, "box");
	CTL(rig, "checkup");
	assert_non_null(strstr(ran.out, "good   socket      bismard answers"));
	for (const char *at = ran.out; *at; at += strcspn(at, "\n") + 1)
		assert_true(strcspn(at, "\n") <= 80);
	client_close(client);

	(void)rig_sim(rig, "adapter power hci0 off");
	(void)rig_log(rig, "adapter is off");
	CTL(rig, "checkup", "--json");
	assert_int_equal(ran.status, 1);
	expect_line(rig, "power", false, "bluetoothctl power on");
	assert_int_equal(WEXITSTATUS(rig_stop_daemon(rig, SIGTERM)), 0);
	CTL(rig, "checkup", "--json"); /* without the daemon: the adapter is asked about directly */
	expect_line(rig, "power", false, "bluetoothctl power on");
	expect_line(rig, "socket", false, "systemctl start bismard");
	expect_line(rig, "database", true, "newest weighing");
	rig_stop_bus(rig);
	rig_reap_sim(rig);
	CTL(rig, "checkup", "--json");
	expect_line(rig, "bluetoothd", false, "start dbus");
	assert_int_equal(ran.status, 1);
}

/* What a found scale offers, and what its step allows, is said in words. */
static void test_scale_words(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);

	nursery_make(rig, client);
	CTL(rig, "scale", "list");
	assert_int_equal(ran.status, 0);
	assert_non_null(strstr(ran.out, "bench: its step isn't known yet"));
	nursery_weigh(rig, BENCH, BOX_G + 300);
	(void)client_notice(client, "ask");
	CTL(rig, "scale", "list");
	assert_non_null(strstr(ran.out,
			       "bench: steps of 5 g: enough for pups from 600 g on; a 300 g pup must be weighed 16 "
			       "hours apart for a stall to show."));
	(void)client_word(client, "green"); /* the same of a reading */
	CTL(rig, "scale", "list", "--json");
	assert_non_null(strstr(ran.out, "\"step_g\":5.0"));
	CTL(rig, "scale", "find", "2");
	assert_int_equal(ran.status, 0);
	assert_non_null(strstr(ran.out, "Weight Scale Service"));
	client_close(client);
}

#define CASE(name) cmocka_unit_test_setup_teardown(name, rig_setup, rig_teardown)

int main(int argc, char **argv)
{
	const struct CMUnitTest tests[] = {
		CASE(test_under_load), CASE(test_elsewhere),   CASE(test_words),
		CASE(test_checkup),    CASE(test_scale_words),
	};

	rig_programs(argc, argv);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
