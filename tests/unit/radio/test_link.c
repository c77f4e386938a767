// SPDX-License-Identifier: MIT
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
#include "daemon/radio/link.h"

#define S UINT64_C(1000000)
#define NEVER UINT64_MAX
#define START (1000 * S) /* of the clock: any but 0 */
#define N_STATES (LINK_LISTENING + 1)
#define N_EVENTS (LINK_EV_WAKE + 1)

/* At at_s after START the event comes; then the link is in that state, with that action, and wakes
 * at wake_s. */
struct row {
	unsigned at_s;
	enum link_event event;
	enum link_state state;
	enum link_action action;
	uint64_t wake_s;
};

static void walk(struct link *link, const struct row *rows, size_t n)
{
	for (size_t i = 0; i < n; i++) {
		const struct row *row = &rows[i];
		enum link_action action = link_step(link, row->event, START + row->at_s * S);
		uint64_t wake_us = row->wake_s == NEVER ? NEVER : START + row->wake_s * S;

		if (link->state != row->state || action != row->action || link->wake_us != wake_us)
			fail_msg("row %zu: state %s, action %d, wake %lld s", i,
				 link_state_text(link->state), (int)action,
				 (long long)(link->wake_us - START) / (long long)S);
	}
}

#define WALK(link, rows) walk((link), (rows), sizeof(rows) / sizeof *(rows))

/* Weight Scale Profile 1.0: the scale ends the link when it has nothing more to send; that is no
 * failure. */
static void test_indicate_then_disconnect(void **state)
{
	static const struct row rows[] = {
		{ 0, LINK_EV_SEEN, LINK_CONNECTING, LINK_DO_CONNECT, 60 },
		{ 1, LINK_EV_CONNECTED, LINK_RESOLVING, LINK_DO_SUBSCRIBE, 31 },
		{ 2, LINK_EV_CHARACTERISTIC, LINK_RESOLVING, LINK_DO_SUBSCRIBE, 31 },
		{ 2, LINK_EV_RESOLVED, LINK_RESOLVING, LINK_DO_SUBSCRIBE, 31 },
		{ 2, LINK_EV_CONNECT_DONE, LINK_RESOLVING, LINK_DO_SUBSCRIBE, 31 },
		{ 3, LINK_EV_SUBSCRIBED, LINK_SUBSCRIBED, LINK_DO_NOTHING, NEVER },
		{ 9, LINK_EV_DISCONNECTED, LINK_LOST, LINK_DO_NOTHING, 11 },
		{ 10, LINK_EV_SEEN, LINK_CONNECTING, LINK_DO_CONNECT, 70 },
		{ 11, LINK_EV_CONNECT_DONE, LINK_RESOLVING, LINK_DO_SUBSCRIBE, 41 },
		{ 11, LINK_EV_CONNECTED, LINK_RESOLVING, LINK_DO_NOTHING, 41 },
		{ 12, LINK_EV_SUBSCRIBED, LINK_SUBSCRIBED, LINK_DO_NOTHING, NEVER },
		{ 20, LINK_EV_DISCONNECTED, LINK_LOST, LINK_DO_NOTHING, 22 },
	};
	struct link link;

	(void)state;
	link_init(&link);
	assert_int_equal(link.state, LINK_AWAY);
	assert_true(link.wake_us == NEVER);
	WALK(&link, rows);
	assert_int_equal(link.number, 2);
	assert_int_equal(link.failures, 0);
}

/* Not heard again after a link: one try after 2 s, then with growing waits; BlueZ may connect by
 * itself. */
