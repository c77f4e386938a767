// SPDX-License-Identifier: MIT
/*
 * A fortnight of a litter of eight, played through the socket: verdicts, concerns, rounds, corrections, limits.
 * Growth is simulated: 7 % a day in week 1, 4.5 % in week 2, within the published bands (8 %, 5 to 10; 5 %, 3.5 to 6: Small
 * Animal Clinical Nutrition, 5th ed., p. 292). Gut fill as the issue of growth is benchmarked with: 2 % that a round shares,
 * 1 % of a pup's own, evenly spread here. Masses are whole grams. All by a fixed seed.
 */
#include "nursery.h"
#include <math.h>
#include <signal.h>

#define DAY_MS (INT64_C(24) * 3600 * 1000)
#define ROUND_MS (DAY_MS / 2)
#define ROUNDS 28
#define STALLS 4 /* index of the pup that does */
#define STALL_FROM 7.5
#define STALL_TO 11.5 /* then it gains again, and what it has missed */

static const int births[PUPS] = { 290, 305, 331, 352, 322, 378, 275, 401 };

struct play {
	struct rig *rig;
	struct client *client;
	int64_t born_ms;
	uint64_t seed;
};

/* Evenly from -1 to 1, times a scale of 1.7 so that its standard deviation is one. */
static double noise(struct play *play)
{
	play->seed = play->seed * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
	return 1.732 * ((double)(play->seed >> 11) / 4503599627370496.0 - 1);
}

static double grown(double days)
{
	return days <= 7 ? 0.07 * days : 0.07 * 7 + 0.045 * (days - 7);
}

/* ln of mass over birth mass. */
static double gained(size_t pup, double days)
{
	if (pup != STALLS || days <= STALL_FROM)
		return grown(days);
	if (days <= STALL_TO)
		return grown(STALL_FROM);
	return grown(STALL_FROM) + 0.08 * (days - STALL_TO);
}

static struct play *begin(struct play *play, struct rig *rig)
{
	const json_t *result;

	*play = (struct play){ .rig = rig, .client = client_open(rig), .seed = 5 };
	play->born_ms = nursery_now_s() * 1000 - 14 * DAY_MS - 11 * 3600000;
	(void)client_call(play->client, "follow", "{s:[s, s, s, s]}", "topics", "ask", "recorded", "concern", "round");
	(void)client_call(play->client, "litter.add", "{s:s, s:I}", "name", "amber", "born", (json_int_t)play->born_ms);
	for (size_t i = 0; i < PUPS; i++) {
		result = client_call(play->client, "animal.add", "{s:s, s:s, s:s, s:i}", "name", nursery_pups[i].name,
				     "litter", "amber", "collar", nursery_pups[i].collar, "birth_g", births[i]);
		assert_string_equal(client_text(play->client, result, "litter"), "amber");
	}
	return play;
}

/* What this pup weighs that many days after birth. */
static int grams(struct play *play, size_t pup, double days, double shared)
{
	return (int)lround(births[pup] * exp(gained(pup, days) + shared + 0.01 * noise(play)));
}

/* Rounds from one to another, every twelve hours. */
static void play_rounds(struct play *play, int from, int to)
{
	for (int k = from; k <= to; k++) {
		double shared = 0.02 * noise(play);
		for (size_t i = 0; i < PUPS; i++) {
			int64_t at_ms = play->born_ms + k * ROUND_MS + (int64_t)i * 60000;
			(void)client_call(play->client, "weigh", "{s:s, s:i, s:I}", "animal", nursery_pups[i].name, "mass_g",
					  grams(play, i, (double)(at_ms - play->born_ms) / (double)DAY_MS, shared), "at",
					  (json_int_t)at_ms);
		}
	}
}

/* One pup out of the result of `growth`. */
static const json_t *growth_of(struct play *play, const char *name, int64_t as_of_ms)
{
	const json_t *result = as_of_ms ? client_call(play->client, "growth", "{s:s, s:I}", "who", name, "as_of",
						      (json_int_t)as_of_ms) :
					  client_call(play->client, "growth", "{s:s}", "who", name);
	const json_t *list = json_object_get(result, "growth");

	assert_int_equal(json_array_size(list), 1);
	return json_array_get(list, 0);
}

static bool is_wild(struct play *play, const char *name)
{
	const json_t *wild = json_object_get(growth_of(play, name, 0), "wild");

	return json_is_true(wild);
}

