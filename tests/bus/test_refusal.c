// SPDX-License-Identifier: MIT
/* When bismard must not start: exit status, what it says, and that nothing was touched. And a disk that is full. */
#include "nursery.h"
#include "daemon/limits.h"
#include <errno.h>
#include <fcntl.h>
#include <sched.h>
#include <signal.h>
#include <sqlite3.h>
#include <sys/mount.h>
#include <sys/wait.h>
#include <unistd.h>

#define EXIT_OTHER 1
#define EXIT_USAGE 2
#define EXIT_DATABASE 3

/* Runs one that must end by itself with this status, and say these words. */
__attribute__((sentinel)) static void expect_end(struct rig *rig, int status, const char *words, ...)
{
	const char *args[RIG_ARGS_MAX + 1] = { NULL };
	struct rig_ran ran;
	va_list list;

	va_start(list, words);
	for (size_t i = 0; i < RIG_ARGS_MAX && (args[i] = va_arg(list, const char *)); i++)
		;
	va_end(list);
	rig_run_daemon(rig, args, &ran);
	if (ran.status != status || !strstr(status ? ran.err : ran.out, words))
		deck_fail(rig->deck, "status %d instead of %d, or it didn't say \"%s\"", ran.status, status, words);
}

static void expect_unusable(struct rig *rig, const char *words)
{
	expect_end(rig, EXIT_DATABASE, words, "--state", rig->state, "--socket", rig->socket, "--config", "/dev/null",
		   NULL);
	assert_int_not_equal(access(rig->socket, F_OK), 0); /* it listened to nobody */
}

static void in_state(struct rig *rig, const char *name, char ret[160])
{
	(void)snprintf(ret, 160, "%s/%s", rig->state, name);
}

static void put_file(struct rig *rig, const char *path, const void *octets, size_t n)
{
	FILE *file = fopen(path, "we");

	if (!file || fwrite(octets, 1, n, file) != n || fclose(file) != 0)
		deck_fail(rig->deck, "can't write %s", path);
}

static size_t get_file(const char *path, void *octets, size_t size)
{
	FILE *file = fopen(path, "re");
	size_t n;

	assert_non_null(file);
	n = fread(octets, 1, size, file);
	(void)fclose(file);
	return n;
}

static void change(struct rig *rig, const char *sql)
{
	sqlite3 *db = NULL;
	char path[160];

	in_state(rig, "bismar.db", path);
	if (sqlite3_open(path, &db) != SQLITE_OK || sqlite3_exec(db, sql, NULL, NULL, NULL) != SQLITE_OK)
		deck_fail(rig->deck, "%s: %s", sql, sqlite3_errmsg(db));
	(void)sqlite3_close(db);
}

static void begin_ledger(struct rig *rig)
{
	rig_start_daemon(rig);
	assert_int_equal(rig_stop_daemon(rig, SIGTERM), 0);
}

/* ---- usage ---- */

static void test_usage(void **state)
{
	struct rig *rig = *state;
	char config[160];

	expect_end(rig, EXIT_USAGE, "usage", "--nonsense", NULL);
	expect_end(rig, EXIT_USAGE, "usage", "--state", NULL);
	expect_end(rig, EXIT_USAGE, "stray", "stray", NULL);
	expect_end(rig, EXIT_USAGE, "debug", "--config", "/dev/null", "--log-level", "loud", NULL);
	expect_end(rig, EXIT_USAGE, "/nowhere.conf", "--config", "/nowhere.conf", NULL);
	in_state(rig, "wrong.conf", config);
	put_file(rig, config, "[daemon]\nstate =\n", 17);
	expect_end(rig, EXIT_USAGE, "wrong.conf:2", "--config", config, NULL);
	expect_end(rig, 0, "bismard ", "--version", NULL);
	expect_end(rig, 0, "usage", "--help", NULL);
}

/* ---- somebody is there ---- */

static void test_second(void **state)
{
	struct rig *rig = *state;
	struct client *client;
	char other[160];

	rig_start_daemon(rig);
	client = client_open(rig);
	in_state(rig, "other", other); /* a socket's path, then a folder's */
	expect_end(rig, EXIT_DATABASE, "Another bismard", "--state", rig->state, "--socket", other, "--config",
		   "/dev/null", NULL);
	assert_int_not_equal(access(other, F_OK), 0);
	expect_end(rig, EXIT_OTHER, "another bismard", "--state", other, "--socket", rig->socket, "--config",
		   "/dev/null", NULL);
	/* the first didn't notice */
	(void)client_call(client, "litter.add", "{s:s}", "name", "amber");
	client_close(client);
	client = client_open(rig);
	(void)client_refused(client, "exists", "litter.add", "{s:s}", "name", "amber");
	client_close(client);
}

/* ---- the database ---- */

static void test_newer_schema(void **state)
{
	struct rig *rig = *state;

	begin_ledger(rig);
	change(rig, "PRAGMA user_version = 99");
	expect_unusable(rig, "newer");
	rig_expect_row(rig, "99", "PRAGMA user_version");
}

