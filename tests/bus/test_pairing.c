// SPDX-License-Identifier: MIT
/* Scales that want a bond, by every way there is, and those that lost theirs; and looking at what a scale offers. */
#include "nursery.h"
#include "stranger.h"
#include <poll.h>
#include <pty.h>
#include <sys/wait.h>
#include <unistd.h>

/* A client, and a scale with these options that is adopted and heard. */
static struct client *adopt(struct rig *rig, const char *options)
{
	struct client *client = client_open(rig);

	(void)client_call(client, "follow", "{s:[s, s, s]}", "topics", "ask", "pairing", "scale");
	(void)rig_sim(rig, "set pair-ms 5");
	(void)rig_sim(rig, "scale " BENCH " bench %s", options);
	(void)rig_sim(rig, "advertise " BENCH " on");
	(void)client_call(client, "scale.adopt", "{s:s, s:s}", "address", BENCH, "name", "bench");
	return client;
}

/* The next thing that is told of pairing must be this. Returns it. */
static const json_t *expect(struct rig *rig, struct client *client, const char *what)
{
	const json_t *notice = client_notice(client, "pairing");

	if (strcmp(client_text(client, notice, "what"), what) != 0)
		deck_fail(rig->deck, "pairing: %s, not %s", client_text(client, notice, "what"), what);
	assert_string_equal(client_text(client, notice, "scale"), "bench");
	assert_string_equal(client_text(client, notice, "address"), BENCH);
	assert_true(*client_text(client, notice, "say") != '\0');
	return notice;
}

static struct client *adopt_needy(struct rig *rig, const char *options)
{
	struct client *client = adopt(rig, options);

	(void)expect(rig, client, "needed");
	(void)rig_log(rig, "bismar scale pair bench");
	return client;
}

static void begin(struct client *client)
{
	(void)client_call(client, "scale.pair", "{s:s}", "scale", "bench");
}

static void expect_weighing(struct rig *rig, struct client *client, int grams)
{
	nursery_weigh(rig, BENCH, grams);
	assert_int_equal(client_mg(client, client_notice(client, "ask"), "net_g"), grams * 1000);
}

static void test_just_works(void **state)
{
	struct rig *rig = *state;
	struct client *client = adopt_needy(rig, "secure");

	assert_int_equal(rig_events(rig, "agent "), 0); /* nobody has asked for it */
	assert_int_equal(rig_events(rig, "pair "), 0);
	begin(client);
	(void)expect(rig, client, "done");
	(void)rig_event(rig, "agent KeyboardDisplay");
	(void)rig_event(rig, "paired " BENCH);
	(void)rig_event(rig, "agent off");
	expect_weighing(rig, client, 305);
	/* a bond is kept: the next link needs no pairing */
	(void)rig_sim(rig, "drop " BENCH);
	expect_weighing(rig, client, 310);
	assert_int_equal(client_notices(client, "pairing"), 0);
	/* paired already is as good as paired now */
	begin(client);
	(void)expect(rig, client, "done");
	expect_weighing(rig, client, 315);
	client_close(client);
}

static void test_passkey(void **state)
{
	struct rig *rig = *state;
	struct client *client = adopt_needy(rig, "passkey 042137");
	const json_t *digits;

	begin(client);
	digits = json_object_get(expect(rig, client, "passkey"), "passkey");
	assert_true(json_is_null(digits));
	assert_int_equal(stranger_ask_agents(rig, BENCH), 0); /* nobody but bluetoothd is answered */
	(void)client_refused(client, "bad-value", "scale.passkey", "{s:s}", "passkey", "1234567");
	(void)client_refused(client, "bad-value", "scale.passkey", "{s:s}", "passkey", "12a");
	(void)client_refused(client, "bad-value", "scale.passkey", "{s:s}", "yes", "yes"); /* which? */
	(void)client_refused(client, "bad-value", "scale.passkey", "{}");
	(void)client_call(client, "scale.passkey", "{s:s}", "passkey", "042137");
	(void)expect(rig, client, "done");
	(void)client_refused(client, "not-found", "scale.passkey", "{s:s}", "passkey", "042137");
	expect_weighing(rig, client, 305);
	client_close(client);
}

