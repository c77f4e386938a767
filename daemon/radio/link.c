// SPDX-License-Identifier: MIT
#include "link.h"

void link_init(struct link *link)
{
	*link = (struct link){ .state = LINK_AWAY, .wake_us = UINT64_MAX };
}

const char *link_state_text(enum link_state state)
{
	switch (state) {
	case LINK_AWAY:
		return "away";
	case LINK_SEEN:
		return "seen";
	case LINK_CONNECTING:
		return "connecting";
	case LINK_RESOLVING:
		return "resolving";
	case LINK_SUBSCRIBED:
		return "subscribed";
	case LINK_LOST:
		return "lost";
	case LINK_WAITING:
		return "waiting";
	case LINK_LISTENING:
		return "listening";
	}
	return "away";
}

static uint64_t backoff_us(unsigned failures)
{
	uint64_t us = LINK_BACKOFF_MIN_US;

	for (unsigned i = 1; i < failures && us < LINK_BACKOFF_MAX_US; i++)
		us *= 2;
	return us < LINK_BACKOFF_MAX_US ? us : LINK_BACKOFF_MAX_US;
}

static enum link_action rest(struct link *link, enum link_state state, uint64_t wake_us)
{
	link->state = state;
	link->wake_us = wake_us;
	return LINK_DO_NOTHING;
}

static enum link_action gone(struct link *link)
{
	link->failures = 0;
	link->heard = false;
	return rest(link, LINK_AWAY, UINT64_MAX);
}

static enum link_action begin(struct link *link, bool heard, uint64_t now_us)
{
	link->heard = heard;
	if (link->pace_us > now_us + LINK_BURST_US)
		return rest(link, LINK_SEEN, link->pace_us - LINK_BURST_US);
	link->pace_us = (link->pace_us > now_us ? link->pace_us : now_us) + LINK_PACE_US;
	link->state = LINK_CONNECTING;
	link->wake_us = now_us + LINK_CONNECT_LIMIT_US;
	return LINK_DO_CONNECT;
}

static enum link_action joined(struct link *link, uint64_t now_us)
{
	bool asked = link->state == LINK_CONNECTING;

	link->number++;
	link->state = LINK_RESOLVING;
	link->wake_us = now_us + (asked ? LINK_RESOLVE_LIMIT_US : LINK_UNASKED_LIMIT_US);
	return LINK_DO_SUBSCRIBE;
}

static enum link_action fail(struct link *link, enum link_action action, uint64_t now_us)
{
	link->failures++;
	link->state = LINK_WAITING;
	link->wake_us = now_us + backoff_us(link->failures);
	link->strict = link->heard;
	link->heard = false;
	link->refused = false;
	link->up = false;
	link->ending = false;
	return action;
}

/* The scale answered, but can't be used as it is: hearing it again, or
 * being connected again by BlueZ, proves nothing new. */
static enum link_action refuse(struct link *link, uint64_t now_us)
{
	link->heard = true;
	(void)fail(link, LINK_DO_DISCONNECT, now_us);
	link->refused = true;
	link->ending = true;
	return LINK_DO_DISCONNECT;
}

static enum link_action step_away(struct link *link, enum link_event event, uint64_t now_us)
{
	switch (event) {
	case LINK_EV_SEEN:
		return begin(link, true, now_us);
	case LINK_EV_PRESENT:
		return begin(link, false, now_us);
	case LINK_EV_CONNECTED:
		return joined(link, now_us);
	case LINK_EV_CONNECT_DONE:
	case LINK_EV_CONNECT_FAILED:
	case LINK_EV_DISCONNECTED:
	case LINK_EV_RESOLVED:
	case LINK_EV_UNRESOLVED:
	case LINK_EV_CHARACTERISTIC:
	case LINK_EV_SUBSCRIBED:
	case LINK_EV_SUBSCRIBE_FAILED:
	case LINK_EV_UNFIT:
	case LINK_EV_BROADCAST: /* see link_step() */
	case LINK_EV_QUIET:
	case LINK_EV_GONE:
	case LINK_EV_WAKE:
		break;
	}
	return LINK_DO_NOTHING;
}

/* LINK_SEEN and LINK_LOST: no link, no attempt under way, one to come at wake_us. */
static enum link_action step_idle(struct link *link, enum link_event event, uint64_t now_us)
{
	switch (event) {
	case LINK_EV_SEEN:
		return begin(link, true, now_us);
	case LINK_EV_WAKE:
		return begin(link, link->heard, now_us);
	case LINK_EV_CONNECTED:
		return joined(link, now_us);
	case LINK_EV_GONE:
		return gone(link);
	case LINK_EV_PRESENT:
	case LINK_EV_CONNECT_DONE:
	case LINK_EV_CONNECT_FAILED:
	case LINK_EV_DISCONNECTED:
	case LINK_EV_RESOLVED:
	case LINK_EV_UNRESOLVED:
	case LINK_EV_CHARACTERISTIC:
	case LINK_EV_SUBSCRIBED:
	case LINK_EV_SUBSCRIBE_FAILED:
	case LINK_EV_UNFIT:
	case LINK_EV_BROADCAST: /* see link_step() */
	case LINK_EV_QUIET:
		break;
	}
	return LINK_DO_NOTHING;
}

