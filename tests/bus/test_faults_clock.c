// SPDX-License-Identifier: MIT
/*
 * The machine sleeps, and its clock is set, while bismard runs: by hours, ahead and back, between any two results. A
 * preloaded clock_gettime() moves its clocks (clock_shim.c). After each: nothing that was received is lost, nothing is
 * invented, no question is closed before its time (books.h).
 */
#include "books.h"
#include <fcntl.h>
#include <unistd.h>

#define HOUR_S 3600

static void clock_path(const struct rig *rig, char ret[128])
{
	(void)snprintf(ret, 128, "%s/clock", rig->dir);
}

/* From now on bismard's clocks show so much more than they would. */
static void shift(struct rig *rig, int64_t wall_s, int64_t boot_s)
{
	int64_t both[2] = { wall_s, boot_s };
	char path[128];
	int fd;

	deck_note(rig->deck, "test", "clocks: wall %+lld s, boot %+lld s", (long long)wall_s, (long long)boot_s);
	clock_path(rig, path);
	fd = open(path, O_WRONLY | O_CREAT | O_CLOEXEC, 0600);
	if (fd < 0 || pwrite(fd, both, sizeof both, 0) != sizeof both || close(fd) < 0)
		deck_fail(rig->deck, "can't write %s", path);
}

static void preload(const struct rig *rig)
{
	const char *sanitizer = getenv("ASAN_OPTIONS");
	char path[128], options[512];

	clock_path(rig, path);
	/* it insists on being loaded first, and needn't */
	(void)snprintf(options, sizeof options, "%s%sverify_asan_link_order=0", sanitizer ? sanitizer : "",
		       sanitizer ? ":" : "");
	(void)setenv("ASAN_OPTIONS", options, 1);
	(void)setenv("LD_PRELOAD", rig_argument(0), 1);
	(void)setenv("BISMAR_TEST_CLOCK", path, 1);
}

static int setup(void **state)
{
	struct rig *rig;
	int r = rig_setup_bare(state);

	if (r != 0)
		return r;
	rig = *state;
	rig->before_daemon = preload;
	shift(rig, 0, 0);
	rig_start_bus(rig);
	rig_start_sim(rig);
	rig_start_daemon(rig);
	return 0;
}

static void begin(struct books *books, void **state)
{
	books_open(books, *state);
	books_scale(books, BENCH, "bench", "");
	books_weigh(books, BENCH, 305);
	books_check(books, BOOKS_NEWS);
}

/* ---- the clock is set ---- */

/* The moves show in what bismard dates: else no other test here means anything. */
static void test_clocks_move(void **state)
{
	int64_t now_s = nursery_now_s();
	struct books books;

	begin(&books, state);
	shift(books.rig, 30 * HOUR_S, 0);
	books_weigh(&books, BENCH, 310);
	rig_expect_row(books.rig, "1", "SELECT count(*) FROM unanswered WHERE at_ms BETWEEN %lld AND %lld",
		       (long long)(now_s + 30 * HOUR_S - 60) * 1000, (long long)(now_s + 30 * HOUR_S + 60) * 1000);
	books_close(&books);
}

/* Questions stay open, whatever the wall clock says, and can be answered. */
static void asks_stay(void **state, int64_t wall_s)
{
	struct books books;

	begin(&books, state);
	nursery_litter(books.client);
	books_weigh(&books, BENCH, 310);
	shift(books.rig, wall_s, 0);
	books_weigh(&books, BENCH, 315);
	books_check(&books, BOOKS_NEWS);
	assert_int_equal(client_notices(books.client, "withdraw"), 0);
	(void)client_call(books.client, "answer", "{s:s}", "animal", "Ash");
	books.closed++;
	shift(books.rig, 0, 0);
	books_weigh(&books, BENCH, 320);
	(void)client_call(books.client, "answer", "{s:s}", "animal", "Birch");
	books.closed++;
	books_check(&books, BOOKS_NEWS);
	rig_expect_row(books.rig, "305.0|310.0", "SELECT min(net_g), max(net_g) FROM reading");
	books_close(&books);
}

static void test_asks_when_set_ahead(void **state)
{
	asks_stay(state, 13 * HOUR_S);
}

static void test_asks_when_set_back(void **state)
{
	asks_stay(state, -13 * HOUR_S);
}

/* The clock is set between a result and its repeat: still one weighing. */
static void repeats_stay(void **state, int64_t wall_s)
{
	struct books books;

	begin(&books, state);
	shift(books.rig, wall_s, 0);
	books_indicate(&books, BENCH, "2a9d", nursery_weight(305), false);
	(void)rig_sim(books.rig, "drop " BENCH);
	books_await_link(&books, "bench");
	shift(books.rig, 0, 0);
	books_indicate(&books, BENCH, "2a9d", nursery_weight(305), false);
	rig_await_row(books.rig, "used|repeat|repeat", "SELECT group_concat(fate, '|') FROM frame_log");
	books_check(&books, BOOKS_NEWS);
	books_close(&books);
}

static void test_repeats_when_set_ahead(void **state)
{
	repeats_stay(state, 3 * HOUR_S);
}

static void test_repeats_when_set_back(void **state)
{
	repeats_stay(state, -3 * HOUR_S);
}

/* Half a minute after a pup another one weighs the same, and in between the clock was set back by that half minute, or
 * by hours: two weighings. */
