// SPDX-License-Identifier: MIT
#include "contrib/broker/bridge.h"
#include "contrib/broker/again.h"
#include "contrib/broker/kept.h"
#include "contrib/broker/ledger.h"
#include "contrib/broker/message.h"
#include "contrib/broker/pace.h"
#include "contrib/client/peer.h"
#include "daemon/log.h"
#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define LOOK_MS INT64_C(60000)  /* bismard may be away, or a notification missed */
#define SOON_MS INT64_C(1000)   /* what follows from a reading is written a moment after it */
#define BIRTH_MS INT64_C(60000) /* `state` after a connection, at the latest */
#define STATE_MS INT64_C(10000) /* ... after a change */
#define STATE_LEAST_MS INT64_C(1000)
#define SLACK_USEC UINT64_C(5000)
#define NEVER INT64_MAX

struct bridge {
	sd_event *event;
	struct bridge_setup setup;
	struct link *link;
	struct peer *peer;
	struct ledger ledger;
	struct window window;
	struct lane lanes[LOG_KINDS];
	bool more[LOG_KINDS]; /* there may be rows after the cursor */
	struct again again;
	struct pace pace;
	sd_event_source *look, *tick;
	bool told_absent;
	/* what the state says */
	int64_t up_ms, state_ms,
		heard_ms; /* connected; state published (-1: not on this connection); broker's last word */
	bool state_dirty;
	struct kept kept;
	/* texts that the link borrows */
	char will[MESSAGE_STATE_SIZE], topics[NAME_AGAIN + 1][NAME_SIZE], client[NAME_CLIENT_SIZE];
};

static int64_t now_ms(const struct bridge *bridge)
{
	uint64_t now;

	(void)sd_event_now(bridge->event, CLOCK_MONOTONIC, &now); /* the loop exists, and so does the clock */
	return (int64_t)(now / 1000);
}

/* ---- the ledger ---- */

/* What stands at the position must be what was published; else this is another ledger, or an older copy of it. */
static void check(struct bridge *bridge)
{
	for (size_t i = 0; i < LOG_KINDS; i++) {
		struct lane *lane = &bridge->lanes[i];
		if (lane->acked == 0 || ledger_has(&bridge->ledger, i, lane->acked, lane->id) != 0)
			continue;
		log_warning("the ledger isn't the one that was published, or an older copy was put back: its %s from "
			    "the beginning",
			    i == LOG_READING ? "readings" : "concerns");
		window_forget(&bridge->window, i);
		lane_begin(lane, 0, "");
		bridge->kept.unsaved = bridge->state_dirty = true;
	}
}

/* Another file: what was sent of the one before and not acknowledged is sent of this one. */
static void begin_ledger(struct bridge *bridge)
{
	for (size_t i = 0; i < LOG_KINDS; i++) {
		struct lane *lane = &bridge->lanes[i];
		window_forget(&bridge->window, i);
		lane->cursor = lane->top = lane->acked;
	}
	check(bridge);
}

static void end(struct bridge *bridge, int status)
{
	if (bridge->setup.once)
		(void)sd_event_exit(bridge->event, status);
}

static void look(struct bridge *bridge)
{
	char say[LEDGER_SAY_SIZE];

	switch (ledger_look(&bridge->ledger, say)) {
	case LEDGER_SAME:
		return;
	case LEDGER_ABSENT:
		if (!bridge->told_absent)
			log_warning("%s Waiting for it.", say);
		bridge->told_absent = true;
		end(bridge, 1);
		return;
	case LEDGER_OPENED:
		begin_ledger(bridge);
		break;
	case LEDGER_CHANGED:
		check(bridge);
		break;
	}
	if (bridge->told_absent)
		log_info("the database can be read");
	bridge->told_absent = false;
	bridge->more[LOG_READING] = bridge->more[LOG_CONCERN] = true;
}

/* ---- publishing ---- */

struct batch {
	struct bridge *bridge;
	enum log_kind log;
};