static double number(const json_t *object, const char *key)
{
	assert_true(json_is_number(json_object_get(object, key)));
	return json_number_value(json_object_get(object, key));
}

static bool stopped(struct play *play, const json_t *one)
{
	const char *verdict = client_text(play->client, one, "verdict");

	return strcmp(verdict, "flat") == 0 || strcmp(verdict, "losing") == 0;
}

/* ---- verdicts and concerns ---- */

static const char *await_concern(struct play *play)
{
	for (;;) {
		const json_t *notice = client_notice(play->client, "concern");
		if (!json_is_true(json_object_get(notice, "open")) || json_is_null(json_object_get(notice, "name")) ||
		    strcmp(client_text(play->client, notice, "name"), nursery_pups[STALLS].name) != 0)
			continue;
		if (strcmp(client_text(play->client, notice, "rule"), "no-gain-24h") == 0 ||
		    strcmp(client_text(play->client, notice, "rule"), "losing") == 0)
			return client_text(play->client, notice, "concern");
	}
}

/* All that is told when a concern is. */
static void check_concern(struct play *play, const char *id)
{
	const json_t *result = client_call(play->client, "concerns", "{s:s}", "who", "amber");
	const json_t *list = json_object_get(result, "concerns"), *one, *found = NULL;
	size_t i;

	assert_non_null(strstr(client_text(play->client, result, "say"), "no vet"));
	json_array_foreach(list, i, one)
		if (json_is_string(json_object_get(one, "concern")) && strcmp(client_text(play->client, one, "concern"), id) == 0)
			found = one;
	assert_non_null(found);
	assert_true(strlen(client_text(play->client, found, "source")) > 10);
	assert_true(strlen(client_text(play->client, found, "advice")) > 20);
	assert_true(json_is_integer(json_object_get(found, "since_ms")));
	if (strcmp(client_text(play->client, found, "level"), "vet") == 0)
		assert_non_null(strstr(client_text(play->client, found, "advice"), "Call your vet now"));
	rig_expect_row(play->rig, "1", "SELECT count(*) FROM concern_now WHERE concern_id = '%s' AND litter = 'amber'", id);
}

/* One that stalls is told of, over a kill, until it gains again; the others aren't. */
static void test_stall(void **state)
{
	struct rig *rig = *state;
	struct play play;
	struct rig_ran ran;
	const char *name = nursery_pups[STALLS].name, *id;
	const json_t *closed;

	begin(&play, rig);
	play_rounds(&play, 1, 15);
	assert_false(stopped(&play, growth_of(&play, name, 0)));
	rig_expect_row(rig, "0", "SELECT count(*) FROM concern_now WHERE rule IN ('losing', 'no-gain-24h', 'litter-slow')");
	play_rounds(&play, 16, 23);
	assert_true(stopped(&play, growth_of(&play, name, play.born_ms + 23 * ROUND_MS + 3600000)));
	id = await_concern(&play);
	check_concern(&play, id);

	client_close(play.client);
	rig_kill_daemon(rig);
	rig_start_daemon(rig);
	play.client = client_open(rig);
	(void)client_call(play.client, "follow", "{s:[s]}", "topics", "concern");
	check_concern(&play, id);
	rig_run_ctl(rig, (const char *const[]){ "concerns", "amber", NULL }, &ran);
	if (ran.status != 0 || !strstr(ran.out, name) || !strstr(ran.out, "Source: ") || !strstr(ran.out, "no vet"))
		deck_fail(rig->deck, "bismar concerns: status %d, %s%s", ran.status, ran.out, ran.err);

	play_rounds(&play, 24, ROUNDS);
	closed = client_notice_of(play.client, "concern", "concern", id);
	while (json_is_true(json_object_get(closed, "open"))) /* its level may change before */
		closed = client_notice_of(play.client, "concern", "concern", id);
	assert_string_equal(client_text(play.client, closed, "name"), name);
	rig_expect_row(rig, "0", "SELECT count(*) FROM concern_now WHERE concern_id = '%s'", id);
	/* opened once, whatever happened in between */
	rig_expect_row(rig, "1|1", "SELECT count(DISTINCT concern), sum(state = 'closed') FROM concern WHERE concern = '%s'", id);
	client_close(play.client);
}

