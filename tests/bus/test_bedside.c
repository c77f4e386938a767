// SPDX-License-Identifier: MIT
/*
 * Signs, feeding, a vet's orders and doses, by socket and by `bismar`, each rule at the edge that a person meets.
 * Published: a pup below 35 C isn't fed (Quist-Rybachuk, PetFeeding proceedings, p. 35; sources stop at 34.4, 35.0
 * or 35.6); 60 kcal/lb a day in week 1, six meals (Dog Owner's Home Veterinary Handbook, p. 499); a meal of 40 mL/kg at
 * most (Chastant & Mila 2019, Anim Reprod Sci 207:162, fig. 4); gums and the colour of urine tell of drying out
 * (dvm360, Neonatal emergencies, and Identifying dehydration, Aug 2008). The limits of an order (45, 60 mL/kg under the
 * skin) and of a weight's age are bismar's own.
 */
#include "nursery.h"
#include <math.h>
#include <pty.h>
#include <sys/wait.h>
#include <unistd.h>

#define HOUR_MS INT64_C(3600000)
#define WORDS "my vet said this amount again"

static const char *ctl_path;

struct bed {
	struct rig *rig;
	struct client *client;
	int64_t now_ms;
};

/* The litter, six days old, all weighed now and warm. */
static struct bed *begin(struct bed *bed, struct rig *rig)
{
	*bed = (struct bed){ .rig = rig, .client = client_open(rig), .now_ms = nursery_now_s() * 1000 };
	(void)client_call(bed->client, "litter.add", "{s:s, s:I}", "name", "amber", "born",
			  (json_int_t)(bed->now_ms - 144 * HOUR_MS));
	for (size_t i = 0; i < PUPS; i++) {
		(void)client_call(bed->client, "animal.add", "{s:s, s:s, s:s}", "name", nursery_pups[i].name, "litter",
				  "amber", "collar", nursery_pups[i].collar);
		(void)client_call(bed->client, "weigh", "{s:s, s:s}", "animal", nursery_pups[i].name, "mass",
				  i == 0 ? "304g" : "320g");
	}
	return bed;
}

static void sign(struct bed *bed, const char *who, const char *kind, const char *value)
{
	(void)client_call(bed->client, "sign", "{s:s, s:s, s:s}", "animal", who, "sign", kind, "value", value);
}

/* An order under the skin, from hours before or after now until later. Returns its id. */
static const char *order_at(struct bed *bed, const char *who, const char *amount, const char *most, double every_h,
			    int from_h, int until_h)
{
	const json_t *order = client_call(bed->client, "order.add", "{s:s, s:s, s:s, s:s, s:s, s:f, s:s, s:I, s:I}",
					  "who", who, "what", "sterile fluid", "route", "under the skin", "amount",
					  amount, "most_24h", most, "every_h", every_h, "vet", "the vet on call",
					  "until", (json_int_t)(bed->now_ms + until_h * HOUR_MS), "from",
					  (json_int_t)(bed->now_ms + from_h * HOUR_MS));

	return client_text(bed->client, order, "order");
}

static const char *order(struct bed *bed, const char *who, const char *amount, const char *most, double every_h)
{
	return order_at(bed, who, amount, most, every_h, -24, 24);
}

static const json_t *dose(struct bed *bed, const char *who, const char *steps)
{
	return client_call(bed->client, "dose.plan", "{s:s, s:s}", "animal", who, "steps", steps);
}

/* The plan isn't given, for this reason; `bismar` says so with status 1, and words of what to do. */
static void expect_no_dose(struct bed *bed, const char *who, const char *steps, const char *outcome, const char *words)
{
	const json_t *plan = dose(bed, who, steps);
	struct rig_ran ran;

	assert_string_equal(client_text(bed->client, plan, "outcome"), outcome);
	assert_true(json_is_null(json_object_get(plan, "give_ml")));
	assert_true(json_array_size(json_object_get(plan, "cautions")) >= 9);
	rig_run_ctl(bed->rig, (const char *const[]){ "dose", "plan", who, "--syringe", steps, NULL }, &ran);
	if (ran.status != 1 || *ran.out || !strstr(ran.err, outcome) || !strstr(ran.err, words) ||
	    !strstr(ran.err, "call the vet now"))
		deck_fail(bed->rig->deck, "bismar dose plan %s: status %d, %s%s", who, ran.status, ran.out, ran.err);
}