static void test_wrong_passkey(void **state)
{
	struct rig *rig = *state;
	struct client *client = adopt_needy(rig, "passkey 042137");
	const json_t *notice;

	begin(client);
	(void)expect(rig, client, "passkey");
	(void)client_call(client, "scale.passkey", "{s:s}", "passkey", "042138");
	notice = expect(rig, client, "failed");
	assert_non_null(strstr(client_text(client, notice, "say"), "digits did not match"));
	(void)rig_event(rig, "agent off");
	/* again, and given up */
	begin(client);
	(void)expect(rig, client, "passkey");
	(void)client_call(client, "scale.passkey", "{s:s}", "yes", "no");
	notice = expect(rig, client, "failed");
	assert_non_null(strstr(client_text(client, notice, "say"), "refused"));
	(void)rig_event(rig, "agent-answer " BENCH " ok");
	(void)rig_event(rig, "agent-answer " BENCH " org.bluez.Error.Rejected");
	/* and right */
	begin(client);
	(void)expect(rig, client, "passkey");
	(void)client_call(client, "scale.passkey", "{s:s}", "passkey", "42137");
	(void)expect(rig, client, "done");
	expect_weighing(rig, client, 305);
	client_close(client);
}

static void test_confirm(void **state)
{
	struct rig *rig = *state;
	struct client *client = adopt_needy(rig, "confirm 000007");
	const json_t *notice;

	begin(client);
	notice = expect(rig, client, "confirm");
	assert_string_equal(client_text(client, notice, "passkey"), "000007");
	(void)client_call(client, "scale.passkey", "{s:s}", "yes", "no");
	(void)expect(rig, client, "failed");
	begin(client);
	(void)expect(rig, client, "confirm");
	(void)client_call(client, "scale.passkey", "{s:s}", "yes", "yes");
	(void)expect(rig, client, "done");
	expect_weighing(rig, client, 305);
	client_close(client);
}

static void test_typed_on_scale(void **state)
{
	struct rig *rig = *state;
	struct client *client = adopt_needy(rig, "display 654321");
	const json_t *notice;

	begin(client);
	notice = expect(rig, client, "show");
	assert_string_equal(client_text(client, notice, "passkey"), "654321");
	(void)rig_sim(rig, "type " BENCH " 654321");
	(void)expect(rig, client, "done");
	expect_weighing(rig, client, 305);
	client_close(client);
}

/* The scale threw its keys away: every link fails until a person pairs anew. */
static void test_lost_bond(void **state)
{
	struct rig *rig = *state;
	struct client *client = adopt_needy(rig, "secure");
	const json_t *notice;

	begin(client);
	(void)expect(rig, client, "done");
	expect_weighing(rig, client, 305);
	(void)rig_sim(rig, "unbond " BENCH);
	(void)rig_sim(rig, "drop " BENCH);
	notice = expect(rig, client, "needed");
	assert_non_null(strstr(client_text(client, notice, "say"), "lost"));
	for (int i = 0; i < 2; i++)
		(void)rig_event(rig, "failed " BENCH " connect");
	assert_int_equal(client_notices(client, "pairing"), 0); /* once */
	assert_int_equal(rig_events(rig, "removed " BENCH), 0); /* nothing by itself */
	begin(client);
	(void)rig_event(rig, "removed " BENCH);
	(void)expect(rig, client, "done");
	expect_weighing(rig, client, 310);
	client_close(client);
}

static void test_told_once(void **state)
{
	struct rig *rig = *state;
	struct client *client = adopt_needy(rig, "secure");

	for (int i = 0; i < 3; i++)
		(void)client_notice_of(client, "scale", "state", "connecting");
	assert_int_equal(client_notices(client, "pairing"), 0);
	client_close(client);
}

/* Asked for before the scale is in reach: it waits, and pairs when the scale comes. */
static void test_waits_for_scale(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);

	(void)rig_log(rig, "Bluetooth is ready");
	(void)client_call(client, "follow", "{s:[s, s]}", "topics", "ask", "pairing");
	(void)client_call(client, "scale.adopt", "{s:s, s:s}", "address", BENCH, "name", "bench");
	begin(client);
	(void)client_refused(client, "busy", "scale.pair", "{s:s}", "scale", "bench");
	(void)client_refused(client, "not-found", "scale.passkey", "{s:s}", "yes", "yes");
	(void)rig_sim(rig, "scale " BENCH " bench secure");
	(void)rig_sim(rig, "advertise " BENCH " on");
	(void)expect(rig, client, "done");
	assert_int_equal(client_notices(client, "pairing"), 0); /* needed: it is at it */
	expect_weighing(rig, client, 305);
	client_close(client);
}