static void test_two_alike_when_set_back(void **state)
{
	struct books books;

	begin(&books, state);
	shift(books.rig, 0, 30);
	books_weigh(&books, BENCH, 305);
	shift(books.rig, 3 * HOUR_S, 60);
	books_weigh(&books, BENCH, 305);
	shift(books.rig, 3 * HOUR_S, 90);
	books_weigh(&books, BENCH, 305);
	books_check(&books, BOOKS_NEWS);
	books_close(&books);
}

/* What a scale had kept comes in one go, and the clock is set in the middle of it: each result is dated by its own
 * stamp, not by its arrival, as often as it comes. */
static void kept_results(void **state, int64_t wall_s)
{
	int64_t now_s = nursery_now_s();
	struct books books;

	books_open(&books, *state);
	books_scale(&books, BENCH, "bench", "");
	for (int round = 0; round < 2; round++)
		for (int i = 0; i < 8; i++) {
			if (round == 0 && i % 3 == 2)
				shift(books.rig, i < 4 ? wall_s : 0, 0);
			books_indicate(&books, BENCH, "2a9d",
				       nursery_weight_at(300 + 5 * i, now_s - 86400 + 600 * i, 0), round == 0);
			rig_await_frames(books.rig, books.sent);
		}
	books_check(&books, BOOKS_NEWS);
	for (int i = 0; i < 8; i++)
		rig_expect_row(books.rig, "stored|1",
			       "SELECT origin, count(*) FROM unanswered WHERE at_ms = %lld AND net_g = %d",
			       (long long)(now_s - 86400 + 600 * i) * 1000, 300 + 5 * i);
	books_close(&books);
}

static void test_kept_results_when_set_ahead(void **state)
{
	kept_results(state, 3 * HOUR_S);
}

static void test_kept_results_when_set_back(void **state)
{
	kept_results(state, -3 * HOUR_S);
}

/* Live masses go on. */
static void test_live_when_set(void **state)
{
	static const int64_t moves_s[] = { 5 * HOUR_S, -5 * HOUR_S, 48 * HOUR_S, 0, -1 };
	struct books books;

	begin(&books, state);
	(void)client_notice(books.client, "live");
	for (size_t i = 0; i < sizeof moves_s / sizeof *moves_s; i++) {
		(void)rig_sim(books.rig, "pause 150"); /* ten a second at most */
		shift(books.rig, moves_s[i], 0);
		books_weigh(&books, BENCH, 310 + 5 * (int)i);
		assert_int_equal(client_notices(books.client, "live"), 1);
		(void)client_notice(books.client, "live");
	}
	books_check(&books, BOOKS_NEWS);
	books_close(&books);
}

/* ---- the machine sleeps ---- */

/* The link is lost, the controller comes back off and is powered on, both clocks are ahead. */
static void sleep_for(struct books *books, int64_t until_s)
{
	shift(books->rig, until_s, until_s);
	(void)rig_sim(books->rig, "adapter power hci0 off");
	(void)rig_sim(books->rig, "adapter power hci0 on");
	(void)rig_sim(books->rig, "wait-client " BENCH);
}

static void test_sleeps(void **state)
{
	struct books books;

	begin(&books, state);
	sleep_for(&books, 8 * HOUR_S);
	books_weigh(&books, BENCH, 305); /* as heavy as the one before the night, and another */
	books_check(&books, BOOKS_NEWS);
	assert_int_equal(client_notices(books.client, "withdraw"), 0);
	/* the first question is 16 hours old by now; the second isn't */
	sleep_for(&books, 16 * HOUR_S);
	books_weigh(&books, BENCH, 310);
	(void)client_notice(books.client, "withdraw");
	books.closed++;
	books_check(&books, BOOKS_NEWS);
	assert_int_equal(client_notices(books.client, "withdraw"), 0);
	books_close(&books);
}

/* A pup that is weighed after the night doesn't become the tare that was asked for in the evening. */
static void test_tare_over_night(void **state)
{
	struct books books;

	begin(&books, state);
	(void)client_call(books.client, "container.tare", "{s:s, s:s}", "name", "box", "scale", "bench");
	sleep_for(&books, 8 * HOUR_S);
	books_weigh(&books, BENCH, 310);
	books_check(&books, BOOKS_NEWS);
	books_close(&books);
}

/* And wakes with a clock that is wrong, until it is set. */
static void test_sleeps_and_is_set(void **state)
{
	struct books books;

	begin(&books, state);
	shift(books.rig, -5 * HOUR_S, 8 * HOUR_S);
	(void)rig_sim(books.rig, "adapter power hci0 off");
	(void)rig_sim(books.rig, "adapter power hci0 on");
	books_weigh(&books, BENCH, 305);
	shift(books.rig, 8 * HOUR_S, 8 * HOUR_S);
	books_indicate(&books, BENCH, "2a9d", nursery_weight(305), false);
	books_weigh(&books, BENCH, 310);
	books_check(&books, BOOKS_NEWS);
	assert_int_equal(client_notices(books.client, "withdraw"), 0);
	books_close(&books);
}

#define CASE(name) cmocka_unit_test_setup_teardown(name, setup, rig_teardown)

int main(int argc, char **argv)
{
	const struct CMUnitTest tests[] = {
		CASE(test_clocks_move),
		CASE(test_asks_when_set_ahead),
		CASE(test_asks_when_set_back),
		CASE(test_repeats_when_set_ahead),
		CASE(test_repeats_when_set_back),
		CASE(test_two_alike_when_set_back),
		CASE(test_kept_results_when_set_ahead),
		CASE(test_kept_results_when_set_back),
		CASE(test_live_when_set),
		CASE(test_sleeps),
		CASE(test_tare_over_night),
		CASE(test_sleeps_and_is_set),
	};

	rig_programs(argc, argv);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