static void expect_ml(const json_t *object, const char *key, double ml)
{
	const json_t *value = json_object_get(object, key);

	assert_true(json_is_number(value));
	assert_true(fabs(json_number_value(value) - ml) < 1e-9);
}

static void run(struct bed *bed, const char *const args[], int status, const char *out, const char *err)
{
	struct rig_ran ran;

	rig_run_ctl(bed->rig, args, &ran);
	if (ran.status != status || !strstr(ran.out, out) || !strstr(ran.err, err))
		deck_fail(bed->rig->deck, "bismar %s %s: status %d, \"%s\" and \"%s\" wanted\n%s%s", args[0], args[1],
			  ran.status, out, err, ran.out, ran.err);
}

/* ---- cold, then warmed ---- */

static const json_t *meal(struct bed *bed, const char *who)
{
	const json_t *result = client_call(bed->client, "feed.plan", "{s:s, s:f, s:s}", "who", who, "label_kcal_per_ml",
					   1.0, "steps", "0.5 mL");

	assert_true(json_array_size(json_object_get(result, "cautions")) >= 9);
	return json_array_get(json_object_get(result, "plans"), 0);
}

static void test_cold(void **state)
{
	struct bed bed;
	const json_t *plan;

	begin(&bed, *state);
	(void)order(&bed, "Ash", "10 mL/kg", "30 mL/kg", 8);
	assert_string_equal(client_text(bed.client, meal(&bed, "Ash"), "outcome"), "warmth-unknown");
	expect_no_dose(&bed, "Ash", "0.1mL", "warmth-unknown", "measure its temperature");
	sign(&bed, "Ash", "temperature", "34.9C");
	plan = meal(&bed, "Ash");
	assert_string_equal(client_text(bed.client, plan, "outcome"), "chilled");
	assert_null(json_object_get(plan, "meal_ml"));
	expect_no_dose(&bed, "Ash", "0.1mL", "chilled", "warm it slowly");
	run(&bed, (const char *const[]){ "feed", "plan", "green", "--label", "1kcal/mL", NULL }, 1, "",
	    "Don't feed a chilled pup");
	run(&bed, (const char *const[]){ "feed", "plan", "amber", "--label", "1kcal/mL", NULL }, 1,
	    "measure its temperature", "any of them");

	sign(&bed, "Ash", "temperature", "36.5C");
	plan = meal(&bed, "Ash");
	assert_string_equal(client_text(bed.client, plan, "outcome"), "planned");
	/* 60 kcal/lb times 304 g / 453.59237 g is 40.2 kcal: 40.2 mL of 1 kcal/mL, six meals of 6.70, rounded down to
	 * 0.5 mL */
	expect_ml(plan, "meal_ml", 6.5);
	assert_int_equal(json_integer_value(json_object_get(plan, "meals")), 6);
	assert_int_equal(json_integer_value(json_object_get(plan, "kcal_day")), 40);
	run(&bed, (const char *const[]){ "feed", "plan", "amber", "--label", "1kcal/mL", NULL }, 0, "6.5 mL", "");
	run(&bed, (const char *const[]){ "feed", "plan", "amber", "--label", "1kcal/mL", NULL }, 0,
	    "Your vet's word goes first", "");
	run(&bed, (const char *const[]){ "feed", "plan", "Ash", "--label", "1kcal/mL", NULL }, 0,
	    "0.5mL, since --syringe names no other", "");
	run(&bed, (const char *const[]){ "feed", "plan", "Ash", "--label", "1", NULL }, 2, "", "--label");
	run(&bed, (const char *const[]){ "feed", "plan", "Ash", "--label", "1,000kcal/mL", NULL }, 2, "", "--label");
	run(&bed, (const char *const[]){ "feed", "plan", "Ash", NULL }, 2, "", "Nothing is assumed");

	/* 304 g at 10 mL/kg is 3.04 mL */
	plan = dose(&bed, "Ash", "0.1 mL");
	assert_string_equal(client_text(bed.client, plan, "outcome"), "planned");
	expect_ml(plan, "give_ml", 3);
	expect_ml(plan, "given_24h_ml", 0);
	expect_ml(plan, "most_24h_ml", 9.12);
	run(&bed, (const char *const[]){ "dose", "plan", "Ash", "--syringe", "0.1mL", NULL }, 0,
	    "Ash: 3 mL under the skin", "");
	run(&bed, (const char *const[]){ "dose", "plan", "Ash", "--syringe", "0.1mL", NULL }, 0,
	    "0 mL of at most 9.12 mL", "");
	run(&bed, (const char *const[]){ "dose", "plan", "Ash", "--syringe", "0.1mL", NULL }, 0, "never into a vein",
	    "");
	run(&bed, (const char *const[]){ "dose", "plan", "Ash", NULL }, 2, "", "--syringe is missing");
	client_close(bed.client);
}

