// SPDX-License-Identifier: MIT
/*
 * bismar-keypad with the real bismard and a simulated scale. A real device of the kernel's uinput is for tests/vm
 * (keypad.py), since not every machine that runs this has one: here the keys come as a recording (struct input_event,
 * the kernel's input documentation, 1.2 event interface) through a FIFO, which the program takes for its device; the
 * times are the recording's, so minutes pass between keys and the test waits for none of them.
 */
#include "nursery.h"
#include <fcntl.h>
#include <linux/input.h>
#include <signal.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

/* Between two keys, unless said: long enough for every rule of act.h. */
#define PAUSE_MS 60000

struct hand {
	struct rig *rig;
	struct client *client;
	struct rig_program pad;
	char fifo[128];
	int fd;
	int64_t now_ms; /* of the recording */
};

/* ---- the device ---- */

static void emit(struct hand *hand, unsigned type, unsigned code, int value)
{
	struct input_event event = { .type = (__u16)type, .code = (__u16)code, .value = value };

	event.input_event_sec = (time_t)(hand->now_ms / 1000);
	event.input_event_usec = (suseconds_t)(hand->now_ms % 1000 * 1000);
	assert_int_equal(write(hand->fd, &event, sizeof event), sizeof event);
}

static void key(struct hand *hand, unsigned code, int value)
{
	emit(hand, EV_MSC, MSC_SCAN, (int)code); /* as keyboards do */
	emit(hand, EV_KEY, code, value);
	emit(hand, EV_SYN, SYN_REPORT, 0);
}

static void press_after(struct hand *hand, int64_t pause_ms, unsigned code)
{
	hand->now_ms += pause_ms;
	key(hand, code, 1);
	hand->now_ms += 80;
	key(hand, code, 0);
}

static void press(struct hand *hand, unsigned code)
{
	press_after(hand, PAUSE_MS, code);
}

static void plug(struct hand *hand)
{
	assert_return_code(mkfifo(hand->fifo, 0600), 0);
	(void)rig_heard(&hand->pad, "is there");
	hand->fd = open(hand->fifo, O_WRONLY | O_CLOEXEC);
	assert_true(hand->fd >= 0);
	key(hand, KEY_NUMLOCK, 1); /* means nothing, but the recording's clock runs from here on */
	key(hand, KEY_NUMLOCK, 0);
}

static void unplug(struct hand *hand)
{
	assert_return_code(close(hand->fd), 0);
	assert_return_code(unlink(hand->fifo), 0);
	(void)rig_heard(&hand->pad, "isn't there; waiting");
}

/* ---- the scene ---- */

static void begin(struct hand *hand, void **state, const char *option)
{
	*hand = (struct hand){ .rig = *state, .client = client_open(*state), .now_ms = 1000000 };
	(void)snprintf(hand->fifo, sizeof hand->fifo, "%s/keys", hand->rig->dir);
	rig_begin(hand->rig, "keypad",
		  (const char *const[]){ rig_argument(0), "--socket", hand->rig->socket, "--aloud",
					 "/nonexistent/aloud", "--log-level", "debug", "--replay", hand->fifo, option,
					 NULL },
		  &hand->pad);
	(void)rig_heard(&hand->pad, "bismard answers");
	(void)rig_heard(&hand->pad, "isn't there; waiting");
	plug(hand);
}

static void end(struct hand *hand)
{
	int status = rig_end(hand->rig, &hand->pad, SIGTERM);

	assert_true(WIFEXITED(status));
	assert_int_equal(WEXITSTATUS(status), 0);
	(void)close(hand->fd);
	client_close(hand->client);
}

/* Weighs, and waits until the keypad has the question too. */
static const json_t *weigh(struct hand *hand, int grams)
{
	const json_t *ask;

	nursery_weigh(hand->rig, BENCH, BOX_G + grams);
	ask = client_notice(hand->client, "ask");
	assert_int_equal(client_mg(hand->client, ask, "net_g"), grams * 1000);
	return ask;
}

static void await_shown(struct hand *hand, const json_t *ask)
{
	char words[128];

	(void)snprintf(words, sizeof words, "question %s", client_text(hand->client, ask, "ask"));
	(void)rig_heard(&hand->pad, words);
}

static unsigned digit_of(struct hand *hand, const json_t *ask, const char *name)
{
	static const unsigned codes[] = { KEY_KP1, KEY_KP2, KEY_KP3, KEY_KP4, KEY_KP5,
					  KEY_KP6, KEY_KP7, KEY_KP8, KEY_KP9 };
	size_t i;
	json_t *entry;

	json_array_foreach (json_object_get(ask, "candidates"), i, entry)
		if (strcmp(client_text(hand->client, entry, "name"), name) == 0)
			return codes[i];
	fail_msg("%s isn't suggested", name);
	return 0;
}

