// SPDX-License-Identifier: MIT
/* What opening finds, one by one; and that it never makes a loss worse. */
#include "ledger.h"
#include "broken_disk.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

static int folder(void **state)
{
	char *dir = calloc(1, 64);

	assert_non_null(dir);
	ledger_folder(dir);
	*state = dir;
	return 0;
}

static int folder_gone(void **state)
{
	assert_int_equal(chmod(*state, 0700), 0);
	ledger_remove(*state);
	free(*state);
	return 0;
}

static int open_outcome(const char *dir)
{
	struct store *store = NULL;
	int r = store_open(dir, &store);

	assert_true((r == 0) == (store != NULL)); /* ret is written on success alone */
	store_close(store);
	return r;
}

static void write_file(const char *dir, const char *name, const void *octets, size_t n)
{
	char path[96];
	int fd;

	ledger_path(dir, name, path);
	fd = open(path, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0640);
	assert_true(fd >= 0);
	assert_int_equal(write(fd, octets, n), n);
	close(fd);
}

static int64_t size_of(const char *dir, const char *name)
{
	char path[96];
	struct stat status;

	ledger_path(dir, name, path);
	return stat(path, &status) == 0 ? status.st_size : -1;
}

static void remove_file(const char *dir, const char *name)
{
	char path[96];

	ledger_path(dir, name, path);
	assert_int_equal(unlink(path), 0);
}

static void execute(const char *dir, const char *sql)
{
	char path[96];
	sqlite3 *db = NULL;

	ledger_path(dir, STORE_FILE, path);
	assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
	if (sqlite3_exec(db, sql, NULL, NULL, NULL) != SQLITE_OK)
		fail_msg("%s: %s", sql, sqlite3_errmsg(db));
	sqlite3_close(db);
}

static void begin(const char *dir)
{
	assert_int_equal(open_outcome(dir), 0);
}

static void first_start(void **state)
{
	const char *dir = *state;

	begin(dir);
	assert_true(size_of(dir, STORE_MARK) > 0);
	ledger_expect(dir, "PRAGMA application_id", "1112101709\n");
	ledger_expect(dir, "PRAGMA user_version", "1\n");
	ledger_expect(dir, "PRAGMA journal_mode", "wal\n");
	ledger_expect(dir, "PRAGMA integrity_check", "ok\n");
	ledger_expect(dir, "PRAGMA foreign_key_check", "");
	begin(dir); /* and again */
}

static void no_folder(void **state)
{
	char path[96];

	ledger_path(*state, "none", path);
	assert_int_equal(open_outcome(path), -ENOENT);
	write_file(*state, "none", "", 0);
	assert_int_equal(open_outcome(path), -ENOTDIR);
}

static void locked(void **state)
{
	struct store *store = ledger_open(*state);

	assert_int_equal(open_outcome(*state), STORE_LOCKED);
	store_close(store);
	begin(*state);
}

static void missing_after_it_was_begun(void **state)
{
	begin(*state);
	remove_file(*state, STORE_FILE);
	assert_int_equal(open_outcome(*state), STORE_MISSING);
	assert_int_equal(size_of(*state, STORE_FILE), -1); /* and none was made */
}

static void empty_after_it_was_begun(void **state)
{
	begin(*state);
	write_file(*state, STORE_FILE, "", 0);
	assert_int_equal(open_outcome(*state), STORE_MISSING);
	assert_int_equal(size_of(*state, STORE_FILE), 0);
}

static void a_log_without_its_database(void **state)
{
	write_file(*state, STORE_FILE "-wal", "not empty", 9);
	assert_int_equal(open_outcome(*state), STORE_MISSING);
	assert_int_equal(size_of(*state, STORE_FILE "-wal"), 9);
}

/* A power cut in the first start leaves an empty mark, and perhaps an empty database: nothing is lost yet. */
static void first_start_cut_short(void **state)
{
	write_file(*state, STORE_MARK, "", 0);
	begin(*state);
	remove_file(*state, STORE_MARK);
	remove_file(*state, STORE_FILE "-wal");
	write_file(*state, STORE_MARK, "", 0);
	write_file(*state, STORE_FILE, "", 0);
	begin(*state);
	assert_true(size_of(*state, STORE_MARK) > 0);
}

/* A copy of bismar.db alone, put into a new folder. */
static void a_database_without_its_mark(void **state)
{
	begin(*state);
	remove_file(*state, STORE_MARK);
	begin(*state);
	remove_file(*state, STORE_FILE);
	assert_int_equal(open_outcome(*state), STORE_MISSING); /* marked again */
}