/* ---- refusals of a dose ---- */

static void test_orders(void **state)
{
	struct bed bed;
	const char *id;

	begin(&bed, *state);
	for (size_t i = 0; i < PUPS; i++)
		sign(&bed, nursery_pups[i].name, "temperature", "36.8C");
	(void)client_refused(bed.client, "no-order", "dose.plan", "{s:s, s:s}", "animal", "Birch", "steps", "0.1mL");
	run(&bed, (const char *const[]){ "dose", "plan", "Birch", "--syringe", "0.1mL", NULL }, 1, "",
	    "no amount of its own");
	(void)order_at(&bed, "Birch", "10 mL/kg", "30 mL/kg", 8, -24, -1);
	expect_no_dose(&bed, "Birch", "0.1mL", "ended", "give nothing more of it");
	id = order(&bed, "Birch", "10 mL/kg", "30 mL/kg", 8);
	expect_ml(dose(&bed, "Birch", "0.1mL"), "give_ml", 3.2);
	run(&bed, (const char *const[]){ "order", "end", id, "--why", "got better", NULL }, 0, "is ended", "");
	rig_expect_row(bed.rig, "got better", "SELECT ended_why FROM order_log WHERE order_id = '%s'", id);
	expect_no_dose(&bed, "Birch", "0.1mL", "ended", "give nothing more of it");
	run(&bed, (const char *const[]){ "order", "list", NULL }, 0, "10 mL/kg", "");
	(void)order_at(&bed, "Cedar", "10 mL/kg", "30 mL/kg", 8, 1, 24);
	expect_no_dose(&bed, "Cedar", "0.1mL", "not-begun", "hasn't begun");

	/* 45 to 60 mL/kg: the vet's word once more, in words */
	(void)order(&bed, "Fir", "50 mL/kg", "100 mL/kg", 8);
	expect_no_dose(&bed, "Fir", "0.5mL", "outside-range", WORDS);
	(void)client_refused(bed.client, "outside-range", "dose.give", "{s:s, s:s, s:s}", "animal", "Fir", "volume",
			     "16 mL", "steps", "0.5mL");
	run(&bed, (const char *const[]){ "dose", "give", "Fir", "16mL", "--syringe", "0.5mL", "--words", "yes", NULL },
	    1, "", WORDS);
	run(&bed,
	    (const char *const[]){ "dose", "give", "Fir", "16.5mL", "--syringe", "0.5mL", "--words", WORDS, NULL }, 1,
	    "", "more than the order");
	run(&bed, (const char *const[]){ "dose", "give", "Fir", "16mL", "--syringe", "0.5mL", "--words", WORDS, NULL },
	    0, "16 mL", "");
	rig_expect_row(bed.rig, "overridden|" WORDS "|16.0",
		       "SELECT judged, words, ml FROM dose_log WHERE animal = 'Fir'");

	/* beyond 60 mL/kg no words help */
	id = order(&bed, "Hazel", "70 mL/kg", "140 mL/kg", 8);
	expect_no_dose(&bed, "Hazel", "0.5mL", "impossible", "looks like a slip");
	(void)client_refused(bed.client, "impossible", "dose.give", "{s:s, s:s, s:s, s:s}", "animal", "Hazel", "volume",
			     "22 mL", "steps", "0.5mL", "words", WORDS);
	(void)client_call(bed.client, "order.end", "{s:s, s:s}", "order", id, "why", "a slip");
	(void)order(&bed, "Hazel", "5 mL/kg", "15 mL/kg", 8);
	expect_no_dose(&bed, "Hazel", "2mL", "too-fine", "finer marks"); /* 1.6 mL */
	client_close(bed.client);
}

