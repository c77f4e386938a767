// SPDX-License-Identifier: MIT
/* backup: what is written is whole, or nothing is; never over what must not be written over. */
#include "daemon/ctl/backup.h"
#include "daemon/ctl/database.h"
#include "lab.h"
#include "tests/unit/store/broken_disk.h"
#include <dirent.h>
#include <fcntl.h>
#include <stdlib.h>
#include <sys/stat.h>

#define NOW_MS INT64_C(1795610790000) /* 2026-11-25T12:46:30Z: date -u -d @1795610790 */
#define ROWS 3000

static struct lab lab;
static sqlite3 *db;
static char text[BACKUP_TEXT_SIZE], path[160];
static struct backup backup;

/* The lab's database with a table of the ledger's kind, and one that isn't. */
static void begin(void)
{
	char why[512];

	broken_disk.fail_at = 0;
	lab_init(&lab);
	lab_sql(lab.database,
		"CREATE TABLE frame(seq INTEGER PRIMARY KEY, bytes BLOB);"
		"CREATE TRIGGER frame_delete BEFORE DELETE ON frame BEGIN SELECT RAISE(ABORT, 'append-only'); END;"
		"CREATE TABLE open_weighing(seq INTEGER PRIMARY KEY);"
		"WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 3000)"
		"INSERT INTO frame SELECT i, randomblob(100) FROM n;");
	assert_int_equal(database_open(lab.database, &db, why, sizeof why), 0);
	text[0] = '\0';
	backup = (struct backup){ 0 };
}

static void end(void)
{
	database_close(db);
	lab_done(&lab); /* fails when a file is left that isn't the lab's */
}

static const char *in_lab(const char *name)
{
	(void)snprintf(path, sizeof path, "%s/%s", lab.dir, name);
	return path;
}

static int write_to(const char *file, bool force)
{
	return backup_write(db, lab.database, file, force, NOW_MS, &backup, text);
}

static void check_refused(const char *file, bool force, const char *word)
{
	backup.octets = -7;
	if (write_to(file, force) != -1 || !strstr(text, word))
		fail_msg("no \"%s\" for %s in: %s", word, file, text);
	assert_int_equal(backup.octets, -7); /* written only on success */
}

static unsigned files_in_lab(void)
{
	DIR *dir = opendir(lab.dir);
	unsigned n = 0;

	assert_non_null(dir);
	for (const struct dirent *entry; (entry = readdir(dir));)
		n += strcmp(entry->d_name, ".") != 0 && strcmp(entry->d_name, "..") != 0;
	(void)closedir(dir);
	return n;
}

