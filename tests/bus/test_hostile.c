// SPDX-License-Identifier: MIT
/*
 * An org.bluez that means ill (hostile.c): from seed after seed it sends what no bluetoothd would, and in between it
 * has an honest scale. bismard goes on: all that the honest scale sent is in the ledger, once, and nothing else; it
 * answers its clients, and a weighing by a bluetoothd that comes after is a weighing, without a restart. BISMAR_SEEDS
 * (20) seeds from BISMAR_SEED (1) on; tests/soak/bluez has many run.
 */
#include "nursery.h"
#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

#define RECOVER_EACH 10 /* seeds; then the honest bluetoothd comes */
#define HONEST 2        /* weighings of a seed */
#define STEP_G 5
#define FIRST_G 1000 /* never one that an imposter says */
#define MOST_KB                                                                                                        \
	(48 * 1024) /* by which memory may have grown between the first seeds and the end, sanitizers' books included  \
		     */

struct tally {
	struct rig *rig;
	struct client *client;
	unsigned seeds, sent, unheard, recovered;
	int64_t slowest_ms, sum_ms; /* from the honest bluetoothd's start to the question */
	long first_kb, last_kb;
	unsigned grams;
};

static unsigned setting(const char *name, unsigned otherwise)
{
	const char *text = getenv(name);

	return text ? (unsigned)strtoul(text, NULL, 10) : otherwise;
}

static long memory_kb(const struct rig *rig)
{
	char path[64], line[256];
	long kb = 0;
	FILE *file;

	(void)snprintf(path, sizeof path, "/proc/%d/status", (int)rig->daemon);
	file = fopen(path, "re");
	while (file && fgets(line, sizeof line, file))
		if (sscanf(line, "VmRSS: %ld", &kb) == 1)
			break;
	if (file)
		(void)fclose(file); /* only read from */
	return kb;
}

/* Ticks of processor time that bismard has used. */
static unsigned long ticks(const struct rig *rig)
{
	unsigned long user = 0, kernel = 0;
	char path[64];
	FILE *file;

	(void)snprintf(path, sizeof path, "/proc/%d/stat", (int)rig->daemon);
	file = fopen(path, "re");
	if (!file ||
	    fscanf(file, "%*d (%*[^)]) %*c %*d %*d %*d %*d %*d %*u %*u %*u %*u %*u %lu %lu", &user, &kernel) != 2)
		deck_fail(rig->deck, "no times of bismard");
	(void)fclose(file); /* only read from */
	return user + kernel;
}

static unsigned next_grams(struct tally *tally)
{
	unsigned grams = tally->grams;

	/* the wire has 16 bits of 5 g; two that are alike are far apart */
	tally->grams = grams + STEP_G > 300000 ? FIRST_G : grams + STEP_G;
	return grams;
}

/* All that was sent is there, once, and nothing else. */
static void check_ledger(struct tally *tally)
{
	char wanted[32];

	(void)snprintf(wanted, sizeof wanted, "%u", tally->sent + tally->recovered);
	rig_await_row(tally->rig, wanted, "SELECT count(*) FROM weighing");
	(void)client_call(tally->client, "status", NULL); /* what it was at is done */
	rig_expect_row(tally->rig, wanted, "SELECT count(*) FROM weighing");
}

static void run_seed(struct tally *tally, const char *hostile, unsigned seed)
{
	struct rig *rig = tally->rig;
	unsigned grams[HONEST];
	char word[2][32];
	struct rig_program program;

	for (unsigned i = 0; i < HONEST; i++)
		grams[i] = next_grams(tally);
	(void)snprintf(word[0], sizeof word[0], "%u", seed);
	(void)snprintf(word[1], sizeof word[1], "%u", grams[0]);
	rig_begin(rig, "hostile", (const char *const[]){ hostile, word[0], word[1], NULL }, &program);
	for (unsigned i = 0; i < HONEST; i++) {
		char words[32];
		const char *line;
		(void)snprintf(words, sizeof words, "honest for %u", grams[i]);
		(void)rig_heard(&program, words);
		(void)snprintf(words, sizeof words, " %u", grams[i]);
		line = rig_heard(&program, words);
		if (strncmp(line, "sent", 4) != 0) {
			tally->unheard++;
			continue;
		}
		tally->sent++;
		rig_await_row(rig, "1", "SELECT count(*) FROM weighing WHERE gross_mg = %u", grams[i] * 1000);
	}
	(void)rig_heard(&program, "done");
	assert_int_equal(rig_end(rig, &program, 0), 0);
	check_ledger(tally);
	tally->seeds++;
}