static void test_weight(void **state)
{
	struct bed bed;

	begin(&bed, *state);
	(void)client_call(bed.client, "animal.add", "{s:s, s:s}", "name", "Rowan", "litter", "amber");
	(void)order(&bed, "amber", "10 mL/kg", "30 mL/kg", 8);
	sign(&bed, "Rowan", "touch", "warm");
	expect_no_dose(&bed, "Rowan", "0.1mL", "weigh-first", "Weigh it first");
	(void)client_call(bed.client, "weigh", "{s:s, s:s, s:I}", "animal", "Rowan", "mass", "330g", "at",
			  (json_int_t)(bed.now_ms - 25 * HOUR_MS));
	expect_no_dose(&bed, "Rowan", "0.1mL", "weigh-first", "the last 24 hours");
	assert_string_equal(client_text(bed.client, meal(&bed, "Rowan"), "outcome"), "weigh-first");
	/* the heaviest breeds reach 0.9 kg in a week (606 g times e^(0.0523 * 7), Great Danes' curve): kilograms for
	 * pounds, or the dam on the scale */
	(void)client_call(bed.client, "weigh", "{s:s, s:s}", "animal", "Rowan", "mass", "5.2kg");
	expect_no_dose(&bed, "Rowan", "0.1mL", "weigh-again", "Weigh it again");
	(void)client_call(bed.client, "weigh", "{s:s, s:s}", "animal", "Elm", "mass", "345g");
	sign(&bed, "Elm", "touch", "warm");
	expect_ml(dose(&bed, "Elm", "0.1mL"), "give_ml", 3.4); /* 3.45, never rounded up */
	client_close(bed.client);
}

static void test_times(void **state)
{
	struct bed bed;
	const json_t *plan;

	begin(&bed, *state);
	sign(&bed, "Ash", "touch", "warm");
	sign(&bed, "Larch", "touch", "warm");
	(void)order(&bed, "Ash", "10 mL/kg", "30 mL/kg", 8);
	run(&bed, (const char *const[]){ "dose", "give", "Ash", "3", "mL", "--syringe", "0.1mL", "--by", "Rose", NULL },
	    0, "Noted: Ash got 3 mL", "");
	rig_expect_row(bed.rig, "3.0|304.0|plain", "SELECT ml, mass_g, judged FROM dose_log WHERE animal = 'Ash'");
	expect_no_dose(&bed, "Ash", "0.1mL", "not-due", "it got 3 mL of at most 9.12 mL");
	(void)client_refused(bed.client, "not-due", "dose.give", "{s:s, s:s, s:s}", "animal", "Ash", "volume", "3 mL",
			     "steps", "0.1mL");
	run(&bed, (const char *const[]){ "dose", "list", "Ash", NULL }, 0, "3 mL", "");

	/* every half hour, but no more than 15 mL/kg in 24 hours; written on paper two hours ago: 3.2 of 4.8 mL */
	(void)order(&bed, "Larch", "10 mL/kg", "15 mL/kg", 0.5);
	(void)client_call(bed.client, "dose.give", "{s:s, s:s, s:s, s:I}", "animal", "Larch", "volume", "3.2 mL",
			  "steps", "0.1mL", "at", (json_int_t)(bed.now_ms - 2 * HOUR_MS));
	expect_no_dose(&bed, "Larch", "0.1mL", "most-in-24h", "more in 24 hours than your vet ordered");
	plan = dose(&bed, "Larch", "0.1mL");
	expect_ml(plan, "given_24h_ml", 3.2);
	rig_expect_row(bed.rig, "written down", "SELECT judged FROM dose_log WHERE animal = 'Larch'");
	client_close(bed.client);
}