static bool publish(void *user, int64_t seq, const char *id, const json_t *row)
{
	struct batch *batch = user;
	struct bridge *bridge = batch->bridge;
	int mid, r;
	char *text;
	size_t n;

	r = message_row(row, bridge->setup.bridge, &text, &n);
	if (r == -ENOMEM)
		return false;
	if (r < 0) { /* no row of bismard's is so long; the others must come through */
		log_error("%s %" PRId64 " is longer than a message may be, leaving it out",
			  batch->log == LOG_READING ? "reading" : "concern", seq);
		lane_sent(&bridge->lanes[batch->log], seq);
		return true;
	}
	r = link_publish(bridge->link, bridge->topics[batch->log == LOG_READING ? NAME_READING : NAME_CONCERN], text, n,
			 false, &mid);
	free(text);
	if (r < 0)
		return false;
	if (bridge->window.n == 0)
		bridge->heard_ms = now_ms(bridge);
	window_put(&bridge->window, mid, batch->log, seq, id);
	lane_sent(&bridge->lanes[batch->log], seq);
	pace_take(&bridge->pace);
	return true;
}

/* One batch of a log, of n at most. */
static void pump_log(struct bridge *bridge, enum log_kind log, size_t n)
{
	struct batch batch = { bridge, log };
	size_t most = pace_most(&bridge->pace, now_ms(bridge));
	int count;

	if (n > most)
		n = most;
	if (n == 0 || !bridge->more[log])
		return;
	count = ledger_read(&bridge->ledger, log, bridge->lanes[log].cursor, n, publish, &batch);
	if (count < 0 || (size_t)count < n)
		bridge->more[log] = false; /* until somebody writes; or, in trouble, until it is looked at again */
}

/* Concerns first, but neither log keeps the other out. */
static void pump(struct bridge *bridge)
{
	while (link_is_up(bridge->link) && (bridge->more[LOG_READING] || bridge->more[LOG_CONCERN])) {
		size_t room = window_room(&bridge->window);
		if (room < 2 || pace_most(&bridge->pace, now_ms(bridge)) == 0)
			return;
		pump_log(bridge, LOG_CONCERN, room / 2);
		pump_log(bridge, LOG_READING, window_room(&bridge->window) - 1); /* one is left for the state */
	}
}

static bool all_out(const struct bridge *bridge)
{
	return bridge->ledger.db && !bridge->more[LOG_READING] && !bridge->more[LOG_CONCERN] && bridge->window.n == 0;
}

/* When `state` is due; NEVER: it says what is so. */
static int64_t state_due(const struct bridge *bridge)
{
	if (!link_is_up(bridge->link) || (!bridge->state_dirty && bridge->state_ms >= 0))
		return NEVER;
	if (bridge->state_ms < 0)
		return all_out(bridge) ? 0 : bridge->up_ms + BIRTH_MS;
	return bridge->state_ms + (all_out(bridge) ? STATE_LEAST_MS : STATE_MS);
}

static void publish_state(struct bridge *bridge)
{
	const int64_t seq[LOG_KINDS] = { bridge->lanes[LOG_READING].acked, bridge->lanes[LOG_CONCERN].acked };
	char text[MESSAGE_STATE_SIZE];
	size_t n = message_state(bridge->setup.bridge, seq, text);
	int mid;

	if (n == 0 || window_room(&bridge->window) == 0 ||
	    link_publish(bridge->link, bridge->topics[NAME_STATE], text, n, true, &mid) < 0)
		return;
	if (bridge->window.n == 0)
		bridge->heard_ms = now_ms(bridge);
	window_put(&bridge->window, mid, LOG_NONE, 0, "");
	bridge->state_ms = now_ms(bridge);
	bridge->state_dirty = false;
}

/* ---- what is due, and when the next is ---- */

static int64_t earlier(int64_t one, int64_t other)
{
	return one < other ? one : other;
}

static int64_t stalled_at(const struct bridge *bridge)
{
	if (bridge->window.n == 0 || !link_is_up(bridge->link))
		return NEVER;
	return bridge->heard_ms + (int64_t)bridge->setup.link.patience_s * 1000;
}