static void test_garbage(void **state)
{
	struct rig *rig = *state;
	unsigned char garbage[5000], after[sizeof garbage + 1];
	char path[160];

	for (size_t i = 0; i < sizeof garbage; i++)
		garbage[i] = (unsigned char)(i * 151 + 7);
	in_state(rig, "bismar.db", path);
	put_file(rig, path, garbage, sizeof garbage);
	expect_unusable(rig, "bismar.db");
	assert_int_equal(get_file(path, after, sizeof after), sizeof garbage);
	assert_memory_equal(after, garbage, sizeof garbage);
}

static void test_foreign(void **state)
{
	struct rig *rig = *state;

	change(rig, "CREATE TABLE recipe (name TEXT)");
	expect_unusable(rig, "another program");
	rig_expect_row(rig, "recipe", "SELECT group_concat(name) FROM sqlite_schema");
}

static void test_lost(void **state)
{
	struct rig *rig = *state;
	char path[160], wal[160], shm[160];

	begin_ledger(rig);
	in_state(rig, "bismar.db", path);
	in_state(rig, "bismar.db-wal", wal);
	in_state(rig, "bismar.db-shm", shm);
	(void)unlink(wal);
	(void)unlink(shm);
	assert_int_equal(unlink(path), 0);
	expect_unusable(rig, "backup"); /* it doesn't begin a new one in silence */
	assert_int_not_equal(access(path, F_OK), 0);
	put_file(rig, path, "", 0);
	expect_unusable(rig, "backup");
}

static void test_no_folder(void **state)
{
	struct rig *rig = *state;
	char path[160];

	in_state(rig, "a/b", path);
	expect_end(rig, EXIT_DATABASE, path, "--state", path, "--socket", rig->socket, "--config", "/dev/null", NULL);
	in_state(rig, "file", path);
	put_file(rig, path, "x", 1);
	expect_end(rig, EXIT_DATABASE, path, "--state", path, "--socket", rig->socket, "--config", "/dev/null", NULL);
}

static void test_no_socket(void **state)
{
	struct rig *rig = *state;
	char path[160];

	in_state(rig, "a/b.sock", path);
	expect_end(rig, EXIT_OTHER, path, "--state", rig->state, "--socket", path, "--config", "/dev/null", NULL);
	/* a file that is no socket is somebody's */
	in_state(rig, "file", path);
	put_file(rig, path, "x", 1);
	expect_end(rig, EXIT_OTHER, path, "--state", rig->state, "--socket", path, "--config", "/dev/null", NULL);
	assert_int_equal(access(path, F_OK), 0);
}

/* ---- a full disk ---- */

/* A small file system of our own for the state; false: we may not. Nobody else sees it. */
static bool mount_small(struct rig *rig, const char *size)
{
	return geteuid() == 0 && unshare(CLONE_NEWNS) == 0 && mount(NULL, "/", NULL, MS_REC | MS_PRIVATE, NULL) == 0 &&
	       mount("small", rig->state, "tmpfs", 0, size) == 0;
}

static void fill_disk(struct rig *rig)
{
	static const char octets[4096] = "full";
	char path[160];
	int fd;

	in_state(rig, "filler", path);
	fd = open(path, O_WRONLY | O_CREAT | O_CLOEXEC, 0600);
	if (fd < 0)
		deck_fail(rig->deck, "can't write %s", path);
	while (write(fd, octets, sizeof octets) > 0)
		;
	assert_int_equal(errno, ENOSPC);
	(void)close(fd);
}

static void empty_disk(struct rig *rig)
{
	char path[160];

	in_state(rig, "filler", path);
	assert_int_equal(unlink(path), 0);
}