static void test_silent_after_link(void **state)
{
	static const struct row rows[] = {
		{ 0, LINK_EV_CONNECTED, LINK_RESOLVING, LINK_DO_SUBSCRIBE, 12 },
		{ 0, LINK_EV_SUBSCRIBED, LINK_SUBSCRIBED, LINK_DO_NOTHING, NEVER },
		{ 5, LINK_EV_DISCONNECTED, LINK_LOST, LINK_DO_NOTHING, 7 },
		{ 7, LINK_EV_WAKE, LINK_CONNECTING, LINK_DO_CONNECT, 67 },
		{ 48, LINK_EV_CONNECT_FAILED, LINK_WAITING, LINK_DO_NOTHING, 49 },
		{ 49, LINK_EV_WAKE, LINK_CONNECTING, LINK_DO_CONNECT, 109 },
		{ 90, LINK_EV_CONNECT_FAILED, LINK_WAITING, LINK_DO_NOTHING, 92 },
		{ 91, LINK_EV_CONNECTED, LINK_RESOLVING, LINK_DO_SUBSCRIBE, 103 },
		{ 91, LINK_EV_SUBSCRIBED, LINK_SUBSCRIBED, LINK_DO_NOTHING, NEVER },
	};
	struct link link;

	(void)state;
	link_init(&link);
	WALK(&link, rows);
	assert_int_equal(link.failures, 0);
}

static void test_backoff(void **state)
{
	static const unsigned waits_s[] = { 1, 2, 4, 8, 16, 32, 60, 60, 60 };
	uint64_t now_us = START;
	struct link link;

	(void)state;
	link_init(&link);
	assert_int_equal(link_step(&link, LINK_EV_SEEN, now_us), LINK_DO_CONNECT);
	for (size_t i = 0; i < sizeof waits_s / sizeof *waits_s; i++) {
		/* heard all the time: that doesn't shorten the waits, since it was heard before it
		 * failed */
		assert_int_equal(link_step(&link, LINK_EV_SEEN, now_us), LINK_DO_NOTHING);
		now_us += 20 * S;
		assert_int_equal(link_step(&link, LINK_EV_CONNECT_FAILED, now_us), LINK_DO_NOTHING);
		assert_int_equal(link.state, LINK_WAITING);
		assert_true(link.wake_us == now_us + waits_s[i] * S);
		assert_int_equal(link_step(&link, LINK_EV_SEEN, now_us), LINK_DO_NOTHING);
		now_us = link.wake_us;
		assert_int_equal(link_step(&link, LINK_EV_WAKE, now_us), LINK_DO_CONNECT);
	}
	/* a subscription ends it */
	(void)link_step(&link, LINK_EV_CONNECTED, now_us);
	(void)link_step(&link, LINK_EV_SUBSCRIBED, now_us);
	assert_int_equal(link.failures, 0);
}

/* A scale out of reach that is tried blindly for hours, then wakes for seconds: no wait then. */
static void test_wakes_after_blind_attempts(void **state)
{
	uint64_t now_us = START;
	struct link link;

	(void)state;
	link_init(&link);
	assert_int_equal(link_step(&link, LINK_EV_PRESENT, now_us), LINK_DO_CONNECT);
	for (int i = 0; i < 20; i++) {
		now_us += 41 * S;
		(void)link_step(&link, LINK_EV_CONNECT_FAILED, now_us);
		assert_int_equal(link.state, LINK_WAITING);
		now_us = link.wake_us;
		assert_int_equal(link_step(&link, LINK_EV_WAKE, now_us), LINK_DO_CONNECT);
	}
	now_us += 41 * S;
	(void)link_step(&link, LINK_EV_CONNECT_FAILED, now_us);
	assert_true(link.wake_us == now_us + 60 * S);
	assert_int_equal(link_step(&link, LINK_EV_SEEN, now_us), LINK_DO_CONNECT);
	/* that one fails, as in a busy radio: the next comes a second later */
	(void)link_step(&link, LINK_EV_CONNECT_FAILED, now_us);
	assert_true(link.wake_us == now_us + S);
}