/* A lost point, wherever one can be typed. */
static void test_tenfold(void **state)
{
	struct bed bed;

	begin(&bed, *state);
	sign(&bed, "Ash", "touch", "warm");
	(void)order(&bed, "Ash", "10 mL/kg", "30 mL/kg", 8);
	(void)client_refused(bed.client, "above-order", "dose.give", "{s:s, s:s, s:s}", "animal", "Ash", "volume",
			     "30 mL", "steps", "0.1mL");
	(void)client_refused(bed.client, "impossible", "dose.give", "{s:s, s:s, s:s, s:I}", "animal", "Ash", "volume",
			     "30 mL", "steps", "0.1mL", "at", (json_int_t)(bed.now_ms - HOUR_MS));
	run(&bed, (const char *const[]){ "dose", "give", "Ash", "30mL", "--syringe", "0.1mL", NULL }, 1, "",
	    "more than the order comes to");
	run(&bed, (const char *const[]){ "dose", "give", "Ash", "3", "--syringe", "0.1mL", NULL }, 2, "", "VOLUME");
	run(&bed, (const char *const[]){ "dose", "give", "Ash", ".3mL", "--syringe", "0.1mL", NULL }, 2, "", "VOLUME");
	run(&bed, (const char *const[]){ "feed", "give", "Ash", "65mL", NULL }, 1, "", "decimal point");
	run(&bed, (const char *const[]){ "feed", "give", "Ash", "6.5mL", "--what", "milk", NULL }, 0, "6.5 mL", "");
	run(&bed, (const char *const[]){ "feed", "list", "green", NULL }, 0, "6.5 mL", "");
	run(&bed, (const char *const[]){ "--json", "feed", "list", NULL }, 0, "\"ml\":6.5", "");
	/* while the vet is still there: 100 for 10 mL/kg; and one dose more than the most */
	run(&bed,
	    (const char *const[]){ "order", "add", "Birch", "fluid", "--route", "skin", "--amount", "100mL/kg",
				   "--most", "300mL/kg", "--every", "8", "--vet", "the vet on call", "--until=+2d",
				   NULL },
	    0, "THIS IS UNUSUAL", "");
	run(&bed,
	    (const char *const[]){ "order", "add", "Elm", "fluid", "--route", "skin", "--amount", "10mL/kg", "--most",
				   "3mL/kg", "--every", "8", "--vet", "the vet on call", "--until=+2d", NULL },
	    1, "", "most");
	rig_expect_row(bed.rig, "0", "SELECT count(*) FROM order_log WHERE animal = 'Elm'");
	rig_expect_row(bed.rig, "0", "SELECT count(*) FROM dose_log");
	client_close(bed.client);
}

/* One amount seen in practice, without a source: 4 mL under the skin for a pup of 11 oz (311.8 g), 12.8 mL/kg: plain.
 */