static int64_t rows_in(const char *file)
{
	sqlite3_stmt *row;
	sqlite3 *copy;
	int64_t n;

	assert_int_equal(sqlite3_open_v2(file, &copy, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
	assert_int_equal(sqlite3_prepare_v2(copy, "SELECT count(*) FROM frame", -1, &row, NULL), SQLITE_OK);
	assert_int_equal(sqlite3_step(row), SQLITE_ROW);
	n = sqlite3_column_int64(row, 0);
	(void)sqlite3_finalize(row);
	assert_int_equal(sqlite3_close(copy), SQLITE_OK);
	return n;
}

static void test_whole(void **state)
{
	struct stat status;
	unsigned before;
	mode_t mask;

	(void)state;
	begin();
	before = files_in_lab();
	mask = umask(0077); /* members of the group read it all the same */
	assert_int_equal(write_to(in_lab("copy.db"), false), 0);
	(void)umask(mask);
	assert_int_equal(stat(path, &status), 0);
	assert_int_equal(status.st_mode & 07777, 0640);
	assert_int_equal(backup.octets, status.st_size);
	assert_int_equal(backup.schema, 1);
	assert_int_equal(backup.n_tables, 1); /* the other one may shrink */
	assert_string_equal(backup.tables[0].name, "frame");
	assert_int_equal(backup.tables[0].rows, ROWS);
	assert_int_equal(backup.readings, 2);
	assert_int_equal(backup.newest_at_ms, 1795610790000);
	assert_int_equal(rows_in(path), ROWS);
	assert_int_equal(files_in_lab(), before + 1); /* nothing beside it: one file is all */
	assert_int_equal(unlink(path), 0);
	end();
}

static void test_names(void **state)
{
	char link[160];

	(void)state;
	begin();
	assert_int_equal(write_to(lab.dir, false), 0); /* a folder */
	assert_string_equal(backup.path + strlen(backup.path) - strlen("/bismar-20261125T124630Z.db"),
			    "/bismar-20261125T124630Z.db");
	check_refused(lab.dir, false, "exists already"); /* within the same second */
	assert_int_equal(unlink(backup.path), 0);
	check_refused(lab.database, false, "belongs to the database");
	check_refused(lab.database, true, "belongs to the database"); /* whatever is said */
	check_refused(in_lab("bismar.db-wal"), true, "belongs to the database");
	check_refused(in_lab("bismar.db-journal"), true, "belongs to the database"); /* though it isn't there */
	check_refused(in_lab("bismar.began"), true, "belongs to the database");
	(void)snprintf(link, sizeof link, "%s/link", lab.dir);
	assert_int_equal(symlink(lab.database, link), 0);
	check_refused(link, true, "belongs to the database");
	assert_int_equal(unlink(link), 0);
	assert_int_equal(linkat(AT_FDCWD, lab.database, AT_FDCWD, link, 0), 0);
	check_refused(link, true, "belongs to the database");
	assert_int_equal(unlink(link), 0);
	check_refused(lab.socket, true, "isn't a plain file");
	check_refused("", false, "empty");
	check_refused(in_lab("no/copy.db"), false, "There is no folder");
	check_refused(in_lab("no/"), false, "no name for a file");
	check_refused("/proc/copy.db", false, "/proc"); /* no user may write there, root neither */
	end();
}

static void test_force(void **state)
{
	(void)state;
	begin();
	assert_int_equal(write_to(in_lab("other"), false), 0);
	check_refused(in_lab("other"), false, "--force");
	assert_int_equal(rows_in(path), ROWS);
	lab_sql(lab.database, "INSERT INTO frame VALUES(NULL, x'00')");
	assert_int_equal(write_to(in_lab("other"), true), 0);
	assert_int_equal(rows_in(path), ROWS + 1);
	end();
}

/* A disk that is full, or fails, at each step in turn: no file stays, and an older backup stays as it was. */
static void broken(enum broken_how how)
{
	unsigned fail_at = 1, before, full = 0;
	bool done = false;

	begin();
	assert_int_equal(write_to(in_lab("other"), false), 0);
	before = files_in_lab();
	lab_sql(lab.database, "INSERT INTO frame VALUES(NULL, x'00')");
	broken_disk.how = how;
	broken_disk.stays = true;
	while (!done) {
		broken_disk.calls = 0;
		broken_disk.failed = 0;
		broken_disk.fail_at = fail_at;
		done = write_to(in_lab("other"), true) == 0;
		broken_disk.fail_at = 0;
		full += !done && strstr(text, "There is no room");
		if (!done && !strstr(text, "There is no room") && !strstr(text, "failed"))
			fail_msg("%s", text);
		assert_true(done == (broken_disk.failed == 0));
		assert_int_equal(files_in_lab(), before);
		assert_int_equal(rows_in(path), done ? ROWS + 1 : ROWS);
		fail_at += fail_at < 10 ? 1 : 7;
	}
	assert_true(fail_at > 20); /* there were that many steps to fail */
	assert_true(how == BROKEN_FULL ? full > 10 : full == 0);
	end();
}

static void test_broken(void **state)
{
	(void)state;
	broken(BROKEN_FULL);
	broken(BROKEN_IO);
}

/* A copy that lost rows, or pages, is no backup: checked with a source that claims more than it gives. */
static void test_unsound_source(void **state)
{
	int fd;

	(void)state;
	begin();
	database_close(db);
	lab_sql(lab.database, "PRAGMA journal_mode=DELETE");
	fd = open(lab.database, O_RDWR | O_CLOEXEC);
	assert_true(fd >= 0);
	for (int page = 20; page < 24; page++) /* in the middle of `frame` */
		assert_int_equal(pwrite(fd, "no page of a database", 21, page * 4096), 21);
	(void)close(fd);
	assert_int_equal(database_open(lab.database, &db, text, sizeof text), 0);
	check_refused(in_lab("other"), false, "damaged");
	assert_int_equal(access(path, F_OK), -1);
	end();
}

static void test_stopped(void **state)
{
	unsigned before;

	(void)state;
	begin();
	before = files_in_lab();
	backup_stop(); /* stays: the program ends */
	check_refused(in_lab("other"), false, "broken off");
	assert_int_equal(files_in_lab(), before);
	end();
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_whole),  cmocka_unit_test(test_names),          cmocka_unit_test(test_force),
		cmocka_unit_test(test_broken), cmocka_unit_test(test_unsound_source), cmocka_unit_test(test_stopped),
	};

	broken_disk_install();
	return cmocka_run_group_tests(tests, NULL, NULL);
}