static void newer(void **state)
{
	begin(*state);
	execute(*state, "PRAGMA user_version = 2");
	assert_int_equal(open_outcome(*state), STORE_NEWER);
	ledger_expect(*state, "PRAGMA user_version", "2\n");
}

static void foreign(void **state)
{
	execute(*state, "CREATE TABLE shopping (what)");
	assert_int_equal(open_outcome(*state), STORE_FOREIGN);
	ledger_expect(*state, "PRAGMA journal_mode", "delete\n"); /* not even converted */
	ledger_expect(*state, "SELECT name FROM sqlite_schema", "shopping\n");
	execute(*state, "DROP TABLE shopping; PRAGMA application_id = 77");
	assert_int_equal(open_outcome(*state), STORE_FOREIGN);
}

static void merged(void **state)
{
	begin(*state);
	execute(*state, "CREATE TABLE " STORE_MERGED_MARK " (b)");
	assert_int_equal(open_outcome(*state), STORE_MERGED);
	remove_file(*state, STORE_MARK); /* nor is it begun anew with it */
	assert_int_equal(open_outcome(*state), STORE_MERGED);
}

static void damaged(void **state)
{
	char garbage[8192];

	memset(garbage, 'x', sizeof(garbage));
	write_file(*state, STORE_FILE, garbage, sizeof(garbage));
	assert_int_equal(open_outcome(*state), STORE_DAMAGED);
	assert_int_equal(size_of(*state, STORE_FILE), sizeof(garbage));
	write_file(*state, STORE_FILE, garbage, 10);
	assert_int_equal(open_outcome(*state), STORE_DAMAGED);
	/* the right magic (sqlite.org/fileformat2.html, 1.3), and nothing behind it */
	memcpy(garbage, "SQLite format 3", 16);
	write_file(*state, STORE_FILE, garbage, sizeof(garbage));
	assert_int_equal(open_outcome(*state), STORE_DAMAGED);
}

static void a_table_is_gone(void **state)
{
	begin(*state);
	execute(*state, "PRAGMA foreign_keys = OFF; DROP TABLE container_check");
	assert_int_equal(open_outcome(*state), STORE_DAMAGED);
}

/* A copy that broke off: found at the start, though not every page is read. */
static void cut_off(void **state)
{
	struct ledger l = { 0 };
	char id[UUID7_SIZE], path[96];
	int64_t size, keep;
	int i;

	memcpy(l.dir, *state, sizeof(l.dir));
	l.store = ledger_open(l.dir);
	ledger_roster(&l);
	for (i = 0; i < 400; i++)
		assert_int_equal(ledger_weigh(&l, LEDGER_T0 + i, 308000, id), 0);
	store_close(l.store);
	ledger_path(*state, STORE_FILE, path);
	size = size_of(*state, STORE_FILE);
	assert_true(size > 50 * 4096);
	remove_file(*state, STORE_FILE "-wal");
	remove_file(*state, STORE_FILE "-shm");
	begin(*state);
	for (keep = size - 4096; keep > size / 2; keep -= 3 * 4096) {
		assert_int_equal(truncate(path, keep), 0);
		assert_int_equal(open_outcome(*state), STORE_DAMAGED);
	}
}

/* root may write anything, so the test goes on as nobody then. */
static int open_as_nobody(void *dir)
{
	return geteuid() != 0 || setuid(65534) == 0 ? open_outcome(dir) : -1;
}

static void chmod_file(const char *dir, const char *name, mode_t mode)
{
	char path[96];

	ledger_path(dir, name, path);
	assert_int_equal(chmod(path, mode), 0);
}

static void give_to_nobody(const char *dir, const char *name)
{
	char path[96];

	ledger_path(dir, name, path);
	if (geteuid() == 0)
		assert_int_equal(chown(path, 65534, 65534), 0);
}

static void read_only(void **state)
{
	begin(*state);
	give_to_nobody(*state, ".");
	give_to_nobody(*state, STORE_MARK);
	give_to_nobody(*state, STORE_FILE);
	give_to_nobody(*state, STORE_FILE "-wal");
	give_to_nobody(*state, STORE_FILE "-shm");
	assert_int_equal(ledger_in_child(open_as_nobody, *state), 0); /* so it is the modes below that do it */
	chmod_file(*state, STORE_FILE, 0440);
	assert_int_equal(ledger_in_child(open_as_nobody, *state), STORE_READ_ONLY);
	chmod_file(*state, STORE_FILE, 0640);
	chmod_file(*state, STORE_MARK, 0440);
	assert_int_equal(ledger_in_child(open_as_nobody, *state), STORE_READ_ONLY);
	chmod_file(*state, STORE_MARK, 0640);
	remove_file(*state, STORE_FILE "-wal");
	remove_file(*state, STORE_FILE "-shm");
	chmod_file(*state, ".", 0550);
	assert_int_equal(ledger_in_child(open_as_nobody, *state), STORE_READ_ONLY);
}