static void test_common_practice(void **state)
{
	struct bed bed;
	const json_t *plan;

	begin(&bed, *state);
	(void)client_call(bed.client, "weigh", "{s:s, s:s}", "animal", "Maple", "mass", "11oz");
	sign(&bed, "Maple", "touch", "warm");
	run(&bed,
	    (const char *const[]){ "order", "add", "Maple", "sterile fluid", "--route", "skin", "--amount", "4mL",
				   "--most", "12mL", "--every", "8", "--vet", "the vet on call", "--until", "+2d",
				   NULL },
	    0,
	    "the vet on call ordered sterile fluid (fluid) for Maple (amber): 4 mL under the skin, at least 8 hours "
	    "apart",
	    "");
	plan = dose(&bed, "Maple", "0.5mL");
	assert_string_equal(client_text(bed.client, plan, "outcome"), "planned");
	expect_ml(plan, "give_ml", 4);
	assert_int_equal(json_integer_value(json_object_get(plan, "sites")), 1);
	client_close(bed.client);
}

/* ---- signs ---- */

static void test_signs(void **state)
{
	struct bed bed;
	const json_t *notice, *list, *look;
	const char *id;

	begin(&bed, *state);
	(void)client_call(bed.client, "follow", "{s:[s]}", "topics", "concern");
	look = client_call(bed.client, "look", "{s:s}", "animal", "Cedar");
	assert_true(json_array_size(json_object_get(look, "signs")) >= 14);
	run(&bed, (const char *const[]){ "--json", "look", "Cedar", NULL }, 0, "\"sign\":\"gums\"", "");
	run(&bed, (const char *const[]){ "look", "nobody", NULL }, 1, "", "nobody");
	run(&bed, (const char *const[]){ "sign", "blue", "gums", "dry", NULL }, 0, "reason to call your vet NOW", "");
	run(&bed, (const char *const[]){ "sign", "Cedar", "urine", "dark", NULL }, 0, "bismar concerns", "");
	run(&bed, (const char *const[]){ "sign", "Cedar", "urine", "purple", NULL }, 1, "", "no answer");
	run(&bed, (const char *const[]){ "sign", "Cedar", "temperature", "36.4", NULL }, 1, "", "C");

	notice = client_notice_of(bed.client, "concern", "rule", "dries-out");
	id = client_text(bed.client, notice, "concern");
	while (strcmp(client_text(bed.client, notice, "level"), "vet") != 0)
		notice = client_notice_of(bed.client, "concern", "concern", id);
	assert_true(json_is_true(json_object_get(notice, "open")));
	assert_string_equal(client_text(bed.client, notice, "name"), "Cedar");
	assert_non_null(strstr(client_text(bed.client, notice, "source"), "dvm360"));
	assert_non_null(strstr(client_text(bed.client, notice, "advice"), "Call your vet now"));
	run(&bed, (const char *const[]){ "concerns", "Cedar", NULL }, 0, "CALL YOUR VET NOW: Cedar", "");

	sign(&bed, "Cedar", "gums", "moist");
	sign(&bed, "Cedar", "urine", "clear");
	do
		notice = client_notice_of(bed.client, "concern", "concern", id);
	while (json_is_true(json_object_get(notice, "open")));
	list = json_object_get(client_call(bed.client, "concerns", "{s:s}", "who", "Cedar"), "concerns");
	assert_int_equal(json_array_size(list), 0);
	rig_expect_row(bed.rig, "2|2",
		       "SELECT sum(sign = 'gums'), sum(sign = 'urine') FROM sign_log WHERE animal = 'Cedar'");
	run(&bed, (const char *const[]){ "sign", "list", "blue", NULL }, 0, "gums", "");
	client_close(bed.client);
}

/* ---- a walk at a terminal ---- */

/* Reads on until the walk waits for a key (or ends: false). seen is all that was shown. */
static bool await_prompt(int fd, char *seen, size_t size, size_t *n)
{
	static const char prompt[] = "\n> ";

	for (;;) {
		ssize_t got = read(fd, seen + *n, size - *n - 1);
		if (got <= 0) /* a pseudo-terminal whose other end is closed says EIO */
			return false;
		*n += (size_t)got;
		seen[*n] = '\0';
		assert_true(*n + 1 < size);
		if (*n >= sizeof prompt - 1 && strcmp(seen + *n - (sizeof prompt - 1), prompt) == 0)
			return true;
	}
}