/* What could be known then is what is told of then, and now is now. */
static void test_as_of(void **state)
{
	struct rig *rig = *state;
	const char *name = nursery_pups[STALLS].name;
	struct play play;
	struct rig_ran ran;
	const json_t *one;
	int gaining = 0;

	begin(&play, rig);
	one = growth_of(&play, name, 0);
	assert_string_equal(client_text(play.client, one, "verdict"), "too soon");
	play_rounds(&play, 1, ROUNDS);
	for (size_t i = 0; i < PUPS; i++) {
		one = growth_of(&play, nursery_pups[i].name, 0);
		gaining += strcmp(client_text(play.client, one, "verdict"), "gaining") == 0;
		assert_false(stopped(&play, one));
		assert_int_equal(json_integer_value(json_object_get(one, "readings")), ROUNDS + 1); /* and the birth weight */
		if (i == STALLS)
			continue;
		/* within four standard uncertainties of what was simulated */
		assert_true(fabs(number(one, "gain_pct_per_day") - 4.5) < 4 * number(one, "u_gain_pct_per_day"));
		assert_true(fabs(number(one, "since_birth_pct") - 100 * (exp(grown(14)) - 1)) < 12);
	}
	assert_true(gaining >= PUPS / 2); /* the rest "too soon", never stopped */
	assert_true(stopped(&play, growth_of(&play, name, play.born_ms + 23 * ROUND_MS + 3600000)));
	assert_false(stopped(&play, growth_of(&play, name, play.born_ms + 14 * ROUND_MS + 3600000)));
	one = growth_of(&play, name, play.born_ms + 14 * ROUND_MS + 3600000);
	assert_int_equal(json_integer_value(json_object_get(one, "readings")), 15);
	(void)client_refused(play.client, "bad-value", "growth", "{s:I}", "as_of",
			     (json_int_t)(nursery_now_s() * 1000 + DAY_MS));
	(void)client_refused(play.client, "not-found", "growth", "{s:s}", "who", "nobody");

	rig_run_ctl(rig, (const char *const[]){ "growth", "amber", "--json", NULL }, &ran);
	assert_int_equal(ran.status, 0);
	assert_non_null(strstr(ran.out, "\"gain_g_per_day\":"));
	rig_run_ctl(rig, (const char *const[]){ "growth", name, "--as-of", "-3d", NULL }, &ran);
	if (ran.status != 0 || !strstr(ran.out, name) || !strstr(ran.out, "VERDICT"))
		deck_fail(rig->deck, "bismar growth: status %d, %s%s", ran.status, ran.out, ran.err);
	/* the view says the same, though the others were weighed since: of gains to half their uncertainty */
	for (size_t i = 0; i < PUPS; i++) {
		one = growth_of(&play, nursery_pups[i].name, 0);
		rig_expect_row(rig, "1|1",
			       "SELECT verdict = '%s', abs(gain_g_per_day - %f) < %f FROM animal_now WHERE animal = '%s'",
			       client_text(play.client, one, "verdict"), number(one, "gain_g_per_day"),
			       0.51 * number(one, "u_gain_g_per_day"), nursery_pups[i].name);
	}
	client_close(play.client);
}

/* A reading goes to another pup: both are told anew. And one that stands out is marked, not swallowed. */
static void test_correction(void **state)
{
	struct rig *rig = *state;
	const char *light = nursery_pups[6].name, *heavy = nursery_pups[7].name, *reading;
	struct play play;
	double light_g, heavy_g;
	char before[64];

	begin(&play, rig);
	play_rounds(&play, 1, ROUNDS);
	light_g = number(growth_of(&play, light, 0), "mass_g");
	heavy_g = number(growth_of(&play, heavy, 0), "mass_g");
	assert_true(heavy_g > 1.2 * light_g);
	reading = client_text(play.client, client_call(play.client, "weigh", "{s:s, s:i}", "animal", light, "mass_g",
						       (int)lround(heavy_g * 1.02)), "reading");
	assert_true(is_wild(&play, light));
	assert_true(number(growth_of(&play, light, 0), "mass_g") < 1.1 * light_g);
	(void)snprintf(before, sizeof before, "%s", rig_row(rig, "SELECT count(*) FROM growth"));
	(void)client_call(play.client, "correct", "{s:s, s:s}", "reading", reading, "animal", heavy);
	assert_false(is_wild(&play, light));
	assert_false(is_wild(&play, heavy));
	assert_int_equal(json_integer_value(json_object_get(growth_of(&play, light, 0), "readings")), ROUNDS + 1);
	assert_int_equal(json_integer_value(json_object_get(growth_of(&play, heavy, 0), "readings")), ROUNDS + 2);
	rig_expect_row(rig, "2", "SELECT count(DISTINCT a.name) FROM growth AS g JOIN animal AS a ON a.id = g.animal "
		       "WHERE a.name IN ('%s', '%s') AND g.seq > %s", light, heavy, before);
	/* taken back altogether: as if it had never been */
	(void)client_call(play.client, "reopen", "{s:s}", "ask", reading);
	assert_int_equal(json_integer_value(json_object_get(growth_of(&play, heavy, 0), "readings")), ROUNDS + 1);
	assert_true(fabs(number(growth_of(&play, heavy, 0), "mass_g") - heavy_g) < 0.01 * heavy_g);
	client_close(play.client);
}