static void fail_by(struct rig *rig, struct client *client, const char *error, const char *words)
{
	const json_t *notice;

	(void)rig_sim(rig, "fail " BENCH " pair 1 %s", error);
	begin(client);
	notice = expect(rig, client, "failed");
	if (!strstr(client_text(client, notice, "say"), words))
		deck_fail(rig->deck, "%s: %s", error, client_text(client, notice, "say"));
}

static void test_errors(void **state)
{
	struct rig *rig = *state;
	struct client *client = adopt_needy(rig, "secure");

	fail_by(rig, client, "org.bluez.Error.AuthenticationFailed", "digits did not match");
	fail_by(rig, client, "org.bluez.Error.AuthenticationRejected", "its manual");
	fail_by(rig, client, "org.bluez.Error.AuthenticationTimeout", "did not answer in time");
	fail_by(rig, client, "org.bluez.Error.ConnectionAttemptFailed", "could not be reached");
	fail_by(rig, client, "org.bluez.Error.Strange", "journalctl -u bluetooth");
	/* not an error: somebody else has paired it */
	(void)rig_sim(rig, "fail " BENCH " pair 1 org.bluez.Error.AlreadyExists");
	begin(client);
	(void)expect(rig, client, "done");
	client_close(client);
}

/* What it is waiting for goes away. */
static void test_bluetoothd_ends(void **state)
{
	struct rig *rig = *state;
	struct client *client = adopt_needy(rig, "passkey 042137");
	const json_t *notice;

	begin(client);
	(void)expect(rig, client, "passkey");
	(void)rig_sim(rig, "restart");
	notice = expect(rig, client, "failed");
	assert_non_null(strstr(client_text(client, notice, "say"), "ended meanwhile"));
	(void)client_refused(client, "not-found", "scale.passkey", "{s:s}", "passkey", "042137");
	(void)rig_log(rig, "isn't running");
	(void)rig_log(rig, "Bluetooth is ready"); /* log lines are found once: the first of them is of the start */
	(void)rig_log(rig, "Bluetooth is ready");
	/* forgotten in the middle of it: nobody is told, and another may begin */
	begin(client);
	(void)client_notice_of(client, "pairing", "what", "passkey");
	(void)client_call(client, "scale.forget", "{s:s}", "name", "bench");
	(void)rig_event(rig, "agent-answer " BENCH " org.bluez.Error.Rejected");
	assert_int_equal(client_notices(client, "pairing"), 0);
	client_close(client);
}

/* ---- what it offers ---- */

static void follow_offers(struct rig *rig, struct client *client)
{
	(void)rig_log(rig, "Bluetooth is ready");
	(void)client_call(client, "follow", "{s:[s, s, s]}", "topics", "ask", "offer", "scale");
}

static bool is_done(const json_t *notice)
{
	return json_is_true(json_object_get(notice, "done"));
}

/* The described vendor characteristic is a mass of 1 g steps: 0x2904 uint16, 10^-3, kilogram (facts, 3.2). */
static void test_offers(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);
	bool weight = false, described = false, feature = false;
	const json_t *notice;

	follow_offers(rig, client);
	(void)rig_sim(rig, "scale " PORCH " porch battery 80 described b15a0002-0c5a-4e5d-9c0a-5ca1e0000000 06fd0227010000");
	(void)rig_sim(rig, "advertise " PORCH " on");
	(void)client_call(client, "scale.offers", "{s:s}", "address", PORCH);
	(void)client_refused(client, "busy", "scale.offers", "{s:s}", "address", PORCH);
	for (notice = client_notice(client, "offer"); !is_done(notice); notice = client_notice(client, "offer")) {
		const char *uuid = client_text(client, notice, "uuid");
		const json_t *properties = json_object_get(notice, "properties");
		if (strncmp(uuid, "00002a9d", 8) == 0) {
			weight = true;
			assert_int_equal(client_mg(client, notice, "step_g"), 5000);
			assert_int_equal(json_array_size(properties), 1);
			assert_string_equal(json_string_value(json_array_get(properties, 0)), "indicate");
			assert_true(json_is_null(json_object_get(notice, "description")));
		} else if (strncmp(uuid, "b15a0002", 8) == 0) {
			described = true;
			assert_int_equal(client_mg(client, notice, "step_g"), 1000);
			assert_int_equal(json_integer_value(json_object_get(json_object_get(notice, "description"),
									    "exponent")),
					 -3);
		} else if (strncmp(uuid, "00002a9e", 8) == 0) {
			feature = true;
			assert_true(json_is_null(json_object_get(notice, "step_g")));
		}
	}
	assert_true(weight && described && feature);
	assert_true(json_is_true(json_object_get(notice, "ok")));
	(void)rig_event(rig, "disconnected " PORCH); /* the link that was made for it */
	assert_int_equal(rig_events(rig, "subscribed "), 0);
	assert_int_equal(rig_events(rig, "write "), 0);
	client_close(client);
}