static void test_limits(void **state)
{
	static const struct row rows[] = {
		/* Connect never answers */
		{ 0, LINK_EV_PRESENT, LINK_CONNECTING, LINK_DO_CONNECT, 60 },
		{ 60, LINK_EV_WAKE, LINK_WAITING, LINK_DO_DISCONNECT, 61 },
		/* services never come */
		{ 61, LINK_EV_WAKE, LINK_CONNECTING, LINK_DO_CONNECT, 121 },
		{ 62, LINK_EV_CONNECTED, LINK_RESOLVING, LINK_DO_SUBSCRIBE, 92 },
		{ 92, LINK_EV_WAKE, LINK_WAITING, LINK_DO_DISCONNECT, 94 },
		/* the end of that link comes late: the next attempt waits for it, and a second more
		 */
		{ 94, LINK_EV_WAKE, LINK_WAITING, LINK_DO_NOTHING, 97 },
		{ 94, LINK_EV_DISCONNECTED, LINK_WAITING, LINK_DO_NOTHING, 97 },
		{ 97, LINK_EV_WAKE, LINK_CONNECTING, LINK_DO_CONNECT, 157 },
		/* a subscription is refused */
		{ 98, LINK_EV_CONNECT_DONE, LINK_RESOLVING, LINK_DO_SUBSCRIBE, 128 },
		{ 99, LINK_EV_SUBSCRIBE_FAILED, LINK_WAITING, LINK_DO_DISCONNECT, 103 },
		{ 100, LINK_EV_DISCONNECTED, LINK_WAITING, LINK_DO_NOTHING, 103 },
		{ 100, LINK_EV_SEEN, LINK_WAITING, LINK_DO_NOTHING, 103 },
		{ 103, LINK_EV_WAKE, LINK_CONNECTING, LINK_DO_CONNECT, 163 },
		/* not a scale at all; and nobody tells of the end of that link */
		{ 104, LINK_EV_CONNECTED, LINK_RESOLVING, LINK_DO_SUBSCRIBE, 134 },
		{ 105, LINK_EV_UNFIT, LINK_WAITING, LINK_DO_DISCONNECT, 165 },
		{ 165, LINK_EV_WAKE, LINK_WAITING, LINK_DO_NOTHING, 168 },
		{ 168, LINK_EV_WAKE, LINK_CONNECTING, LINK_DO_CONNECT, 228 },
	};
	struct link link;

	(void)state;
	link_init(&link);
	WALK(&link, rows);
}

/* A refused subscription, and BlueZ connects again by itself the moment that we disconnect: the
 * waits hold. */
static void test_refused_and_connected_again(void **state)
{
	static const struct row rows[] = {
		{ 0, LINK_EV_CONNECTED, LINK_RESOLVING, LINK_DO_SUBSCRIBE, 12 },
		{ 0, LINK_EV_SUBSCRIBE_FAILED, LINK_WAITING, LINK_DO_DISCONNECT, 1 },
		{ 0, LINK_EV_DISCONNECTED, LINK_WAITING, LINK_DO_NOTHING, 1 },
		{ 0, LINK_EV_CONNECTED, LINK_WAITING, LINK_DO_NOTHING, 1 },
		{ 1, LINK_EV_WAKE, LINK_RESOLVING, LINK_DO_SUBSCRIBE, 13 },
		{ 1, LINK_EV_SUBSCRIBE_FAILED, LINK_WAITING, LINK_DO_DISCONNECT, 3 },
		{ 1, LINK_EV_DISCONNECTED, LINK_WAITING, LINK_DO_NOTHING, 3 },
		{ 1, LINK_EV_CONNECTED, LINK_WAITING, LINK_DO_NOTHING, 3 },
		{ 2, LINK_EV_DISCONNECTED, LINK_WAITING, LINK_DO_NOTHING, 3 },
		{ 3, LINK_EV_WAKE, LINK_CONNECTING, LINK_DO_CONNECT, 63 },
	};
	struct link link;

	(void)state;
	link_init(&link);
	WALK(&link, rows);
}