static void arm(struct bridge *bridge)
{
	int64_t due = earlier(state_due(bridge), stalled_at(bridge));

	due = earlier(due, kept_due_ms(&bridge->kept));
	if (link_is_up(bridge->link)) {
		if (again_waits(&bridge->again) && !lane_repeats(&bridge->lanes[LOG_READING]) &&
		    !lane_repeats(&bridge->lanes[LOG_CONCERN]))
			due = earlier(due, bridge->again.not_before_ms);
		if ((bridge->more[LOG_READING] || bridge->more[LOG_CONCERN]) && window_room(&bridge->window) > 1)
			due = earlier(due, now_ms(bridge) + PACE_STEP_MS);
	}
	(void)sd_event_source_set_enabled(bridge->tick, due == NEVER ? SD_EVENT_OFF : SD_EVENT_ONESHOT);
	if (due != NEVER)
		(void)sd_event_source_set_time(bridge->tick, due > 0 ? (uint64_t)due * 1000 : 0);
}

static void turn(void *user)
{
	struct bridge *bridge = user;
	int64_t now = now_ms(bridge);

	if (now >= stalled_at(bridge)) {
		link_give_up(bridge->link, "it takes no message any more");
	} else if (link_is_up(bridge->link)) {
		if (again_follow(&bridge->again, now, bridge->lanes)) {
			bridge->more[LOG_READING] = bridge->more[LOG_CONCERN] = true;
			log_info("asked for once more: readings after %" PRId64 ", concerns after %" PRId64,
				 bridge->lanes[LOG_READING].cursor, bridge->lanes[LOG_CONCERN].cursor);
		}
		pump(bridge);
		if (now >= state_due(bridge))
			publish_state(bridge);
	}
	if (now >= kept_due_ms(&bridge->kept))
		kept_save(&bridge->kept, bridge->lanes, now);
	if (all_out(bridge) && bridge->state_ms >= 0 && !bridge->state_dirty)
		end(bridge, 0);
	arm(bridge);
}

static int on_tick(sd_event_source *source, uint64_t usec, void *user)
{
	(void)source, (void)usec;
	turn(user);
	return 0;
}

static void look_in(struct bridge *bridge, int64_t ms)
{
	(void)sd_event_source_set_time_relative(bridge->look, (uint64_t)ms * 1000);
	(void)sd_event_source_set_enabled(bridge->look, SD_EVENT_ONESHOT);
}

static int on_look(sd_event_source *source, uint64_t usec, void *user)
{
	struct bridge *bridge = user;

	(void)source, (void)usec;
	look_in(bridge, LOOK_MS);
	look(bridge);
	bridge->more[LOG_READING] = bridge->more[LOG_CONCERN] =
		true; /* whatever went amiss before: it is tried again */
	turn(bridge);
	return 0;
}

/* ---- the broker ---- */

static void on_up(void *user)
{
	struct bridge *bridge = user;

	bridge->up_ms = bridge->heard_ms = now_ms(bridge);
	bridge->state_ms = -1;
	bridge->more[LOG_READING] = bridge->more[LOG_CONCERN] = true;
	turn(bridge);
}

static void on_down(void *user)
{
	struct bridge *bridge = user;

	window_lost(&bridge->window, bridge->lanes);
	end(bridge, 1);
}

static void on_acked(void *user, int mid)
{
	struct bridge *bridge = user;
	struct window_entry entry;

	if (!window_ack(&bridge->window, mid))
		return; /* the broker's mistake, without a consequence */
	bridge->heard_ms = now_ms(bridge);
	while (window_pop(&bridge->window, &entry)) {
		if (entry.log == LOG_NONE || !lane_acked(&bridge->lanes[entry.log], entry.seq, entry.id))
			continue;
		bridge->kept.unsaved = bridge->state_dirty = true;
		link_is_well(bridge->link);
	}
}

static void on_heard(void *user, const void *octets, size_t n)
{
	struct bridge *bridge = user;
	int64_t from[LOG_KINDS];
	size_t refused;

	if (again_read(octets, n, from) == 0) {
		again_wish(&bridge->again, from, bridge->lanes);
		return;
	}
	refused = again_refuse(&bridge->again, now_ms(bridge));
	if (refused > 0)
		log_warning(
			"%s: %zu of what was asked for once more is not understood, ignoring; MESSAGES.md tells how",
			bridge->topics[NAME_AGAIN], refused);
}