static void weigh_on_full_disk(struct rig *rig)
{
	struct client *client = client_open(rig);
	const json_t *status;

	nursery_make(rig, client);
	nursery_weigh(rig, BENCH, BOX_G + 305);
	(void)client_notice(client, "ask");
	(void)client_call(client, "import.begin", NULL);
	(void)client_call(client, "import.rows", "{s:[{s:s, s:s, s:s}, {s:s, s:s, s:s}]}", "rows", "animal", "Birch", "mass", "300g", "at",
			  "2026-01-01T00:00:00Z", "animal", "Elm", "mass", "300g", "at", "2026-01-01T00:00:00Z");
	fill_disk(rig);
	for (int i = 0; i < 3; i++)
		nursery_weigh(rig, BENCH, BOX_G + 310 + 5 * i);
	(void)rig_log(rig, "Results are held in memory");
	(void)client_refused(client, "ledger", "weigh", "{s:s, s:i}", "animal", "Ash", "mass_g", 300);
	(void)client_refused(client, "ledger", "answer", "{s:s}", "animal", "Ash");
	(void)client_refused(client, "ledger", "import.commit", NULL);
	do /* signals from the bus and requests come in any order */
		status = client_call(client, "status", NULL);
	while (json_integer_value(json_object_get(status, "pending")) < 3);
	assert_string_not_equal(client_text(client, status, "database"), "fine");
	assert_int_equal(client_notices(client, "ask"), 0); /* durable first */
	rig_expect_row(rig, "1", "SELECT count(*) FROM unanswered");

	empty_disk(rig);
	(void)rig_log(rig, "the database can be written again");
	for (int i = 0; i < 3; i++)
		assert_int_equal(client_mg(client, client_notice(client, "ask"), "net_g"), (310 + 5 * i) * 1000);
	rig_expect_row(rig, "4", "SELECT count(*) FROM unanswered");
	status = client_call(client, "status", NULL);
	assert_int_equal(json_integer_value(json_object_get(status, "pending")), 0);
	assert_string_equal(client_text(client, status, "database"), "fine");
	(void)client_call(client, "answer", "{s:s}", "animal", "Ash");
	rig_expect_row(rig, "1|305.0", "SELECT count(*), net_g FROM reading");
	(void)client_call(client, "import.commit", NULL); /* its rows have waited, too */
	rig_expect_row(rig, "3", "SELECT count(*) FROM reading");
	rig_expect_row(rig, "ok", "PRAGMA integrity_check");
	client_close(client);
}

/* There is room again, and bismard is stopped before it tries again by itself. */
static void stop_on_full_disk(struct rig *rig)
{
	struct client *client = client_open(rig);

	nursery_make(rig, client);
	fill_disk(rig);
	for (int i = 0; i < 3; i++)
		nursery_weigh(rig, BENCH, BOX_G + 310 + 5 * i);
	(void)rig_log(rig, "Results are held in memory");
	while (json_integer_value(json_object_get(client_call(client, "status", NULL), "pending")) < 3)
		;
	empty_disk(rig);
	client_close(client);
	assert_int_equal(rig_stop_daemon(rig, SIGTERM), 0);
	rig_expect_row(rig, "3", "SELECT count(*) FROM unanswered");
	rig_start_daemon(rig);
}

/* More than may wait: the newest are lost, and that is said; the others come through in their order. */
static void overfill(struct rig *rig)
{
	struct client *client = client_open(rig);
	char row[64];

	nursery_make(rig, client);
	(void)client_call(client, "follow", "{s:[]}", "topics");
	(void)rig_sim(rig, "wait-client " BENCH);
	fill_disk(rig);
	for (int i = 0; i < LIMIT_PENDING_FRAMES + 2; i++)
		(void)rig_sim(rig, "indicate " BENCH " 2a9d %s", nursery_weight(BOX_G + 305 + 5 * (i % 7)));
	/* told once, then counted: a scale that streams must not fill the journal too */
	(void)rig_log(rig, "is lost: too many wait");
	empty_disk(rig);
	(void)rig_log(rig, "the database can be written again; 2 results that came meanwhile are lost");
	(void)snprintf(row, sizeof row, "%d|%d", LIMIT_PENDING_FRAMES, LIMIT_PENDING_FRAMES);
	rig_expect_row(rig, row, "SELECT count(*), sum(fate = 'used') FROM frame_log");
	assert_int_equal(json_array_size(json_object_get(client_call(client, "asks", NULL), "asks")), LIMIT_OPEN_ASKS);
	client_close(client);
}

static void on_small_disk(struct rig *rig, const char *size, void (*test)(struct rig *rig))
{
	if (!mount_small(rig, size)) {
		print_message("a full disk needs a file system of its own, which only root may mount: skipped\n");
		skip();
	}
	rig_start_bus(rig);
	rig_start_sim(rig);
	rig_start_daemon(rig);
	test(rig);
}

static int teardown_small(void **state)
{
	struct rig *rig = *state;

	(void)umount2(rig->state, MNT_DETACH); /* so that the folder can be removed; it may not be mounted */
	return rig_teardown(state);
}

static void test_full_disk(void **state)
{
	on_small_disk(*state, "size=4m", weigh_on_full_disk);
}

static void test_stopped_on_full_disk(void **state)
{
	on_small_disk(*state, "size=4m", stop_on_full_disk);
}

static void test_too_many_on_full_disk(void **state)
{
	on_small_disk(*state, "size=64m", overfill);
}

#define CASE(name) cmocka_unit_test_setup_teardown(name, rig_setup_bare, rig_teardown)
#define SMALL(name) cmocka_unit_test_setup_teardown(name, rig_setup_bare, teardown_small)

int main(int argc, char **argv)
{
	const struct CMUnitTest tests[] = {
		CASE(test_usage),
		CASE(test_second),
		CASE(test_newer_schema),
		CASE(test_garbage),
		CASE(test_foreign),
		CASE(test_lost),
		CASE(test_no_folder),
		CASE(test_no_socket),
		SMALL(test_full_disk),
		SMALL(test_stopped_on_full_disk),
		SMALL(test_too_many_on_full_disk),
	};

	rig_programs(argc, argv);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