static void recover(struct tally *tally)
{
	struct rig *rig = tally->rig;
	unsigned grams = next_grams(tally);
	int64_t begun_ms = deck_ms(rig->deck), took_ms;

	rig_start_sim(rig);
	(void)rig_sim(rig, "scale " BENCH " bench");
	(void)rig_sim(rig, "advertise " BENCH " on");
	nursery_weigh(rig, BENCH, (int)grams);
	rig_await_row(rig, "1", "SELECT count(*) FROM weighing WHERE gross_mg = %u", grams * 1000);
	took_ms = deck_ms(rig->deck) - begun_ms;
	tally->sum_ms += took_ms;
	tally->slowest_ms = took_ms > tally->slowest_ms ? took_ms : tally->slowest_ms;
	tally->recovered++;
	check_ledger(tally);
	(void)rig_sim(rig, "quit");
	rig_reap_sim(rig);
}

/* With nobody there it rests: a loop that spins would use all of the time. */
static void check_rest(struct tally *tally)
{
	struct rig *rig = tally->rig;
	unsigned long before = ticks(rig);
	int64_t until_ms = deck_ms(rig->deck) + 1000;

	while (deck_ms(rig->deck) < until_ms)
		deck_turn(rig->deck, 100);
	assert_in_range(ticks(rig) - before, 0, (unsigned long)sysconf(_SC_CLK_TCK) / 5);
}

static void test_hostile(void **state)
{
	struct tally tally = { .rig = *state, .grams = FIRST_G };
	unsigned first = setting("BISMAR_SEED", 1), n = setting("BISMAR_SEEDS", 20);
	const char *hostile = rig_argument(0);

	rig_start_bus(tally.rig);
	rig_start_daemon(tally.rig);
	tally.client = client_open(tally.rig);
	(void)client_call(tally.client, "scale.adopt", "{s:s, s:s}", "address", BENCH, "name", "bench");
	for (unsigned i = 0; i < n; i++) {
		run_seed(&tally, hostile, first + i);
		if ((i + 1) % RECOVER_EACH == 0 || i + 1 == n)
			recover(&tally);
		tally.last_kb = memory_kb(tally.rig);
		if (i < RECOVER_EACH)
			tally.first_kb = tally.last_kb;
		if ((i + 1) % 100 == 0)
			(void)fprintf(stderr, "%u seeds: %u sent and found, %u unheard, %ld KiB\n", tally.seeds,
				      tally.sent, tally.unheard, tally.last_kb);
	}
	check_rest(&tally);
	(void)fprintf(stderr,
		      "hostile: %u seeds, honest readings %u sent and found once, %u not subscribed to in time; %u "
		      "recoveries, "
		      "%lld ms in the mean, %lld ms at most; memory %ld, then %ld KiB\n",
		      tally.seeds, tally.sent, tally.unheard, tally.recovered,
		      (long long)(tally.recovered ? tally.sum_ms / tally.recovered : 0), (long long)tally.slowest_ms,
		      tally.first_kb, tally.last_kb);
	assert_int_equal(tally.unheard, 0);
	assert_in_range(tally.last_kb, 0, tally.first_kb + MOST_KB);
	tally.client = client_close(tally.client);
}

/* A sanitizer keeps what is freed for a while; a quarter of a gigabyte would hide what grows. */
static void keep_less(void)
{
	const char *given = getenv("ASAN_OPTIONS");
	char options[512];

	(void)snprintf(options, sizeof options, "%s:quarantine_size_mb=8", given ? given : "");
	(void)setenv("ASAN_OPTIONS", *options == ':' ? options + 1 : options, 1);
}

int main(int argc, char **argv)
{
	const struct CMUnitTest tests[] = { cmocka_unit_test_setup_teardown(test_hostile, rig_setup_bare,
									    rig_teardown) };

	rig_programs(argc, argv);
	keep_less();
	return cmocka_run_group_tests(tests, NULL, NULL);
}