/* ---- bismard ---- */

static void on_peer_up(void *user)
{
	look_in(user, 0);
}

static void on_peer_down(void *user, const char *say)
{
	(void)user;
	log_info("%s Until then the database is looked at once a minute.", say);
}

static void on_notice(void *user, const char *topic, const json_t *params)
{
	struct bridge *bridge = user;

	(void)topic, (void)params;
	look(bridge);
	look_in(bridge, SOON_MS);
	turn(bridge);
}

/* ---- from outside ---- */

static int begin_link(struct bridge *bridge)
{
	static const struct link_calls calls = { on_up, on_down, on_acked, on_heard, turn };
	struct link_setup setup = bridge->setup.link;
	size_t n = message_state(bridge->setup.bridge, NULL, bridge->will);

	if (n == 0)
		return -ENOMEM;
	bridge->will[n] = '\0';
	for (size_t i = 0; i <= NAME_AGAIN; i++)
		(void)name_topic(bridge->setup.base, bridge->setup.bridge, (enum name_topic)i, bridge->topics[i]);
	setup.client = name_client(bridge->setup.base, bridge->setup.bridge, bridge->client);
	setup.will = bridge->will;
	setup.will_topic = bridge->topics[NAME_STATE];
	setup.hear = bridge->setup.once ? NULL : bridge->topics[NAME_AGAIN];
	setup.once = bridge->setup.once;
	return link_new(&bridge->link, bridge->event, &setup, &calls, bridge);
}

static int begin_peer(struct bridge *bridge)
{
	static const char *const topics[] = { "ask", "withdraw", "recorded", "imported", "concern", NULL };
	static const struct peer_calls calls = { on_peer_up, on_peer_down, on_notice };

	if (bridge->setup.once)
		return 0;
	return peer_new(&bridge->peer, bridge->event, bridge->setup.socket, topics, &calls, bridge);
}

int bridge_new(struct bridge **ret, sd_event *event, const struct bridge_setup *setup)
{
	struct bridge *bridge = calloc(1, sizeof *bridge);
	int r;

	if (!bridge)
		return -ENOMEM;
	*bridge = (struct bridge){ .event = sd_event_ref(event), .setup = *setup, .state_ms = -1 };
	ledger_init(&bridge->ledger, setup->database);
	pace_init(&bridge->pace, setup->rate, now_ms(bridge));
	r = kept_open(&bridge->kept, setup, bridge->lanes);
	if (r >= 0)
		r = sd_event_add_time(event, &bridge->tick, CLOCK_MONOTONIC, 0, SLACK_USEC, on_tick, bridge);
	if (r >= 0)
		r = sd_event_source_set_enabled(bridge->tick, SD_EVENT_OFF);
	if (r >= 0) /* before the broker is reached: priority says so */
		r = sd_event_add_time_relative(event, &bridge->look, CLOCK_MONOTONIC, 0, SLACK_USEC, on_look, bridge);
	if (r >= 0)
		r = sd_event_source_set_priority(bridge->look, SD_EVENT_PRIORITY_IMPORTANT);
	if (r >= 0)
		r = begin_link(bridge);
	if (r >= 0)
		r = begin_peer(bridge);
	if (r < 0) {
		bridge_free(bridge);
		return r;
	}
	*ret = bridge;
	return 0;
}

struct bridge *bridge_free(struct bridge *bridge)
{
	if (!bridge)
		return NULL;
	if (bridge->link)
		link_finish(bridge->link, bridge->topics[NAME_STATE], bridge->will, strlen(bridge->will));
	link_free(bridge->link);
	peer_free(bridge->peer);
	kept_close(&bridge->kept, bridge->lanes);
	ledger_done(&bridge->ledger);
	sd_event_source_disable_unref(bridge->look);
	sd_event_source_disable_unref(bridge->tick);
	sd_event_unref(bridge->event);
	free(bridge);
	return NULL;
}