/* ---- rounds ---- */

static size_t left(const json_t *round)
{
	return json_array_size(json_object_get(round, "left"));
}

static const json_t *open_round(struct play *play)
{
	return json_array_get(json_object_get(client_call(play->client, "round", NULL), "rounds"), 0);
}

/* Weighs seven of eight: one on the scale, the rest typed; 6 and 7 are taken for each other. */
static void weigh_most(struct play *play, const char *ret_readings[PUPS])
{
	for (size_t i = 0; i + 1 < PUPS; i++) {
		size_t real = i == 6 ? 7 : i;
		int mass = grams(play, real, 14.46, 0);
		if (i == 0) {
			mass = (mass + 2) / 5 * 5; /* the scale's step */
			nursery_weigh(play->rig, BENCH, mass);
			ret_readings[0] = client_text(play->client, client_notice(play->client, "ask"), "ask");
			(void)client_call(play->client, "answer", "{s:s, s:s}", "ask", ret_readings[0], "animal",
					  nursery_pups[0].name);
			continue;
		}
		ret_readings[i] = client_text(play->client,
					      client_call(play->client, "weigh", "{s:s, s:i}", "animal", nursery_pups[i].name,
							  "mass_g", mass), "reading");
	}
}

static void test_round(void **state)
{
	struct rig *rig = *state;
	const char *readings[PUPS];
	struct play play;
	struct rig_ran ran;
	const json_t *round, *exchanges, *notice;

	begin(&play, rig);
	nursery_scale(rig, play.client, BENCH, "bench", "");
	play_rounds(&play, 1, ROUNDS);
	(void)client_refused(play.client, "bad-value", "round.begin", "{s:s, s:s}", "litter", "amber", "fed", "during");
	round = client_call(play.client, "round.begin", "{s:s, s:s}", "litter", "amber", "fed", "before");
	assert_int_equal(left(round), PUPS);
	(void)client_refused(play.client, "exists", "round.begin", "{s:s}", "litter", "amber");
	notice = client_notice_of(play.client, "round", "fed", "before");
	assert_false(json_is_true(json_object_get(notice, "ended")));
	weigh_most(&play, readings);
	round = open_round(&play);
	assert_int_equal(left(round), 1);
	assert_string_equal(json_string_value(json_array_get(json_object_get(round, "left"), 0)), nursery_pups[7].name);
	rig_run_ctl(rig, (const char *const[]){ "round", NULL }, &ran);
	assert_int_equal(ran.status, 0);
	assert_non_null(strstr(ran.out, "Still to weigh: "));
	assert_non_null(strstr(ran.out, nursery_pups[7].name));

	/* the daemon is killed in between: the round goes on */
	client_close(play.client);
	rig_kill_daemon(rig);
	rig_start_daemon(rig);
	play.client = client_open(rig);
	(void)client_call(play.client, "follow", "{s:[s, s]}", "topics", "recorded", "round");
	assert_int_equal(left(open_round(&play)), 1);
	readings[7] = client_text(play.client, client_call(play.client, "weigh", "{s:s, s:i}", "animal", nursery_pups[7].name,
							   "mass_g", grams(&play, 6, 14.46, 0)), "reading");
	notice = client_notice(play.client, "round"); /* the last pup ends it */
	assert_true(json_is_true(json_object_get(notice, "ended")));
	rig_expect_row(rig, "complete", "SELECT why FROM round_end");
	exchanges = json_object_get(notice, "exchanges");
	assert_int_equal(json_array_size(exchanges), 1);
	assert_int_equal(json_array_size(json_object_get(json_array_get(exchanges, 0), "corrections")), 2);
	rig_run_ctl(rig, (const char *const[]){ "round", "amber", NULL }, &ran);
	assert_non_null(strstr(ran.out, "Exchanged? "));
	assert_non_null(strstr(ran.out, "bismar round exchange"));
	/* nothing has been changed by itself */
	rig_expect_row(rig, nursery_pups[6].name, "SELECT animal FROM reading WHERE reading_id = '%s'", readings[6]);

	(void)client_notices(play.client, "recorded");
	rig_run_ctl(rig, (const char *const[]){ "round", "exchange", NULL }, &ran);
	if (ran.status != 0 || !strstr(ran.out, "2 readings"))
		deck_fail(rig->deck, "bismar round exchange: status %d, %s%s", ran.status, ran.out, ran.err);
	notice = json_object_get(client_notice_of(play.client, "recorded", "name", nursery_pups[6].name), "corrected");
	assert_true(json_is_true(notice)); /* which looks at its argument twice */
	rig_expect_row(rig, nursery_pups[7].name, "SELECT animal FROM reading WHERE reading_id = '%s'", readings[6]);
	rig_expect_row(rig, nursery_pups[6].name, "SELECT animal FROM reading WHERE reading_id = '%s'", readings[7]);
	for (size_t i = 0; i < PUPS; i++) /* by radio, typed and corrected */
		rig_expect_row(rig, "before", "SELECT fed FROM reading WHERE reading_id = '%s'", readings[i]);
	assert_false(is_wild(&play, nursery_pups[6].name));
	assert_false(is_wild(&play, nursery_pups[7].name));
	(void)client_refused(play.client, "no-exchange", "round.exchange", "{s:s}", "litter", "amber");
	client_close(play.client);
}