/* An adopted scale's link stays, and goes on. */
static void test_offers_of_adopted(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);
	const json_t *notice;

	follow_offers(rig, client);
	nursery_scale(rig, client, BENCH, "bench", "");
	(void)client_call(client, "scale.offers", "{s:s}", "address", "bench");
	do
		notice = client_notice(client, "offer");
	while (!is_done(notice));
	assert_true(json_is_true(json_object_get(notice, "ok")));
	nursery_weigh(rig, BENCH, 305);
	assert_int_equal(client_mg(client, client_notice(client, "ask"), "net_g"), 305000);
	assert_int_equal(rig_events(rig, "disconnect"), 0);
	client_close(client);
}

static void test_offers_of_nobody(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);
	const json_t *notice;

	follow_offers(rig, client);
	(void)client_refused(client, "bad-value", "scale.offers", "{s:s}", "address", "nothing");
	(void)client_call(client, "scale.offers", "{s:s}", "address", PORCH);
	(void)rig_event(rig, "discovery on"); /* it isn't heard, so it is looked for */
	(void)rig_sim(rig, "stop");
	notice = client_notice(client, "offer");
	assert_true(is_done(notice));
	assert_true(json_is_false(json_object_get(notice, "ok")));
	client_close(client);
}

/* ---- the command line ---- */

static const char *ctl_path;

static void test_command_lists(void **state)
{
	struct rig *rig = *state;
	struct rig_ran ran;

	(void)rig_log(rig, "Bluetooth is ready");
	(void)rig_sim(rig, "scale " PORCH " porch");
	(void)rig_sim(rig, "advertise " PORCH " on");
	rig_run_ctl(rig, (const char *const[]){ "scale", "offers", PORCH, NULL }, &ran);
	assert_int_equal(ran.status, 0);
	assert_non_null(strstr(ran.out, "Weight Scale Service, steps of 5 g: enough for pups from "));
	rig_run_ctl(rig, (const char *const[]){ "--json", "scale", "offers", PORCH, NULL }, &ran);
	assert_int_equal(ran.status, 0);
	assert_non_null(strstr(ran.out, "\"step_g\":5.0"));
	rig_run_ctl(rig, (const char *const[]){ "scale", "pair", "nothing", NULL }, &ran);
	assert_int_equal(ran.status, 1);
}

static void test_command_pairs(void **state)
{
	struct rig *rig = *state;
	struct rig_ran ran;
	struct client *client = adopt_needy(rig, "secure");

	rig_run_ctl(rig, (const char *const[]){ "scale", "pair", "BENCH", NULL }, &ran);
	assert_int_equal(ran.status, 0);
	assert_non_null(strstr(ran.out, "It is paired."));
	(void)rig_run_ctl(rig, (const char *const[]){ "scale", "consent", "bench", "3", "1234", NULL }, &ran);
	assert_int_equal(ran.status, 0);
	(void)rig_run_ctl(rig, (const char *const[]){ "scale", "consent", "bench", "3", "12345", NULL }, &ran);
	assert_int_equal(ran.status, 2);
	client_close(client);
}

/* Nobody is there who could read the digits off the scale. */
static void test_command_without_person(void **state)
{
	struct rig *rig = *state;
	struct rig_ran ran;
	struct client *client = adopt_needy(rig, "passkey 042137");

	rig_run_ctl(rig, (const char *const[]){ "scale", "pair", "bench", NULL }, &ran);
	assert_int_equal(ran.status, 1);
	assert_non_null(strstr(ran.err, "not paired"));
	client_close(client);
}

struct terminal {
	pid_t pid;
	int fd;
	char seen[8192];
	size_t n;
};

static void terminal_open(struct rig *rig, struct terminal *terminal, const char *const args[])
{
	const char *argv[16] = { ctl_path, "--socket", rig->socket };
	size_t n = 3;

	for (size_t i = 0; args[i]; i++)
		argv[n++] = args[i];
	*terminal = (struct terminal){ .fd = -1 };
	terminal->pid = forkpty(&terminal->fd, NULL, NULL, NULL);
	if (terminal->pid < 0)
		deck_fail(rig->deck, "no terminal");
	if (terminal->pid == 0) {
		(void)execv(ctl_path, (char *const *)argv);
		_exit(127);
	}
}