static enum link_action step_connecting(struct link *link, enum link_event event, uint64_t now_us)
{
	switch (event) {
	case LINK_EV_SEEN:
		link->heard = true;
		break;
	case LINK_EV_CONNECT_DONE:
	case LINK_EV_CONNECTED:
	case LINK_EV_RESOLVED: /* no services without a link, whatever Connected says */
		return joined(link, now_us);
	case LINK_EV_CONNECT_FAILED:
		return fail(link, LINK_DO_NOTHING, now_us);
	case LINK_EV_WAKE:
		return fail(link, LINK_DO_DISCONNECT, now_us);
	case LINK_EV_GONE:
		return gone(link);
	case LINK_EV_DISCONNECTED: /* of the link before; this attempt has its own answer to come */
	case LINK_EV_PRESENT:
	case LINK_EV_UNRESOLVED:
	case LINK_EV_CHARACTERISTIC:
	case LINK_EV_SUBSCRIBED:
	case LINK_EV_SUBSCRIBE_FAILED:
	case LINK_EV_UNFIT:
	case LINK_EV_BROADCAST: /* see link_step() */
	case LINK_EV_QUIET:
		break;
	}
	return LINK_DO_NOTHING;
}

static enum link_action step_resolving(struct link *link, enum link_event event, uint64_t now_us)
{
	switch (event) {
	case LINK_EV_CONNECT_DONE: /* BlueZ answers Connect when it has read the services
				      (facts, 7.4) */
	case LINK_EV_RESOLVED:
	case LINK_EV_CHARACTERISTIC:
		return LINK_DO_SUBSCRIBE;
	case LINK_EV_SUBSCRIBED:
		link->failures = 0;
		link->heard = false;
		link->served = true;
		return rest(link, LINK_SUBSCRIBED, UINT64_MAX);
	case LINK_EV_DISCONNECTED:
		return fail(link, LINK_DO_NOTHING, now_us);
	case LINK_EV_SUBSCRIBE_FAILED:
	case LINK_EV_WAKE:
		return refuse(link, now_us);
	case LINK_EV_UNFIT:
		/* It won't change soon: straight to the longest wait. But one that has served us knows how: bluetoothd 5.66,
		 * just restarted, was seen to call services resolved before it had them */
		if (!link->served || link->failures > 1)
			link->failures = 6;
		return refuse(link, now_us);
	case LINK_EV_GONE:
		return gone(link);
	case LINK_EV_SEEN:
	case LINK_EV_PRESENT:
	case LINK_EV_CONNECT_FAILED: /* the link came up all the same; if it is of no use, it ends
					or wake_us comes */
	case LINK_EV_CONNECTED:
	case LINK_EV_UNRESOLVED:
	case LINK_EV_BROADCAST: /* see link_step() */
	case LINK_EV_QUIET:
		break;
	}
	return LINK_DO_NOTHING;
}

static enum link_action step_subscribed(struct link *link, enum link_event event, uint64_t now_us)
{
	switch (event) {
	case LINK_EV_RESOLVED:
		link->wake_us = UINT64_MAX;
		return LINK_DO_SUBSCRIBE;
	case LINK_EV_CHARACTERISTIC:
		return LINK_DO_SUBSCRIBE;
	case LINK_EV_UNRESOLVED:
		link->wake_us = now_us + LINK_DOUBT_US;
		break;
	case LINK_EV_SUBSCRIBED: /* it speaks: no doubt */
		link->wake_us = UINT64_MAX;
		break;
	case LINK_EV_WAKE:
		return link->wake_us <= now_us ? refuse(link, now_us) : LINK_DO_NOTHING;
	case LINK_EV_DISCONNECTED:
		link->heard = false;
		return rest(link, LINK_LOST, now_us + LINK_AGAIN_US);
	case LINK_EV_SUBSCRIBE_FAILED:
	case LINK_EV_UNFIT:
		return refuse(link, now_us);
	case LINK_EV_GONE:
		return gone(link);
	case LINK_EV_SEEN:
	case LINK_EV_PRESENT:
	case LINK_EV_CONNECT_DONE:
	case LINK_EV_CONNECT_FAILED:
	case LINK_EV_CONNECTED:
	case LINK_EV_BROADCAST: /* it has shown that it is more than that */
	case LINK_EV_QUIET:
		break;
	}
	return LINK_DO_NOTHING;
}