/* Services that aren't resolved any more on a link that is up: replaced, or never to come back. */
static void test_unresolved(void **state)
{
	static const struct row rows[] = {
		{ 0, LINK_EV_CONNECTED, LINK_RESOLVING, LINK_DO_SUBSCRIBE, 12 },
		{ 0, LINK_EV_UNRESOLVED, LINK_RESOLVING, LINK_DO_NOTHING, 12 },
		{ 0, LINK_EV_SUBSCRIBED, LINK_SUBSCRIBED, LINK_DO_NOTHING, NEVER },
		{ 5, LINK_EV_UNRESOLVED, LINK_SUBSCRIBED, LINK_DO_NOTHING, 13 },
		{ 7, LINK_EV_RESOLVED, LINK_SUBSCRIBED, LINK_DO_SUBSCRIBE, NEVER },
		{ 8, LINK_EV_UNRESOLVED, LINK_SUBSCRIBED, LINK_DO_NOTHING, 16 },
		{ 9, LINK_EV_SUBSCRIBED, LINK_SUBSCRIBED, LINK_DO_NOTHING, NEVER },
		/* the normal end, in two signals */
		{ 20, LINK_EV_UNRESOLVED, LINK_SUBSCRIBED, LINK_DO_NOTHING, 28 },
		{ 20, LINK_EV_DISCONNECTED, LINK_LOST, LINK_DO_NOTHING, 22 },
		{ 21, LINK_EV_CONNECTED, LINK_RESOLVING, LINK_DO_SUBSCRIBE, 33 },
		{ 21, LINK_EV_SUBSCRIBED, LINK_SUBSCRIBED, LINK_DO_NOTHING, NEVER },
		{ 30, LINK_EV_UNRESOLVED, LINK_SUBSCRIBED, LINK_DO_NOTHING, 38 },
		{ 38, LINK_EV_WAKE, LINK_WAITING, LINK_DO_DISCONNECT, 39 },
		{ 38, LINK_EV_DISCONNECTED, LINK_WAITING, LINK_DO_NOTHING, 39 },
		{ 38, LINK_EV_SEEN, LINK_WAITING, LINK_DO_NOTHING, 39 },
		{ 39, LINK_EV_WAKE, LINK_CONNECTING, LINK_DO_CONNECT, 99 },
	};
	struct link link;

	(void)state;
	link_init(&link);
	WALK(&link, rows);
}

/* The link lost at each step, and its object at each step. */
static void test_lost_at_each_step(void **state)
{
	static const struct row rows[] = {
		{ 0, LINK_EV_SEEN, LINK_CONNECTING, LINK_DO_CONNECT, 60 },
		{ 0, LINK_EV_DISCONNECTED, LINK_CONNECTING, LINK_DO_NOTHING, 60 },
		{ 1, LINK_EV_CONNECTED, LINK_RESOLVING, LINK_DO_SUBSCRIBE, 31 },
		{ 2, LINK_EV_DISCONNECTED, LINK_WAITING, LINK_DO_NOTHING, 3 },
		{ 2, LINK_EV_CONNECT_FAILED, LINK_WAITING, LINK_DO_NOTHING, 3 },
		{ 3, LINK_EV_WAKE, LINK_CONNECTING, LINK_DO_CONNECT, 63 },
		{ 4, LINK_EV_GONE, LINK_AWAY, LINK_DO_NOTHING, NEVER },
		{ 5, LINK_EV_SEEN, LINK_CONNECTING, LINK_DO_CONNECT, 65 },
		{ 6, LINK_EV_CONNECTED, LINK_RESOLVING, LINK_DO_SUBSCRIBE, 36 },
		{ 6, LINK_EV_CHARACTERISTIC, LINK_RESOLVING, LINK_DO_SUBSCRIBE, 36 },
		{ 7, LINK_EV_GONE, LINK_AWAY, LINK_DO_NOTHING, NEVER },
		{ 8, LINK_EV_CONNECTED, LINK_RESOLVING, LINK_DO_SUBSCRIBE, 20 },
		{ 9, LINK_EV_SUBSCRIBED, LINK_SUBSCRIBED, LINK_DO_NOTHING, NEVER },
		{ 10, LINK_EV_GONE, LINK_AWAY, LINK_DO_NOTHING, NEVER },
	};
	struct link link;

	(void)state;
	link_init(&link);
	WALK(&link, rows);
}

/* A link that comes and goes as fast as it can costs at most 10 attempts at once, and then one in 6
 * s. */
