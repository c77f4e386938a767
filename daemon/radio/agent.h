// SPDX-License-Identifier: MIT
#pragma once
/*
 * Pairing with one adopted scale because a person asked for it: radio_pair(). While it runs, and no longer, an
 * org.bluez.Agent1 object of ours stands on the bus; it is never the default agent, and answers nobody but the owner of
 * org.bluez, and about no device but the one asked for (facts, 7.8). Above: radio.c. Below: bus.c, scale.c.
 *
 * It waits for the link that scale.c makes, then calls Pair on it; scale.c keeps such a link alive meanwhile. A scale that
 * lost its bond is removed from bluetoothd's memory first: Pair says only that it is paired.
 */
#include "scale.h"

#define AGENT_LIMIT_US UINT64_C(60000000)

enum agent_step {
	AGENT_IDLE,
	AGENT_WAITING,     /* for a link with the scale */
	AGENT_REGISTERING, /* RegisterAgent is under way */
	AGENT_PAIRING,     /* Pair is under way */
};

struct agent {
	struct scale_host *host;
	struct scale *scale;     /* NULL: idle */
	enum agent_step step;
	sd_event_source *timer;  /* the end of all patience */
	struct bus_call *call;
	DBusMessage *question;   /* RequestPasskey or RequestConfirmation that waits for a person, or NULL */
	bool shown;              /* passkey_shown was told */
	uint32_t passkey_shown;
	char *path;              /* of the device that Pair was called on; or NULL */
};

/* host outlives it. 0, or -errno of sd-event. */
int agent_init(struct agent *agent, struct scale_host *host);
/* Ends it without a word. */
void agent_done(struct agent *agent);

/* Begins. -EBUSY when one pairing is under way. agent_update() has to follow, from the loop. */
int agent_begin(struct agent *agent, struct scale *scale);
/* Looks how far the scale is. Never from inside a call of our owner's: it may tell ops.pairing. */
void agent_update(struct agent *agent);
/* The person's answer; as radio_pair_answer(). */
int agent_answer(struct agent *agent, bool yes, uint32_t passkey);
/* Answers a call for our object; false when it isn't for it. */
bool agent_method(struct agent *agent, DBusMessage *message);
/* org.bluez has gone: pairing has failed. */
void agent_lost(struct agent *agent);

/* What an error of Pair means, and what to do, for people. Static storage. */
const char *agent_error_text(const char *name);