static void expect_recorded(struct hand *hand, const json_t *ask, const char *name)
{
	const json_t *recorded = client_notice(hand->client, "recorded");

	assert_string_equal(client_text(hand->client, recorded, "ask"), client_text(hand->client, ask, "ask"));
	assert_string_equal(client_text(hand->client, recorded, "name"), name);
	(void)rig_heard(&hand->pad, "recorded: ");
}

/* Two that differ, so that one stands out. */
static void two_pups(struct hand *hand)
{
	nursery_scale(hand->rig, hand->client, BENCH, "bench", "");
	(void)client_call(hand->client, "container.tare", "{s:s, s:i}", "name", "box", "mass_g", BOX_G);
	(void)client_call(hand->client, "container.on", "{s:s, s:s}", "name", "box", "scale", "bench");
	(void)client_call(hand->client, "litter.add", "{s:s}", "name", "amber");
	(void)client_call(hand->client, "animal.add", "{s:s, s:s}", "name", "Moss", "litter", "amber");
	(void)client_call(hand->client, "animal.add", "{s:s, s:s}", "name", "Fern", "litter", "amber");
	(void)client_call(hand->client, "weigh", "{s:s, s:i}", "animal", "Moss", "mass_g", 350);
	(void)client_call(hand->client, "weigh", "{s:s, s:i}", "animal", "Fern", "mass_g", 500);
	(void)client_notice(hand->client, "recorded");
	(void)client_notice(hand->client, "recorded");
}

/* ---- the tests ---- */

static void test_round(void **state)
{
	struct hand hand;

	begin(&hand, state, NULL);
	nursery_make(hand.rig, hand.client);
	for (size_t i = 0; i < PUPS; i++) {
		const json_t *ask = weigh(&hand, nursery_pups[i].grams);
		await_shown(&hand, ask);
		press(&hand, digit_of(&hand, ask, nursery_pups[i].name));
		expect_recorded(&hand, ask, nursery_pups[i].name);
	}
	for (size_t i = 0; i < PUPS; i++) {
		char row[64];
		(void)snprintf(row, sizeof row, "%d.0|keypad", nursery_pups[i].grams);
		rig_expect_row(hand.rig, row, "SELECT net_g, answered_by FROM reading WHERE animal = '%s'",
			       nursery_pups[i].name);
	}
	rig_expect_row(hand.rig, "8|0", "SELECT (SELECT count(*) FROM reading), (SELECT count(*) FROM unanswered)");
	end(&hand);
}

/* The oldest first, whichever was weighed last. */
static void test_oldest(void **state)
{
	const json_t *first, *second;
	struct hand hand;

	begin(&hand, state, NULL);
	two_pups(&hand);
	first = weigh(&hand, 355);
	second = weigh(&hand, 505);
	await_shown(&hand, first);
	press(&hand, KEY_KPENTER);
	expect_recorded(&hand, first, "Moss");
	await_shown(&hand, second);
	press(&hand, digit_of(&hand, second, "Fern"));
	expect_recorded(&hand, second, "Fern");
	end(&hand);
}

/* Enter: not before the name was said, not with two that are alike. */
static void test_enter(void **state)
{
	const json_t *ask;
	struct hand hand;

	begin(&hand, state, NULL);
	two_pups(&hand);
	press(&hand, KEY_KPENTER);
	(void)rig_heard(&hand.pad, "Enter: No question is open.");
	ask = weigh(&hand, 355);
	await_shown(&hand, ask);
	press_after(&hand, 300, KEY_KPENTER);
	(void)rig_heard(&hand.pad, "Enter: Too soon");
	press_after(&hand, 1000, KEY_KPENTER);
	(void)rig_heard(&hand.pad, "Enter: Hear the name first.");
	assert_int_equal(client_notices(hand.client, "recorded"), 0);
	press_after(&hand, 5000, KEY_KPENTER);
	expect_recorded(&hand, ask, "Moss");
	ask = weigh(&hand, 425); /* it could be either */
	await_shown(&hand, ask);
	press(&hand, KEY_ENTER);
	(void)rig_heard(&hand.pad, "Enter: It isn't clear which");
	press(&hand, KEY_KP9);
	(void)rig_heard(&hand.pad, "9: There is no suggestion of that number.");
	assert_int_equal(client_notices(hand.client, "recorded"), 0);
	rig_expect_row(hand.rig, "1", "SELECT count(*) FROM unanswered");
	end(&hand);
}