static void test_flapping(void **state)
{
	uint64_t now_us = START;
	unsigned attempts = 0;
	struct link link;

	(void)state;
	link_init(&link);
	for (unsigned ms = 0; ms < 600000; ms += 10, now_us += 10000) {
		enum link_event event = link.wake_us <= now_us ? LINK_EV_WAKE : LINK_EV_SEEN;

		if (link_step(&link, event, now_us) != LINK_DO_CONNECT)
			continue;
		attempts++;
		(void)link_step(&link, LINK_EV_CONNECTED, now_us);
		(void)link_step(&link, LINK_EV_SUBSCRIBED, now_us);
		(void)link_step(&link, LINK_EV_DISCONNECTED, now_us);
	}
	assert_in_range(attempts, 100, 112);
}

/* One that broadcasts is never connected to; silence, or the end of its object, makes it away. */
static void test_broadcaster(void **state)
{
	static const struct row rows[] = {
		{ 0, LINK_EV_QUIET, LINK_AWAY, LINK_DO_NOTHING, NEVER },
		{ 0, LINK_EV_BROADCAST, LINK_LISTENING, LINK_DO_NOTHING, 300 },
		{ 10, LINK_EV_BROADCAST, LINK_LISTENING, LINK_DO_NOTHING, 310 },
		{ 11, LINK_EV_PRESENT, LINK_LISTENING, LINK_DO_NOTHING, 310 },
		{ 12, LINK_EV_CONNECTED, LINK_LISTENING, LINK_DO_NOTHING, 310 }, /* by somebody else */
		{ 13, LINK_EV_CHARACTERISTIC, LINK_LISTENING, LINK_DO_NOTHING, 310 },
		{ 13, LINK_EV_RESOLVED, LINK_LISTENING, LINK_DO_NOTHING, 310 },
		{ 14, LINK_EV_DISCONNECTED, LINK_LISTENING, LINK_DO_NOTHING, 310 },
		{ 309, LINK_EV_WAKE, LINK_LISTENING, LINK_DO_NOTHING, 310 },
		{ 310, LINK_EV_WAKE, LINK_AWAY, LINK_DO_NOTHING, NEVER },
		{ 400, LINK_EV_BROADCAST, LINK_LISTENING, LINK_DO_NOTHING, 700 },
		{ 401, LINK_EV_QUIET, LINK_AWAY, LINK_DO_NOTHING, NEVER },
		{ 402, LINK_EV_BROADCAST, LINK_LISTENING, LINK_DO_NOTHING, 702 },
		{ 403, LINK_EV_GONE, LINK_AWAY, LINK_DO_NOTHING, NEVER },
	};
	struct link link;

	(void)state;
	link_init(&link);
	WALK(&link, rows);
	assert_int_equal(link.number, 3); /* it was lost in between */
}

/* After a crash of bluetoothd services were seen resolved before they were there: one that has served is tried again
 * soon, and only a second time in a row counts. */
static void test_served_before(void **state)
{
	static const struct row rows[] = {
		{ 0, LINK_EV_CONNECTED, LINK_RESOLVING, LINK_DO_SUBSCRIBE, 12 },
		{ 1, LINK_EV_SUBSCRIBED, LINK_SUBSCRIBED, LINK_DO_NOTHING, NEVER },
		{ 2, LINK_EV_GONE, LINK_AWAY, LINK_DO_NOTHING, NEVER },
		{ 3, LINK_EV_CONNECTED, LINK_RESOLVING, LINK_DO_SUBSCRIBE, 15 },
		{ 4, LINK_EV_UNFIT, LINK_WAITING, LINK_DO_DISCONNECT, 5 },
	};
	struct link link;

	(void)state;
	link_init(&link);
	WALK(&link, rows);
}