/* Ended by a person, and by the clock of another round; nobody's litter can be told. */
static void test_round_ends(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);
	const json_t *round;
	struct rig_ran ran;

	nursery_litter(client);
	(void)client_refused(client, "no-round", "round.end", NULL);
	(void)client_refused(client, "not-found", "round.begin", "{s:s}", "litter", "nobody's");
	rig_run_ctl(rig, (const char *const[]){ "round", "begin", "--fed", "after", NULL }, &ran);
	assert_int_equal(ran.status, 0);
	assert_non_null(strstr(ran.out, "Still to weigh: "));
	(void)client_call(client, "weigh", "{s:s, s:i}", "animal", "Ash", "mass_g", 300);
	rig_expect_row(rig, "after", "SELECT fed FROM reading");
	/* one that was weighed before it began doesn't count, and keeps no word of it */
	(void)client_call(client, "weigh", "{s:s, s:i, s:I}", "animal", nursery_pups[1].name, "mass_g", 310, "at",
			  (json_int_t)(nursery_now_s() * 1000 - 3600000));
	rig_expect_row(rig, "1", "SELECT count(*) FROM reading WHERE fed IS NULL");
	round = client_call(client, "round.end", NULL);
	assert_int_equal(left(round), PUPS - 1);
	assert_true(json_is_true(json_object_get(round, "ended")));
	rig_expect_row(rig, "asked", "SELECT why FROM round_end");
	(void)client_call(client, "litter.add", "{s:s}", "name", "basalt");
	(void)client_refused(client, "ambiguous", "round.begin", NULL);
	(void)client_call(client, "round.begin", "{s:s}", "litter", "basalt");
	round = client_call(client, "round.end", NULL); /* only one can be meant */
	assert_string_equal(client_text(client, round, "litter"), "basalt");
	client_close(client);
}

/* ---- limits ---- */

static bool is_own(const json_t *limits, const char *key)
{
	const json_t *word;
	size_t i;

	json_array_foreach(json_object_get(limits, "own"), i, word)
		if (strcmp(json_string_value(word), key) == 0)
			return true;
	return false;
}