/* What a hand, a paw or a palm does by accident. */
static void test_accidents(void **state)
{
	const json_t *ask;
	struct hand hand;

	begin(&hand, state, NULL);
	two_pups(&hand);
	ask = weigh(&hand, 355);
	await_shown(&hand, ask);
	/* two at once */
	hand.now_ms += PAUSE_MS;
	key(&hand, KEY_KP1, 1);
	key(&hand, KEY_KP2, 1);
	hand.now_ms += 90;
	key(&hand, KEY_KP1, 0);
	key(&hand, KEY_KP2, 0);
	(void)rig_heard(&hand.pad, "Several keys at once");
	/* a pup sits on it: repeats without end */
	hand.now_ms += PAUSE_MS;
	key(&hand, KEY_KP1, 1);
	for (int i = 0; i < 100; i++) {
		hand.now_ms += 33;
		key(&hand, KEY_KP1, 2);
	}
	key(&hand, KEY_KP1, 0);
	(void)rig_heard(&hand.pad, "held too long");
	/* events were lost while a key was down: its end is not a press */
	hand.now_ms += PAUSE_MS;
	key(&hand, KEY_KP1, 1);
	emit(&hand, EV_SYN, SYN_DROPPED, 0);
	key(&hand, KEY_KP1, 0);
	press(&hand, KEY_KPDOT);
	(void)rig_heard(&hand.pad, "means nothing here");
	assert_int_equal(client_notices(hand.client, "recorded"), 0);
	/* a bouncing switch, with the lock that some pads send around it */
	hand.now_ms += PAUSE_MS;
	key(&hand, KEY_NUMLOCK, 1);
	key(&hand, KEY_KP1, 1);
	hand.now_ms += 3;
	key(&hand, KEY_KP1, 0);
	hand.now_ms += 3;
	key(&hand, KEY_KP1, 1);
	hand.now_ms += 80;
	key(&hand, KEY_KP1, 0);
	key(&hand, KEY_NUMLOCK, 0);
	expect_recorded(&hand, ask, "Moss");
	assert_int_equal(client_notices(hand.client, "recorded"), 0);
	end(&hand);
}

static void test_back_and_aside(void **state)
{
	const json_t *first, *second, *again;
	struct hand hand;

	begin(&hand, state, NULL);
	two_pups(&hand);
	press(&hand, KEY_KPSLASH);
	(void)rig_heard(&hand.pad, "/: There is nothing to take back here.");
	first = weigh(&hand, 355);
	second = weigh(&hand, 505);
	await_shown(&hand, first);
	press(&hand, digit_of(&hand, first, "Fern")); /* a slip */
	expect_recorded(&hand, first, "Fern");
	await_shown(&hand, second);
	press(&hand, KEY_KPSLASH);
	again = client_notice_of(hand.client, "ask", "ask", client_text(hand.client, first, "ask"));
	await_shown(&hand, again); /* before the younger one */
	(void)rig_heard(&hand.pad, "taken back");
	press(&hand, KEY_BACKSPACE);
	(void)rig_heard(&hand.pad, "Backspace: There is nothing to take back here.");
	press(&hand, digit_of(&hand, again, "Moss"));
	expect_recorded(&hand, first, "Moss");
	await_shown(&hand, second);
	press(&hand, KEY_KPMINUS);
	(void)client_notice_of(hand.client, "withdraw", "ask", client_text(hand.client, second, "ask"));
	(void)rig_heard(&hand.pad, "question none");
	rig_expect_row(hand.rig, "Moss|355.0", "SELECT animal, net_g FROM reading WHERE origin = 'radio'");
	/* that too can be taken back */
	press(&hand, KEY_KPSLASH);
	again = client_notice_of(hand.client, "ask", "ask", client_text(hand.client, second, "ask"));
	await_shown(&hand, again);
	end(&hand);
}

