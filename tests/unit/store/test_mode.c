// SPDX-License-Identifier: MIT
/* Who may read: members of the group, who can't write the folder, while the daemon runs and while it doesn't. */
#include "ledger.h"

#include <grp.h>
#include <signal.h>
#include <stdio.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#define OTHER_USER 65533
#define GROUP 65532

static mode_t mode_of(const char *dir, const char *name)
{
	char path[96];
	struct stat status;

	ledger_path(dir, name, path);
	assert_int_equal(stat(path, &status), 0);
	return status.st_mode & 07777;
}

static void modes(void **state)
{
	struct ledger *l = *state;
	const mode_t before = umask(0077); /* narrower, and wider, than what is asked for */
	char dir[64];
	int i;

	for (i = 0; i < 2; i++) {
		(void)umask(i == 0 ? 0077 : 0);
		ledger_folder(dir);
		store_close(ledger_open(dir));
		assert_int_equal(mode_of(dir, STORE_FILE), 0640);
		assert_int_equal(mode_of(dir, STORE_FILE "-wal"), 0640);
		assert_int_equal(mode_of(dir, STORE_FILE "-shm"), 0640);
		assert_int_equal(mode_of(dir, STORE_MARK), 0640);
		assert_int_equal(mode_of(dir, "."), 0700); /* left as it was */
		ledger_remove(dir);
	}
	(void)umask(before);
	assert_int_equal(mode_of(l->dir, STORE_FILE), 0640);
}

/* As a user who can read only: how many readings it sees, -1 for an error. */
static int readings_seen(void *dir)
{
	sqlite3 *db = NULL;
	sqlite3_stmt *st = NULL;
	char path[96];
	int n = -1;

	if (geteuid() == 0 && (setgroups(0, NULL) < 0 || setgid(GROUP) < 0 || setuid(OTHER_USER) < 0))
		return -2;
	ledger_path(dir, STORE_FILE, path);
	if (sqlite3_open_v2(path, &db, SQLITE_OPEN_READONLY, NULL) == SQLITE_OK &&
	    sqlite3_prepare_v2(db, "SELECT count(*) FROM reading", -1, &st, NULL) == SQLITE_OK &&
	    sqlite3_step(st) == SQLITE_ROW)
		n = sqlite3_column_int(st, 0);
	else
		fprintf(stderr, "%s\n", sqlite3_errmsg(db));
	sqlite3_finalize(st);
	sqlite3_close(db);
	return n;
}

static int one_reading(void *userdata)
{
	struct ledger *l = userdata;
	const struct store_stamp stamp = ledger_stamp(LEDGER_T0);
	char id[UUID7_SIZE];

	if (ledger_weigh(l, LEDGER_T0, 308000, id) != 0)
		return 1;
	return store_answer(l->store, &stamp, id, STORE_ANSWER, l->animal[0], NULL, NULL);
}

/* Opens, records, and is killed. */
static int one_reading_at_last(void *userdata)
{
	struct ledger *l = userdata;

	l->store = ledger_open(l->dir);
	return one_reading(l);
}

/* A daemon of its own, that records one reading for each octet it gets, and ends in order with the last. */
struct daemon {
	pid_t pid;
	int to, from;
};

static void run_daemon(struct ledger *l, int in, int out)
{
	char octet = 0;

	l->store = ledger_open(l->dir);
	while (write(out, &octet, 1) == 1 && read(in, &octet, 1) == 1)
		if (one_reading(l) != 0)
			_exit(1);
	store_close(l->store);
	raise(SIGKILL); /* the test's own memory is nobody's leak */
}

static struct daemon daemon_start(struct ledger *l)
{
	struct daemon d;
	int to[2], from[2];
	char octet;

	assert_int_equal(pipe(to), 0);
	assert_int_equal(pipe(from), 0);
	d.pid = fork();
	assert_true(d.pid >= 0);
	if (d.pid == 0) {
		close(to[1]);
		close(from[0]);
		run_daemon(l, to[0], from[1]);
	}
	close(to[0]);
	close(from[1]);
	d.to = to[1];
	d.from = from[0];
	assert_int_equal(read(d.from, &octet, 1), 1);
	return d;
}

static void daemon_records(struct daemon *d)
{
	char octet = 0;

	assert_int_equal(write(d->to, &octet, 1), 1);
	assert_int_equal(read(d->from, &octet, 1), 1);
}

static void daemon_ends(struct daemon *d)
{
	int status;

	close(d->to);
	assert_int_equal(waitpid(d->pid, &status, 0), d->pid);
	assert_true(WIFSIGNALED(status));
	close(d->from);
}

/* root hands the files to the group; anyone else makes folder and files such that they can't be written. */
static void let_read(const char *dir)
{
	static const char *const names[] = { STORE_FILE, STORE_FILE "-wal", STORE_FILE "-shm", "." };
	char path[96];
	size_t i;

	for (i = 0; i < 4; i++) {
		ledger_path(dir, names[i], path);
		if (geteuid() == 0)
			assert_int_equal(chown(path, 0, GROUP), 0);
		assert_int_equal(chmod(path, i == 3 ? 0750 : 0640), 0);
	}
}

static void take_writing(const char *dir, bool take)
{
	static const char *const names[] = { STORE_FILE, STORE_FILE "-wal", STORE_FILE "-shm", "." };
	char path[96];
	size_t i;

	if (geteuid() == 0) /* the reader is another user already */
		return;
	for (i = 0; i < 4; i++) {
		ledger_path(dir, names[i], path);
		assert_int_equal(chmod(path, (i == 3 ? 0550 : 0440) | (take ? 0 : 0200)), 0);
	}
}

static void members_of_the_group_read(void **state)
{
	struct ledger *l = *state;
	struct daemon d;
	char path[96];

	let_read(l->dir);
	d = daemon_start(l);
	take_writing(l->dir, true);
	assert_int_equal(ledger_in_child(readings_seen, l->dir), 0);
	daemon_records(&d);
	assert_int_equal(ledger_in_child(readings_seen, l->dir), 1); /* while it runs */
	daemon_ends(&d);
	ledger_path(l->dir, STORE_FILE "-wal", path);
	assert_int_equal(access(path, F_OK), 0);
	ledger_path(l->dir, STORE_FILE "-shm", path);
	assert_int_equal(access(path, F_OK), 0);
	assert_int_equal(ledger_in_child(readings_seen, l->dir), 1); /* while it doesn't */
	take_writing(l->dir, false);
	d = daemon_start(l);
	take_writing(l->dir, true);
	daemon_records(&d);
	assert_int_equal(ledger_in_child(readings_seen, l->dir), 2); /* and after a restart */
	daemon_ends(&d);
	take_writing(l->dir, false);
}

/* Nor does a daemon that was killed lock readers out: what it committed is in the log. */
static void and_after_a_kill(void **state)
{
	struct ledger *l = *state;

	let_read(l->dir);
	assert_int_equal(ledger_in_child(one_reading_at_last, l), 0);
	take_writing(l->dir, true);
	assert_int_equal(ledger_in_child(readings_seen, l->dir), 1);
	take_writing(l->dir, false);
}

#define WITH_LEDGER(test) cmocka_unit_test_setup_teardown(test, ledger_setup_closed, ledger_teardown)

int main(void)
{
	const struct CMUnitTest tests[] = {
		WITH_LEDGER(modes),
		WITH_LEDGER(members_of_the_group_read),
		WITH_LEDGER(and_after_a_kill),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