/* Reads until these words are there; "" reads to the end. */
static void terminal_await(struct rig *rig, struct terminal *terminal, const char *words)
{
	int64_t until_ms = deck_ms(rig->deck) + TAPE_PATIENCE_MS;

	while (!*words || !strstr(terminal->seen, words)) {
		struct pollfd poller = { .fd = terminal->fd, .events = POLLIN };
		ssize_t n = 0;
		if (poll(&poller, 1, 100) > 0)
			n = read(terminal->fd, terminal->seen + terminal->n, sizeof terminal->seen - 1 - terminal->n);
		if (n < 0 && !*words)
			return; /* a terminal that nobody holds any more fails to be read */
		if (n < 0 || deck_ms(rig->deck) > until_ms)
			deck_fail(rig->deck, "no \"%s\" at the terminal:\n%s", words, terminal->seen);
		terminal->n += (size_t)n;
		terminal->seen[terminal->n] = '\0';
		deck_turn(rig->deck, 0);
	}
}

static void terminal_type(struct rig *rig, struct terminal *terminal, const char *text)
{
	if (write(terminal->fd, text, strlen(text)) != (ssize_t)strlen(text))
		deck_fail(rig->deck, "can't type");
}

static int terminal_close(struct rig *rig, struct terminal *terminal)
{
	int status;

	terminal_await(rig, terminal, "");
	(void)close(terminal->fd);
	if (waitpid(terminal->pid, &status, 0) != terminal->pid || !WIFEXITED(status))
		deck_fail(rig->deck, "bismar ended strangely:\n%s", terminal->seen);
	return WEXITSTATUS(status);
}

/* Adopting leads through it all: the wait, the bond, the digits. */
static void test_adopt_at_terminal(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);
	struct terminal terminal;

	(void)rig_log(rig, "Bluetooth is ready");
	(void)rig_sim(rig, "scale " BENCH " bench passkey 042137");
	terminal_open(rig, &terminal, (const char *const[]){ "scale", "adopt", BENCH, "bench", NULL });
	terminal_await(rig, &terminal, "waits until it is connected");
	(void)rig_sim(rig, "advertise " BENCH " on");
	terminal_await(rig, &terminal, "Type them: ");
	terminal_type(rig, &terminal, "what?\n");
	terminal_await(rig, &terminal, "Six digits");
	terminal_type(rig, &terminal, "042137\n");
	assert_int_equal(terminal_close(rig, &terminal), 0);
	assert_non_null(strstr(terminal.seen, "It is paired."));
	assert_non_null(strstr(terminal.seen, "It is connected"));
	expect_weighing(rig, client, 305);
	client_close(client);
}

static void test_enter_ends_the_wait(void **state)
{
	struct rig *rig = *state;
	struct terminal terminal;

	terminal_open(rig, &terminal, (const char *const[]){ "scale", "adopt", BENCH, "bench", NULL });
	terminal_await(rig, &terminal, "waits until it is connected");
	terminal_type(rig, &terminal, "\n");
	assert_int_equal(terminal_close(rig, &terminal), 0);
	rig_expect_row(rig, "bench", "SELECT name FROM scale_now");
}

#define CASE(name) cmocka_unit_test_setup_teardown(name, rig_setup, rig_teardown)

int main(int argc, char **argv)
{
	const struct CMUnitTest tests[] = {
		CASE(test_just_works),
		CASE(test_passkey),
		CASE(test_wrong_passkey),
		CASE(test_confirm),
		CASE(test_typed_on_scale),
		CASE(test_lost_bond),
		CASE(test_told_once),
		CASE(test_waits_for_scale),
		CASE(test_errors),
		CASE(test_bluetoothd_ends),
		CASE(test_offers),
		CASE(test_offers_of_adopted),
		CASE(test_offers_of_nobody),
		CASE(test_command_lists),
		CASE(test_command_pairs),
		CASE(test_command_without_person),
		CASE(test_adopt_at_terminal),
		CASE(test_enter_ends_the_wait),
	};

	rig_programs(argc, argv);
	ctl_path = argv[3];
	return cmocka_run_group_tests(tests, NULL, NULL);
}