static void test_new_pup(void **state)
{
	const json_t *ask;
	struct hand hand;

	begin(&hand, state, NULL);
	two_pups(&hand);
	ask = weigh(&hand, 355);
	await_shown(&hand, ask);
	press(&hand, KEY_KPPLUS);
	(void)rig_heard(&hand.pad, "+: No whelping is open.");
	press(&hand, KEY_KPENTER);
	expect_recorded(&hand, ask, "Moss");
	(void)client_call(hand.client, "litter.add", "{s:s}", "name", "hedge");
	(void)client_call(hand.client, "whelping.begin", "{s:s}", "litter", "hedge");
	ask = weigh(&hand, 350);
	await_shown(&hand, ask);
	press(&hand, KEY_KPENTER);
	(void)rig_heard(&hand.pad, "It may be a new pup");
	press(&hand, KEY_KPPLUS);
	(void)rig_heard(&hand.pad, "a new pup: pup 1, 350 grams");
	rig_expect_row(hand.rig, "pup 1|350.0", "SELECT animal, birth_g FROM birth_log");
	press(&hand, KEY_KPSLASH);
	(void)rig_heard(&hand.pad, "/: There is nothing to take back here.");
	end(&hand);
}

static void read_tag(struct hand *hand, int64_t pause_ms, const char *code)
{
	static const unsigned digits[] = { KEY_0, KEY_1, KEY_2, KEY_3, KEY_4, KEY_5, KEY_6, KEY_7, KEY_8, KEY_9 };

	hand->now_ms += pause_ms;
	for (; *code; code++) {
		key(hand, digits[*code - '0'], 1);
		key(hand, digits[*code - '0'], 0);
		hand->now_ms += 5;
	}
	key(hand, KEY_ENTER, 1);
	key(hand, KEY_ENTER, 0);
}

/* 999 begins the code of a test transponder (ISO 11784; from memory). */
static void test_tag(void **state)
{
	const json_t *ask, *other;
	struct hand hand;

	begin(&hand, state, "--tag");
	two_pups(&hand);
	(void)client_call(hand.client, "animal.alias", "{s:s, s:s}", "animal", "Fern", "alias", "999000000000017");
	read_tag(&hand, PAUSE_MS, "999000000000017");
	(void)rig_heard(&hand.pad, "No question is open");
	ask = weigh(&hand, 355); /* by weight it would be Moss */
	await_shown(&hand, ask);
	read_tag(&hand, PAUSE_MS, "999000000000999");
	(void)rig_heard(&hand.pad, "refused: ");
	assert_int_equal(client_notices(hand.client, "recorded"), 0);
	read_tag(&hand, 500, "999000000000017");
	expect_recorded(&hand, ask, "Fern");
	rig_expect_row(hand.rig, "Fern|tag", "SELECT animal, answered_by FROM reading WHERE origin = 'radio'");
	/* it lies there still while the next is weighed */
	ask = weigh(&hand, 360);
	await_shown(&hand, ask);
	read_tag(&hand, 2000, "999000000000017");
	(void)rig_heard(&hand.pad, "the same tag again");
	/* whose is it, of two? */
	other = weigh(&hand, 505);
	(void)client_call(hand.client, "hello", NULL);
	(void)other;
	read_tag(&hand, PAUSE_MS, "999000000000017");
	(void)rig_heard(&hand.pad, "Several questions are open");
	assert_int_equal(client_notices(hand.client, "recorded"), 0);
	end(&hand);
}

static void test_turner(void **state)
{
	const json_t *ask;
	struct hand hand;

	begin(&hand, state, "--turner");
	two_pups(&hand);
	ask = weigh(&hand, 425);
	await_shown(&hand, ask);
	press(&hand, KEY_PAGEUP);
	(void)rig_heard(&hand.pad, "page up: Nothing is marked");
	press(&hand, KEY_PAGEDOWN);
	(void)rig_heard(&hand.pad, "marked: One, ");
	press(&hand, KEY_PAGEDOWN);
	(void)rig_heard(&hand.pad, "marked: Two, ");
	press_after(&hand, 200, KEY_PAGEUP);
	(void)rig_heard(&hand.pad, "page up: Hear first what is marked.");
	press(&hand, KEY_PAGEUP);
	expect_recorded(&hand, ask,
			client_text(hand.client, json_array_get(json_object_get(ask, "candidates"), 1), "name"));
	/* nothing is open: forward offers to take that back */
	(void)rig_heard(&hand.pad, "question none");
	press(&hand, KEY_PAGEDOWN);
	(void)rig_heard(&hand.pad, "marked: Take back ");
	press(&hand, KEY_PAGEUP);
	await_shown(&hand, ask);
	(void)client_notice_of(hand.client, "ask", "ask", client_text(hand.client, ask, "ask"));
	(void)rig_heard(&hand.pad, "info: taken back"); /* until then it is busy */
	for (int i = 0; i < 3; i++) /* one, two, aside */
		press(&hand, KEY_RIGHT);
	(void)rig_heard(&hand.pad, "marked: Set aside?");
	press(&hand, KEY_LEFT);
	(void)client_notice_of(hand.client, "withdraw", "ask", client_text(hand.client, ask, "ask"));
	end(&hand);
}