/* What it is shows while something else was thought of it. */
static void test_turns_out(void **state)
{
	static const struct row broadcaster[] = {
		{ 0, LINK_EV_SEEN, LINK_CONNECTING, LINK_DO_CONNECT, 60 },
		{ 1, LINK_EV_BROADCAST, LINK_LISTENING, LINK_DO_DISCONNECT, 301 },
		{ 1, LINK_EV_CONNECT_FAILED, LINK_LISTENING, LINK_DO_NOTHING, 301 },
		{ 2, LINK_EV_GONE, LINK_AWAY, LINK_DO_NOTHING, NEVER },
		{ 3, LINK_EV_CONNECTED, LINK_RESOLVING, LINK_DO_SUBSCRIBE, 15 },
		{ 4, LINK_EV_BROADCAST, LINK_LISTENING, LINK_DO_DISCONNECT, 304 },
		{ 5, LINK_EV_GONE, LINK_AWAY, LINK_DO_NOTHING, NEVER },
		/* refused, and connected again by BlueZ */
		{ 6, LINK_EV_CONNECTED, LINK_RESOLVING, LINK_DO_SUBSCRIBE, 18 },
		{ 6, LINK_EV_UNFIT, LINK_WAITING, LINK_DO_DISCONNECT, 66 },
		{ 6, LINK_EV_DISCONNECTED, LINK_WAITING, LINK_DO_NOTHING, 66 },
		{ 6, LINK_EV_CONNECTED, LINK_WAITING, LINK_DO_NOTHING, 66 },
		{ 7, LINK_EV_BROADCAST, LINK_LISTENING, LINK_DO_DISCONNECT, 307 },
	};
	static const struct row connectable[] = {
		{ 0, LINK_EV_BROADCAST, LINK_LISTENING, LINK_DO_NOTHING, 300 },
		{ 1, LINK_EV_SEEN, LINK_CONNECTING, LINK_DO_CONNECT, 61 },
		{ 2, LINK_EV_CONNECTED, LINK_RESOLVING, LINK_DO_SUBSCRIBE, 32 },
		{ 2, LINK_EV_SUBSCRIBED, LINK_SUBSCRIBED, LINK_DO_NOTHING, NEVER },
		{ 3, LINK_EV_BROADCAST, LINK_SUBSCRIBED, LINK_DO_NOTHING, NEVER },
		{ 3, LINK_EV_QUIET, LINK_SUBSCRIBED, LINK_DO_NOTHING, NEVER },
	};
	struct link link;

	(void)state;
	link_init(&link);
	WALK(&link, broadcaster);
	link_init(&link);
	WALK(&link, connectable);
}

static struct link in_state(enum link_state state, unsigned failures, bool strict)
{
	struct link link;

	link_init(&link);
	link.state = state;
	link.failures = failures;
	link.strict = strict;
	if (state != LINK_AWAY && state != LINK_SUBSCRIBED)
		link.wake_us = START;
	return link;
}

/* Whatever comes whenever: the link is left in a state that something leads out of. */
static void check_pair(enum link_state before, enum link_event event, unsigned failures,
		       bool strict)
{
	struct link link = in_state(before, failures, strict);
	enum link_action action = link_step(&link, event, START);

	assert_in_range(link.state, 0, N_STATES - 1);
	assert_in_range(action, LINK_DO_NOTHING, LINK_DO_DISCONNECT);
	if (link.state == LINK_LISTENING)
		assert_true(link.wake_us == START + (before == LINK_LISTENING && event != LINK_EV_BROADCAST ? 0 : 300 * S));
	else if (link.state == LINK_SUBSCRIBED && event == LINK_EV_UNRESOLVED)
		assert_true(link.wake_us == START + 8 * S);
	else if (link.state == LINK_AWAY || link.state == LINK_SUBSCRIBED)
		assert_true(link.wake_us == NEVER);
	else
		assert_true(link.wake_us >= START && link.wake_us <= START + 60 * S);
	if (action == LINK_DO_CONNECT)
		assert_int_equal(link.state, LINK_CONNECTING);
	if (action == LINK_DO_SUBSCRIBE)
		assert_true(link.state == LINK_RESOLVING || link.state == LINK_SUBSCRIBED);
	if (event == LINK_EV_BROADCAST || event == LINK_EV_QUIET)
		assert_int_equal(action, before == LINK_CONNECTING || before == LINK_RESOLVING ? LINK_DO_DISCONNECT :
												 LINK_DO_NOTHING);
	else if (action == LINK_DO_DISCONNECT)
		assert_int_equal(link.state, LINK_WAITING);
	if (event == LINK_EV_BROADCAST && before != LINK_SUBSCRIBED)
		assert_int_equal(link.state, LINK_LISTENING);
	if (event == LINK_EV_QUIET && before != LINK_SUBSCRIBED)
		assert_int_equal(link.state, LINK_AWAY);
	if (event == LINK_EV_GONE)
		assert_int_equal(link.state, LINK_AWAY);
	if (event == LINK_EV_CONNECTED && before == LINK_LISTENING)
		assert_int_equal(link.state, LINK_LISTENING);
	else if (event == LINK_EV_CONNECTED && before != LINK_SUBSCRIBED)
		assert_int_equal(link.state, LINK_RESOLVING);
	if (event == LINK_EV_WAKE && before != LINK_AWAY && before != LINK_SUBSCRIBED)
		assert_true(link.state != before);
}

