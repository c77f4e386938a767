// SPDX-License-Identifier: MIT
/* Killed at any instant, a store has every weighing and answer that was acknowledged, once (promise 1). */
#include "ledger.h"

#include <signal.h>
#include <stdio.h>
#include <sys/wait.h>
#include <unistd.h>

#define ROUNDS 20
#define MOST 60

struct told {
	char kind; /* 'w': the weighing is recorded, 'a': it is answered */
	char id[UUID7_SIZE];
};

/* Weighs and answers without end, and tells after each call that returned 0. A pipe passes so few octets whole. */
static void write_until_killed(struct ledger *l, int to)
{
	struct told told;
	int i;

	l->store = ledger_open(l->dir);
	for (i = 0;; i++) {
		const struct store_stamp stamp = ledger_stamp(LEDGER_T0 + i);

		if (ledger_weigh(l, LEDGER_T0 + i, 300000 + i, told.id) != 0)
			_exit(1);
		told.kind = 'w';
		if (write(to, &told, sizeof(told)) != sizeof(told))
			_exit(2);
		if (i % 3 == 2)
			continue; /* nobody answered */
		if (store_answer(l->store, &stamp, told.id, STORE_ANSWER, l->animal[i % 2], NULL, NULL) != 0)
			_exit(3);
		told.kind = 'a';
		if (write(to, &told, sizeof(told)) != sizeof(told))
			_exit(4);
	}
}

/* Kills it after some were told; reads on to the end of the pipe: what was told before it died counts. */
static size_t kill_after(struct ledger *l, size_t some, struct told *told, size_t most)
{
	int ends[2], status;
	size_t n = 0;
	pid_t pid;

	assert_int_equal(pipe(ends), 0);
	pid = fork();
	assert_true(pid >= 0);
	if (pid == 0) {
		close(ends[0]);
		write_until_killed(l, ends[1]);
	}
	close(ends[1]);
	while (n < most && read(ends[0], &told[n], sizeof(told[n])) == sizeof(told[n]))
		if (++n == some)
			assert_int_equal(kill(pid, SIGKILL), 0);
	close(ends[0]);
	assert_int_equal(waitpid(pid, &status, 0), pid);
	assert_true(WIFSIGNALED(status));
	return n;
}

static void each_is_there_once(const char *dir, const struct told *told, size_t n)
{
	char sql[300];
	size_t i;

	for (i = 0; i < n; i++) {
		if (told[i].kind == 'a')
			(void)snprintf(sql, sizeof(sql), "SELECT count(*) FROM reading WHERE reading_id = '%s'",
				       told[i].id);
		else /* answered since, or not */
			(void)snprintf(sql, sizeof(sql),
				       "SELECT (SELECT count(*) FROM reading WHERE reading_id = '%s') + "
				       "(SELECT count(*) FROM unanswered WHERE weighing_id = '%s')",
				       told[i].id, told[i].id);
		ledger_expect(dir, sql, "1\n");
	}
}

static void killed_at_any_instant(void **state)
{
	static struct told told[ROUNDS * (MOST + 400)];
	struct ledger *l = *state;
	size_t n = 0, round;

	l->store = store_close(l->store);
	for (round = 0; round < ROUNDS; round++) {
		size_t before = n;

		n += kill_after(l, 1 + (round * 17) % MOST, told + n, MOST + 400);
		assert_true(n > before);
		each_is_there_once(l->dir, told + before, n - before); /* before any daemon looked at it again */
	}
	each_is_there_once(l->dir, told, n);
	/* at most one a round was recorded, or answered, without being told */
	assert_true(ledger_count(l->dir, "SELECT count(*) FROM weighing") <= (int64_t)(n + ROUNDS));
	ledger_expect(l->dir, "SELECT count(*) FROM frame WHERE id NOT IN (SELECT frame FROM weighing)", "0\n");
	ledger_expect(l->dir, "SELECT count(*) FROM weighing GROUP BY frame HAVING count(*) > 1", "");
	ledger_expect(l->dir, "PRAGMA integrity_check", "ok\n");
	ledger_expect(l->dir, "PRAGMA foreign_key_check", "");
	l->store = ledger_open(l->dir);
	each_is_there_once(l->dir, told, n);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test_setup_teardown(killed_at_any_instant, ledger_setup, ledger_teardown),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