static void read_only_folder_at_the_first_start(void **state)
{
	give_to_nobody(*state, ".");
	chmod_file(*state, ".", 0550);
	assert_int_equal(ledger_in_child(open_as_nobody, *state), STORE_READ_ONLY);
}

/*
 * A full disk mustn't keep the daemon from starting: an existing database opens without a write. The first change is
 * the shared memory's, which grows again by what opening has just cut from it, so there is room.
 */
static void opens_on_a_full_disk(void **state)
{
	begin(*state);
	broken_disk = (struct broken_disk){ .fail_at = 2, .stays = true };
	assert_int_equal(open_outcome(*state), 0);
	broken_disk.fail_at = 0;
}

static void another_program_writes(void **state)
{
	struct store *store = ledger_open(*state);
	const struct store_stamp stamp = ledger_stamp(LEDGER_T0);
	char path[96], id[UUID7_SIZE];
	sqlite3 *db = NULL;

	ledger_path(*state, STORE_FILE, path);
	assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
	assert_int_equal(sqlite3_exec(db, "BEGIN IMMEDIATE", NULL, NULL, NULL), SQLITE_OK);
	assert_int_equal(store_add_container(store, &stamp, "bowl", id), STORE_BUSY);
	assert_int_equal(sqlite3_exec(db, "ROLLBACK", NULL, NULL, NULL), SQLITE_OK);
	assert_int_equal(store_add_container(store, &stamp, "bowl", id), 0);
	sqlite3_close(db);
	store_close(store);
	ledger_expect(*state, "SELECT container FROM container_now", "bowl\n");
}

/* A process that may open no more files, however many it still may: told as that, not as a disk that failed or a
 * database that is gone; and nothing is. */
static void too_few_descriptors(void **state)
{
	const char *dir = *state;
	struct rlimit before, few;
	int next, outcome = -EMFILE;

	begin(dir);
	next = dup(STDIN_FILENO); /* those below it are in use */
	assert_true(next >= 0);
	assert_int_equal(close(next), 0);
	assert_int_equal(getrlimit(RLIMIT_NOFILE, &before), 0);
	few = before;
	for (rlim_t more = 0; outcome != 0; more++) {
		assert_true(more < 16);
		few.rlim_cur = (rlim_t)next + more;
		assert_int_equal(setrlimit(RLIMIT_NOFILE, &few), 0);
		outcome = open_outcome(dir);
		assert_int_equal(setrlimit(RLIMIT_NOFILE, &before), 0);
		assert_true(outcome == 0 || outcome == -EMFILE);
	}
	begin(dir);
}

static void each_outcome_says_what_and_which_file(void **state)
{
	int i;

	(void)state;
	for (i = STORE_FULL; i <= STORE_MERGED; i++) {
		const char *text = store_outcome_text((enum store_outcome)i);

		assert_non_null(strstr(text, STORE_FILE));
		assert_non_null(strchr(text, '.'));
	}
	assert_null(store_close(NULL));
}

#define WITH_FOLDER(test) cmocka_unit_test_setup_teardown(test, folder, folder_gone)

int main(void)
{
	const struct CMUnitTest tests[] = {
		WITH_FOLDER(first_start),
		WITH_FOLDER(no_folder),
		WITH_FOLDER(locked),
		WITH_FOLDER(missing_after_it_was_begun),
		WITH_FOLDER(empty_after_it_was_begun),
		WITH_FOLDER(a_log_without_its_database),
		WITH_FOLDER(first_start_cut_short),
		WITH_FOLDER(a_database_without_its_mark),
		WITH_FOLDER(newer),
		WITH_FOLDER(foreign),
		WITH_FOLDER(merged),
		WITH_FOLDER(damaged),
		WITH_FOLDER(a_table_is_gone),
		WITH_FOLDER(cut_off),
		WITH_FOLDER(read_only),
		WITH_FOLDER(read_only_folder_at_the_first_start),
		WITH_FOLDER(opens_on_a_full_disk),
		WITH_FOLDER(another_program_writes),
		WITH_FOLDER(too_few_descriptors),
		cmocka_unit_test(each_outcome_says_what_and_which_file),
	};

	broken_disk_install();
	return cmocka_run_group_tests(tests, NULL, NULL);
}