static void test_every_pair(void **state)
{
	static const unsigned failures[] = { 0, 1, 6, 7, 1000, UINT32_MAX - 1 };

	(void)state;
	for (int before = 0; before < N_STATES; before++)
		for (int event = 0; event < N_EVENTS; event++)
			for (size_t i = 0; i < sizeof failures / sizeof *failures; i++) {
				check_pair((enum link_state)before, (enum link_event)event,
					   failures[i], false);
				check_pair((enum link_state)before, (enum link_event)event,
					   failures[i], true);
			}
}

/* From wherever a random life has led, a scale that is there and behaves is subscribed to within
 * two minutes. */
static void test_always_recovers(void **state)
{
	uint64_t random_state =
		UINT64_C(0x9e3779b97f4a7c15); /* xorshift64, fixed: a failure comes again */

	(void)state;
	for (int life = 0; life < 2000; life++) {
		uint64_t now_us = START, end_us;
		struct link link;

		link_init(&link);
		for (int i = 0; i < 50; i++) {
			random_state ^= random_state << 13;
			random_state ^= random_state >> 7;
			random_state ^= random_state << 17;
			now_us += random_state >> 32 & 0x3fffff;
			(void)link_step(&link, (enum link_event)(random_state % N_EVENTS), now_us);
		}
		end_us = now_us + 120 * S;
		if (link.state == LINK_SUBSCRIBED)
			(void)link_step(&link, LINK_EV_DISCONNECTED, now_us);
		while (link.state != LINK_SUBSCRIBED && now_us < end_us) {
			now_us += S;
			if (link_step(&link, LINK_EV_SEEN, now_us) == LINK_DO_CONNECT)
				(void)link_step(&link, LINK_EV_CONNECTED, now_us);
			if (link.wake_us <= now_us &&
			    link_step(&link, LINK_EV_WAKE, now_us) == LINK_DO_CONNECT)
				(void)link_step(&link, LINK_EV_CONNECTED, now_us);
			if (link.state == LINK_RESOLVING)
				(void)link_step(&link, LINK_EV_SUBSCRIBED, now_us);
		}
		assert_int_equal(link.state, LINK_SUBSCRIBED);
	}
}

static void test_words(void **state)
{
	static const char *const words[] = { "away",       "seen", "connecting", "resolving",
					     "subscribed", "lost", "waiting",    "listening" };

	(void)state;
	for (int i = 0; i < N_STATES; i++)
		assert_string_equal(link_state_text((enum link_state)i), words[i]);
}

int main(void)
{
	static const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_indicate_then_disconnect),
		cmocka_unit_test(test_silent_after_link),
		cmocka_unit_test(test_backoff),
		cmocka_unit_test(test_wakes_after_blind_attempts),
		cmocka_unit_test(test_limits),
		cmocka_unit_test(test_refused_and_connected_again),
		cmocka_unit_test(test_unresolved),
		cmocka_unit_test(test_lost_at_each_step),
		cmocka_unit_test(test_flapping),
		cmocka_unit_test(test_broadcaster),
		cmocka_unit_test(test_served_before),
		cmocka_unit_test(test_turns_out),
		cmocka_unit_test(test_every_pair),
		cmocka_unit_test(test_always_recovers),
		cmocka_unit_test(test_words),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