/* Unplugged with a key down, and plugged in again; twice. */
static void test_unplug(void **state)
{
	const json_t *ask;
	struct hand hand;

	begin(&hand, state, NULL);
	two_pups(&hand);
	ask = weigh(&hand, 355);
	await_shown(&hand, ask);
	for (int i = 0; i < 2; i++) {
		hand.now_ms += PAUSE_MS;
		key(&hand, KEY_KP2, 1);
		unplug(&hand);
		plug(&hand);
	}
	assert_int_equal(client_notices(hand.client, "recorded"), 0);
	press(&hand, KEY_KP1);
	expect_recorded(&hand, ask, "Moss");
	end(&hand);
}

/* The daemon dies and comes back: the question is there again, and what was pressed meanwhile answers nothing. */
static void test_daemon_restarts(void **state)
{
	const json_t *ask;
	struct hand hand;

	begin(&hand, state, NULL);
	two_pups(&hand);
	ask = weigh(&hand, 355);
	await_shown(&hand, ask);
	nursery_kill(hand.rig);
	(void)rig_heard(&hand.pad, "question none");
	press(&hand, KEY_KP1);
	(void)rig_heard(&hand.pad, "1: No question is open.");
	client_close(hand.client);
	rig_start_daemon(hand.rig);
	hand.client = client_open(hand.rig);
	await_shown(&hand, ask);
	assert_int_equal(client_notices(hand.client, "recorded"), 0);
	press(&hand, KEY_KP1);
	expect_recorded(&hand, ask, "Moss");
	end(&hand);
}

/* Another answers first: the key means the next question then, and that is too soon. */
static void test_other_client(void **state)
{
	const json_t *first, *second;
	struct hand hand;

	begin(&hand, state, NULL);
	two_pups(&hand);
	first = weigh(&hand, 355);
	second = weigh(&hand, 505);
	await_shown(&hand, first);
	hand.now_ms += PAUSE_MS;
	key(&hand, KEY_KP1, 1); /* the finger is on its way */
	(void)client_call(hand.client, "answer", "{s:s, s:s}", "ask", client_text(hand.client, first, "ask"), "animal",
			  "Moss");
	(void)client_notice(hand.client, "recorded");
	await_shown(&hand, second);
	hand.now_ms += 100;
	key(&hand, KEY_KP1, 0);
	(void)rig_heard(&hand.pad, "1: Too soon");
	assert_int_equal(client_notices(hand.client, "recorded"), 0);
	end(&hand);
}

static void test_usage(void **state)
{
	struct rig *rig = *state;
	static const char *const wrong[][4] = {
		{ NULL },
		{ "--device", "/x", "--turner", "--tag" },
		{ "--nothing", NULL },
		{ "--device", NULL },
		{ "word", NULL },
	};
	struct rig_program pad;

	for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
		const char *argv[6] = { rig_argument(0) };
		for (size_t j = 0; j < 4 && wrong[i][j]; j++)
			argv[j + 1] = wrong[i][j];
		rig_begin(rig, "keypad", argv, &pad);
		assert_int_equal(WEXITSTATUS(rig_end(rig, &pad, 0)), 2);
	}
	/* no daemon, no device: told once each, and it waits */
	rig_begin(rig, "keypad",
		  (const char *const[]){ rig_argument(0), "--socket", rig->socket, "--device", "/dev/input/nothing",
					 NULL },
		  &pad);
	(void)rig_heard(&pad, "/dev/input/nothing isn't there; waiting for it");
	(void)rig_heard(&pad, "No daemon answers at");
	assert_int_equal(WEXITSTATUS(rig_end(rig, &pad, SIGTERM)), 0);
}

#define CASE(name) cmocka_unit_test_setup_teardown(name, rig_setup, rig_teardown)

int main(int argc, char **argv)
{
	const struct CMUnitTest tests[] = {
		CASE(test_round),
		CASE(test_oldest),
		CASE(test_enter),
		CASE(test_accidents),
		CASE(test_back_and_aside),
		CASE(test_new_pup),
		CASE(test_tag),
		CASE(test_turner),
		CASE(test_unplug),
		CASE(test_daemon_restarts),
		CASE(test_other_client),
		cmocka_unit_test_setup_teardown(test_usage, rig_setup_bare, rig_teardown),
	};

	rig_programs(argc, argv);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