static void test_limits(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);
	const json_t *limits;
	struct rig_ran ran;

	nursery_litter(client);
	limits = client_call(client, "litter.limits", "{s:s}", "litter", "amber");
	/* Mila 2015, doi 10.2527/jas.2015-8971: -4 % to day 2 */
	assert_true(fabs(number(limits, "early_loss_pct") - 4) < 1e-9 && !is_own(limits, "early_loss_pct"));
	rig_expect_row(rig, "0", "SELECT count(*) FROM litter_limits");
	(void)client_refused(client, "bad-value", "litter.limits", "{s:s, s:f}", "litter", "amber", "early_loss_pct", 8.01);
	(void)client_refused(client, "bad-value", "litter.limits", "{s:s, s:f}", "litter", "amber", "overdue_h", 49.0);
	(void)client_refused(client, "bad-value", "litter.limits", "{s:s, s:i}", "litter", "amber", "behind_pct", -20);
	(void)client_refused(client, "wrong-type", "litter.limits", "{s:s, s:s}", "litter", "amber", "behind_pct", "20");
	(void)client_refused(client, "not-found", "litter.limits", "{s:s}", "litter", "nobody's");
	rig_expect_row(rig, "0", "SELECT count(*) FROM litter_limits");
	(void)client_call(client, "litter.limits", "{s:s, s:i}", "litter", "amber", "behind_pct", 30);
	limits = client_call(client, "litter.limits", "{s:s, s:i}", "litter", "amber", "overdue_h", 12);
	assert_true(is_own(limits, "behind_pct") && is_own(limits, "overdue_h") && !is_own(limits, "band_low_pct"));
	client_close(client);
	rig_kill_daemon(rig);
	rig_start_daemon(rig);
	rig_run_ctl(rig, (const char *const[]){ "litter", "limits", "amber", NULL }, &ran);
	assert_int_equal(ran.status, 0);
	assert_non_null(strstr(ran.out, "30 %  below the litter's mean (this litter's own)"));
	rig_run_ctl(rig, (const char *const[]){ "litter", "limits", "amber", "--behind", "published", NULL }, &ran);
	assert_non_null(strstr(ran.out, "25 %  below the litter's mean (published)"));
	assert_non_null(strstr(ran.out, "12 h  without a weighing in the first two weeks (this litter's own)"));
	rig_run_ctl(rig, (const char *const[]){ "litter", "limits", "amber", "--behind", "45", NULL }, &ran);
	assert_int_equal(ran.status, 1);
	assert_non_null(strstr(ran.err, "15 to 40"));
	rig_run_ctl(rig, (const char *const[]){ "litter", "limits", "amber", "--behind", "1e1", NULL }, &ran);
	assert_int_equal(ran.status, 2);
}

/* A pup far too light at birth is told of as soon as it is on record; what is about a litter that leaves, leaves with it. */
static void test_litter_leaves(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);
	int64_t born_ms = nursery_now_s() * 1000 - 3600000;
	const json_t *notice;

	(void)client_call(client, "follow", "{s:[s]}", "topics", "concern");
	(void)client_call(client, "litter.add", "{s:s, s:I, s:i}", "name", "amber", "born", (json_int_t)born_ms, "adult_g", 30000);
	/* Mugnier 2020, BMC Vet Res 16:345, table 2: below 248 g is very low from 25 to 40 kg (Retriever) */
	(void)client_call(client, "animal.add", "{s:s, s:s, s:i}", "name", "Ash", "litter", "amber", "birth_g", 190);
	notice = client_notice_of(client, "concern", "rule", "low-birth");
	assert_string_equal(client_text(client, notice, "name"), "Ash");
	(void)client_call(client, "litter.close", "{s:s}", "name", "amber");
	notice = client_notice_of(client, "concern", "rule", "low-birth");
	assert_true(json_is_false(json_object_get(notice, "open")));
	assert_string_equal(client_text(client, notice, "name"), "Ash");
	rig_expect_row(rig, "0", "SELECT count(*) FROM concern_now");
	client_close(client);
}

#define WITH_RIG(test) cmocka_unit_test_setup_teardown(test, rig_setup, rig_teardown)

int main(int argc, char **argv)
{
	const struct CMUnitTest tests[] = {
		WITH_RIG(test_stall),	   WITH_RIG(test_as_of),  WITH_RIG(test_correction),    WITH_RIG(test_round),
		WITH_RIG(test_round_ends), WITH_RIG(test_limits), WITH_RIG(test_litter_leaves),
	};

	rig_programs(argc, argv);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