/* keys[i] is typed at the i-th prompt. Returns the exit status. */
static int walk(struct bed *bed, const char *who, const char *const keys[], char *seen, size_t size)
{
	size_t n = 0, i = 0;
	int fd, status;
	pid_t pid = forkpty(&fd, NULL, NULL, NULL);

	assert_true(pid >= 0);
	if (pid == 0) {
		(void)execl(ctl_path, "bismar", "--socket", bed->rig->socket, "look", who, (char *)NULL);
		_exit(127);
	}
	while (await_prompt(fd, seen, size, &n)) {
		assert_non_null(keys[i]);
		assert_int_equal(write(fd, keys[i], strlen(keys[i])), (ssize_t)strlen(keys[i]));
		i++;
	}
	assert_null(keys[i]);
	assert_int_equal(waitpid(pid, &status, 0), pid);
	(void)close(fd);
	return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

static void test_look(void **state)
{
	static const char *const all[] = { "98.1f", "w", "1", " ", "d", "p",  "\r", "1",
					   "e",     "r", "c", "n", "n", "\r", NULL };
	static const char *const slip[] = { "371C", "37.1C", "q", NULL };
	static char seen[65536];
	struct bed bed;

	begin(&bed, *state);
	assert_int_equal(walk(&bed, "Cedar", all, seen, sizeof seen), 0);
	assert_non_null(strstr(seen, "1/14 What does the thermometer say?"));
	assert_non_null(strstr(seen, "14/14 Skin at the neck")); /* tells from six weeks on: last, and it says so */
	assert_non_null(strstr(strstr(seen, "14/14"), "It doesn't tell at this age"));
	assert_non_null(strstr(seen, "CALL YOUR VET NOW: Cedar"));
	rig_expect_row(bed.rig, "11", "SELECT count(*) FROM sign_log WHERE animal = 'Cedar'");
	rig_expect_row(bed.rig, "dry", "SELECT value FROM sign_log WHERE animal = 'Cedar' AND sign = 'gums'");
	rig_expect_row(bed.rig, "36.722C",
		       "SELECT value FROM sign_log WHERE animal = 'Cedar' AND sign = 'temperature'");
	rig_expect_row(bed.rig, "quiet", "SELECT value FROM sign_log WHERE animal = 'Cedar' AND sign = 'crying'");
	assert_int_equal(walk(&bed, "Birch", slip, seen, sizeof seen), 0);
	assert_non_null(strstr(seen, "Stopped. 1 of 14 noted."));
	rig_expect_row(bed.rig, "1|37.1C", "SELECT count(*), max(value) FROM sign_log WHERE animal = 'Birch'");
	client_close(bed.client);
}

/* ---- nursing, by two weighings on a scale of 5 g steps ---- */

static void weigh_pup(struct bed *bed, const char *who, int grams)
{
	const char *ask;

	nursery_weigh(bed->rig, BENCH, BOX_G + grams);
	ask = client_text(bed->client, client_notice(bed->client, "ask"), "ask");
	(void)client_call(bed->client, "answer", "{s:s, s:s}", "ask", ask, "animal", who);
}

static void test_nursed(void **state)
{
	struct bed bed;
	const json_t *nursed;

	bed = (struct bed){ .rig = *state, .client = client_open(*state) };
	(void)client_call(bed.client, "follow", "{s:[s]}", "topics", "ask");
	nursery_make(bed.rig, bed.client);
	(void)client_refused(bed.client, "no-pair", "feed.nursed", "{s:s}", "animal", "Elm");
	run(&bed, (const char *const[]){ "feed", "nursed", "Elm", NULL }, 1, "", "let it nurse");
	weigh_pup(&bed, "Elm", 330);
	weigh_pup(&bed, "Elm", 350);
	nursed = client_call(bed.client, "feed.nursed", "{s:s}", "animal", "Elm");
	assert_string_equal(client_text(bed.client, nursed, "outcome"), "nursed");
	assert_int_equal(client_mg(bed.client, nursed, "taken_g"), 20000);
	run(&bed, (const char *const[]){ "feed", "nursed", "yellow", NULL }, 0, "+20", "");
	rig_expect_row(bed.rig, "1|nursed|20.0",
		       "SELECT count(*), how, taken_g FROM feed_log"); /* asked twice, noted once */
	weigh_pup(&bed, "Fir", 275); /* in between: the same mass twice in a row may be a repetition */
	weigh_pup(&bed, "Elm", 350);
	nursed = client_call(bed.client, "feed.nursed", "{s:s}", "animal", "Elm");
	assert_string_equal(client_text(bed.client, nursed, "outcome"), "too-coarse"); /* less than a step */
	client_close(bed.client);
}

/* ---- the paper ---- */

/* A command of the paper, "bismar sign WHO gums moist --at 02:40", of green; quotes as a shell takes them. */
static void run_printed(struct bed *bed, const char *command, struct rig_ran *ret)
{
	char text[256], green[] = "green", ago[] = "-20min", *words[16] = { 0 }, *at = text;
	size_t n = 0;

	(void)snprintf(text, sizeof text, "%s", command + strlen("bismar "));
	for (char *c = text; (c = strstr(c, "&quot;"));) {
		*c = '"';
		memmove(c + 1, c + 6, strlen(c + 6) + 1);
	}
	while (*at && n < 15) {
		bool quoted = *at == '"';
		words[n++] = at += quoted;
		at = strchr(at, quoted ? '"' : ' ');
		if (!at)
			break;
		*at++ = '\0';
		at += strspn(at, " ");
	}
	for (size_t i = 0; i < n; i++)
		if (strcmp(words[i], "WHO") == 0)
			words[i] = green;
		else if (i > 0 && strcmp(words[i - 1], "--at") == 0)
			words[i] = ago; /* the printed one may not have come yet today */
	rig_run_ctl(bed->rig, (const char *const *)words, ret);
}

/* What the sheet says to type afterwards is what bismar takes. */
static void test_paper(void **state)
{
	struct rig_ran paper, ran;
	struct bed bed;
	int typed = 0;

	begin(&bed, *state);
	rig_run_ctl(bed.rig, (const char *const[]){ "sheet", "amber", NULL }, &paper);
	assert_int_equal(paper.status, 0);
	for (char *at = paper.out; (at = strstr(at, "<code>bismar "));) {
		char *end = strstr(at, "</code>");
		char command[200];
		assert_non_null(end);
		(void)snprintf(command, sizeof command, "%.*s", (int)(end - at) - 6, at + 6);
		at = end;
		if (strstr(command, "bismar sheet"))
			continue; /* it would write a file here */
		run_printed(&bed, command, &ran);
		/* no order stands behind the dose, which is the only thing wrong with it */
		if (strstr(command, "dose give") ? ran.status != 1 || !strstr(ran.err, "no order of a vet is on record")
						 : ran.status != 0)
			deck_fail(bed.rig->deck, "%s: status %d\n%s%s", command, ran.status, ran.out, ran.err);
		typed++;
	}
	assert_int_equal(typed, 3);
	client_close(bed.client);
}

#define WITH_RIG(test) cmocka_unit_test_setup_teardown(test, rig_setup, rig_teardown)

int main(int argc, char **argv)
{
	const struct CMUnitTest tests[] = {
		WITH_RIG(test_cold),    WITH_RIG(test_orders),          WITH_RIG(test_weight), WITH_RIG(test_times),
		WITH_RIG(test_tenfold), WITH_RIG(test_common_practice), WITH_RIG(test_signs),  WITH_RIG(test_look),
		WITH_RIG(test_nursed),  WITH_RIG(test_paper),
	};

	rig_programs(argc, argv);
	ctl_path = argv[3];
	return cmocka_run_group_tests(tests, NULL, NULL);
}