static enum link_action step_waiting(struct link *link, enum link_event event, uint64_t now_us)
{
	switch (event) {
	case LINK_EV_SEEN:
		if (!link->strict) {
			link->failures = 0;
			return begin(link, true, now_us);
		}
		link->heard = true;
		break;
	case LINK_EV_WAKE:
		if (link->ending) { /* once: perhaps nobody tells of the end */
			link->ending = false;
			return rest(link, LINK_WAITING, now_us + LINK_ENDING_US);
		}
		return link->up ? joined(link, now_us) : begin(link, link->heard, now_us);
	case LINK_EV_CONNECTED:
		if (!link->refused || now_us >= link->wake_us)
			return joined(link, now_us);
		link->up = true;
		link->ending = false;
		break;
	case LINK_EV_DISCONNECTED: /* bluetoothd gets a moment to clear up */
		link->up = false;
		link->ending = false;
		if (link->wake_us < now_us + LINK_BACKOFF_MIN_US)
			link->wake_us = now_us + LINK_BACKOFF_MIN_US;
		break;
	case LINK_EV_GONE:
		return gone(link);
	case LINK_EV_PRESENT:
	case LINK_EV_CONNECT_DONE:
	case LINK_EV_CONNECT_FAILED:
	case LINK_EV_RESOLVED:
	case LINK_EV_UNRESOLVED:
	case LINK_EV_CHARACTERISTIC:
	case LINK_EV_SUBSCRIBED:
	case LINK_EV_SUBSCRIBE_FAILED:
	case LINK_EV_UNFIT:
	case LINK_EV_BROADCAST: /* see link_step() */
	case LINK_EV_QUIET:
		break;
	}
	return LINK_DO_NOTHING;
}

/* It broadcasts: whatever was under way to connect to it ends here. */
static enum link_action step_broadcaster(struct link *link, bool heard, uint64_t now_us)
{
	bool trying = link->state == LINK_CONNECTING || link->state == LINK_RESOLVING ||
		      (link->state == LINK_WAITING && link->up);

	if (link->state == LINK_SUBSCRIBED)
		return step_subscribed(link, heard ? LINK_EV_BROADCAST : LINK_EV_QUIET, now_us);
	if (!heard) {
		(void)gone(link);
	} else {
		if (link->state != LINK_LISTENING)
			link->number++;
		link->failures = 0;
		(void)rest(link, LINK_LISTENING, now_us + LINK_SILENCE_US);
	}
	return trying ? LINK_DO_DISCONNECT : LINK_DO_NOTHING;
}

static enum link_action step_listening(struct link *link, enum link_event event, uint64_t now_us)
{
	switch (event) {
	case LINK_EV_SEEN: /* it is to be connected to after all */
		return begin(link, true, now_us);
	case LINK_EV_WAKE:
		return link->wake_us <= now_us ? gone(link) : LINK_DO_NOTHING;
	case LINK_EV_GONE:
		return gone(link);
	case LINK_EV_CONNECTED: /* by somebody else, for a purpose of his own */
	case LINK_EV_PRESENT:
	case LINK_EV_CONNECT_DONE:
	case LINK_EV_CONNECT_FAILED:
	case LINK_EV_DISCONNECTED:
	case LINK_EV_RESOLVED:
	case LINK_EV_UNRESOLVED:
	case LINK_EV_CHARACTERISTIC:
	case LINK_EV_SUBSCRIBED:
	case LINK_EV_SUBSCRIBE_FAILED:
	case LINK_EV_UNFIT:
	case LINK_EV_BROADCAST: /* see link_step() */
	case LINK_EV_QUIET:
		break;
	}
	return LINK_DO_NOTHING;
}

enum link_action link_step(struct link *link, enum link_event event, uint64_t now_us)
{
	if (event == LINK_EV_BROADCAST || event == LINK_EV_QUIET)
		return step_broadcaster(link, event == LINK_EV_BROADCAST, now_us);
	switch (link->state) {
	case LINK_AWAY:
		return step_away(link, event, now_us);
	case LINK_SEEN:
	case LINK_LOST:
		return step_idle(link, event, now_us);
	case LINK_CONNECTING:
		return step_connecting(link, event, now_us);
	case LINK_RESOLVING:
		return step_resolving(link, event, now_us);
	case LINK_SUBSCRIBED:
		return step_subscribed(link, event, now_us);
	case LINK_WAITING:
		return step_waiting(link, event, now_us);
	case LINK_LISTENING:
		return step_listening(link, event, now_us);
	}
	return LINK_DO_NOTHING;
}
