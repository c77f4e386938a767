// SPDX-License-Identifier: MIT
#pragma once
/*
 * The life of the link to one adopted scale, as a state machine without a bus: events in, one action out,
 * "wake me at" instead of a timer. Tested as a table.
 * Above: radio/scale.c, which turns signals into events and actions into calls. Below: nothing.
 *
 * A scale that disconnects after its result is the normal case (Weight Scale Profile 1.0; facts, 1.4): no back-off
 * then. Back-off is for attempts that fail: 1, 2, 4 ... 60 s, reset by a subscription. An attempt is blind when
 * nothing was heard since the last one; hearing the scale cuts the wait after a blind attempt short, since many
 * wake for seconds only, but not the wait after one that failed although the scale was heard.
 * A scale that broadcasts has no link: it is listened to while it is heard, and never connected to.
 * Whatever happens, attempts come no faster than one in LINK_PACE_US, after a burst of LINK_BURST_US.
 */
#include <stdbool.h>
#include <stdint.h>

enum link_state {
	LINK_AWAY,       /* adopted, not in reach: BlueZ has no object for it, or hears nothing */
	LINK_SEEN,       /* in reach; about to connect, at wake_us */
	LINK_CONNECTING, /* Connect is under way */
	LINK_RESOLVING,  /* connected; services aren't complete, or no measured characteristic is known yet */
	LINK_SUBSCRIBED, /* connected, and at least one measured characteristic is subscribed */
	LINK_LOST,       /* was subscribed, and the link ended; subscription is kept by BlueZ; waits to be seen */
	LINK_WAITING,    /* an attempt failed; no new one before wake_us */
	LINK_LISTENING,  /* it broadcasts, and is heard: there is no link, and none is wanted; silent at wake_us: away */
};

enum link_event {
	LINK_EV_SEEN,             /* object present and heard (RSSI) */
	LINK_EV_PRESENT,          /* object present, but nothing is heard: it may be asleep, or BlueZ doesn't tell */
	LINK_EV_CONNECT_DONE,     /* Connect returned */
	LINK_EV_CONNECT_FAILED,
	LINK_EV_CONNECTED,        /* Connected became true (by us, by auto-connection, by someone else) */
	LINK_EV_DISCONNECTED,     /* Connected became false */
	LINK_EV_RESOLVED,         /* ServicesResolved became true */
	LINK_EV_UNRESOLVED,       /* ServicesResolved became false, or isn't true although it used to be */
	LINK_EV_CHARACTERISTIC,   /* a measured characteristic appeared */
	LINK_EV_SUBSCRIBED,       /* StartNotify returned */
	LINK_EV_SUBSCRIBE_FAILED,
	LINK_EV_UNFIT,            /* resolved, and nothing to subscribe to */
	LINK_EV_BROADCAST,        /* heard, and known to broadcast what it measures: it isn't to be connected to */
	LINK_EV_QUIET,            /* known to be such a one, and not heard */
	LINK_EV_GONE,             /* the object, its adapter, bluetoothd or the bus went away */
	LINK_EV_WAKE,             /* wake_us has come */
};

enum link_action {
	LINK_DO_NOTHING,
	LINK_DO_CONNECT,
	LINK_DO_SUBSCRIBE,  /* StartNotify on each measured characteristic not subscribed yet */
	LINK_DO_DISCONNECT, /* the link is of no use: end it, then wait */
};

#define LINK_BACKOFF_MIN_US UINT64_C(1000000)
#define LINK_BACKOFF_MAX_US UINT64_C(60000000)
/* Connect to a silent scale fails after 41 s by itself (seen with bluetoothd 5.66); beyond this it hangs. */
#define LINK_CONNECT_LIMIT_US UINT64_C(60000000)
#define LINK_RESOLVE_LIMIT_US UINT64_C(30000000)
/* The same for a link that we didn't ask for: BlueZ knows the services of such a scale already. After a crash of
 * bluetoothd the kernel's old link can show up, of which no services will ever come (seen with 5.66). */
#define LINK_UNASKED_LIMIT_US UINT64_C(12000000)
/* Ending a link takes bluetoothd 2 to 3 s (seen with 5.66); an attempt that falls into that fails. */
#define LINK_ENDING_US UINT64_C(3000000)
/* After a link that ended: tried once without hearing the scale, as not every BlueZ reports RSSI again. */
#define LINK_AGAIN_US UINT64_C(2000000)
/* bluetoothd 5.66 can take a link that comes back at once for the old one. All that it tells then is that the services
 * aren't resolved any more, and they never are again. */
#define LINK_DOUBT_US UINT64_C(8000000)
/* A broadcaster that isn't heard for so long is away, in case that nothing else tells (facts, 7.4: an object of BlueZ's
 * that was never connected to goes after 30 s, others stay). */
#define LINK_SILENCE_US UINT64_C(300000000)
#define LINK_PACE_US UINT64_C(6000000)
#define LINK_BURST_US UINT64_C(60000000)

struct link {
	enum link_state state;
	uint64_t wake_us;     /* monotonic; UINT64_MAX: no need */
	unsigned failures;    /* in a row */
	uint32_t number;      /* counts connections, or the times that a broadcaster came into reach, so that results tell
			       * one link from the next */
	uint64_t pace_us;     /* monotonic; runs ahead of the clock as attempts are spent */
	bool heard;           /* the scale was heard since the last attempt, or during this one */
	bool strict;          /* LINK_WAITING: hearing it doesn't cut the wait short */
	bool refused;         /* LINK_WAITING: nor does a link that BlueZ makes by itself, which it would at once */
	bool up;              /* LINK_WAITING: ... and has made */
	bool served;          /* it was subscribed once: what it offers is known */
	bool ending;          /* LINK_WAITING: the link before hasn't ended yet */
};

void link_init(struct link *link);
/* now_us: monotonic. Any event is legal in any state. */
enum link_action link_step(struct link *link, enum link_event event, uint64_t now_us);
/* Lower-case word of the state: "away", "seen", ... Static storage. */
const char *link_state_text(enum link_state state);
