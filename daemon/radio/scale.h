// SPDX-License-Identifier: MIT
#pragma once
/*
 * One adopted scale: what its device object tells becomes events for the state machine of its link
 * (link.c), and the actions of that become calls. scale.c has the link, subscribe.c what happens on
 * it, listen.c what is made of broadcasts. Above: radio.c. Below: mirror.c, bus.c, link.c.
 *
 * Whatever broadcasts what may be a mass, and hasn't shown that it is to be connected to, is listened to
 * alone and never connected to. That is known as soon as BlueZ shows the data; until then a device that
 * announces nothing is connected to like any other, and the attempt ends when it starts to broadcast.
 */
#include "bus.h"
#include "listen.h"
#include "mirror.h"

/* What a scale needs around it; the owner outlives all scales. */
struct scale_host {
	sd_event *event;
	struct bus *bus;
	struct mirror *mirror;
	const struct radio_ops *ops;
	void *userdata; /* of ops */
	/* A link changed its state. Called from inside the scale: only note it. */
	void (*changed)(struct scale_host *host);
	/* Read the tree of objects again. */
	void (*reload)(struct scale_host *host);
	/* Keep discovery off this device's adapter for a while, or no longer. */
	void (*pause)(struct scale_host *host, const struct mirror_device *device, bool pause);
};

struct scale {
	struct scale *next;
	struct scale_host *host;
	char address[RADIO_ADDRESS_SIZE];
	bool forgotten; /* stopped; waits to be freed */
	struct link link;
	struct mirror_device
		*device; /* the one object we deal with; NULL: none in reach of a powered adapter */
	sd_event_source *timer; /* for link.wake_us */
	struct bus_call *connect;
	bool crowded, paused; /* the last attempt failed for want of the radio; discovery is off for
				 this one */
	uint64_t log_us;      /* runs ahead of the clock as log lines are spent */
	bool broadcasts;      /* has broadcast what may be a mass */
	bool connectable;     /* has announced itself as a scale to connect to, or been subscribed to */
	struct listen listen; /* listen.c's own */
	/* subscribe.c's own, of this link */
	sd_event_source *retry;
	unsigned passes;    /* how often it was looked again */
	unsigned fruitless; /* of these, how many found all services there and nothing to subscribe
			       to */
	bool complete;      /* Connect has returned: all services are there */
	bool reread;        /* the tree has been read again */
	bool speaks;        /* a measurement came before the subscription was confirmed */
	bool stale;         /* what BlueZ thinks to be subscribed may not be */
	/* pairing; see agent.h */
	bool pairing;      /* is under way: a link isn't ended because it can't be used yet */
	bool pairing_told; /* that it is needed */
	bool bond_lost;    /* bluetoothd has keys that the scale doesn't take */
	struct {           /* current_time.c's own: what was read on this link, until it is told */
		bool waits;
		uint8_t octets[16];
		size_t n;
		int64_t received_ms;
		uint32_t link;
	} clock;
	struct { /* consent.c's own */
		enum { CONSENT_NONE, CONSENT_DUE, CONSENT_ASKING, CONSENT_WRITING, CONSENT_OVER } step;
		uint8_t index;
		unsigned code;
		sd_event_source *timer;
	} consent;
};

int scale_new(struct scale_host *host, const char *address, struct scale **ret);
/* Its devices are out of the mirror by now. Takes NULL; returns NULL. */
struct scale *scale_free(struct scale *scale);
/* Ends the link and everything under way; nothing is called back any more. For radio_forget(). */
void scale_stop(struct scale *scale);

/* Looks at what the mirror was told. */
void scale_update(struct scale *scale);
/* The mirror is about to free it. */
void scale_device_gone(struct scale *scale, struct mirror_device *device);
/* One event for the link, and what follows from it. */
void scale_feed(struct scale *scale, enum link_event event);
/* Pairing begins, which no event follows from; or has ended: what was refused before is tried again. */
void scale_pairing(struct scale *scale, bool on);
/* Something was refused for want of a bond, or with a bond that the scale has lost: tells ops.pairing, once. */
void scale_needs_pairing(struct scale *scale);

/* subscribe.c */

/* Makes what it needs. 0, or -errno of sd-event. */
int subscribe_init(struct scale *scale);
/* A new link: nothing is known of it. */
void subscribe_begin(struct scale *scale);
/* Asks for whatever there is still to ask, and tells the link what has come of it. */
void subscribe_look(struct scale *scale);
/* The same, and asks again what BlueZ was too busy for: the link has got further, or time has gone by. */
void subscribe_news(struct scale *scale);
/* What was refused on this link is asked for again. */
void subscribe_again(struct scale *scale);
/* The link is over: answers aren't wanted any more. */
void subscribe_end(struct scale *scale);
/* A Value was signalled. Calls ops.frame first of all when it is a measurement. */
void subscribe_value(struct scale *scale, struct mirror_attribute *attribute, const uint8_t *octets,
		     size_t n, int64_t received_ms);
