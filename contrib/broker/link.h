// SPDX-License-Identifier: MIT
#pragma once
/*
 * The connection to the broker: libmosquitto on an sd-event loop. It comes back by itself, after 1 s at first and 60 s
 * at last, and says once what keeps it away.
 * Above: bridge. Below: libmosquitto (MQTT 3.1.1), sd-event.
 *
 * Each connection is a new client with a clean session: libmosquitto would send what was in flight once more by itself,
 * out of our order; here whoever is above goes on where the broker has acknowledged. The client identifier stays, so
 * that the broker ends an older connection of ours, and publishes its will, before this one begins.
 */
#include "contrib/broker/login.h"
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <systemd/sd-event.h>

struct link;

/* All is borrowed, and lives as long as the link. */
struct link_setup {
	const struct login *login; /* finished */
	const char *client;        /* the client identifier */
	const char *will_topic, *will;
	const char *hear; /* the topic that is subscribed to; NULL: none */
	int patience_s;   /* how long the broker may take */
	bool once;        /* it isn't tried again */
};

/* user is link_new()'s. None may free the link. */
struct link_calls {
	void (*up)(void *user);
	/* It was up, or wasn't yet; why is told in the log. */
	void (*down)(void *user);
	void (*acked)(void *user, int mid);
	void (*heard)(void *user, const void *octets, size_t n);
	/* Something may have come: what can be done now? From the loop, never from within link_*(). */
	void (*turn)(void *user);
};

/* The first attempt is made from the loop. 0, -ENOMEM, or what sd_event_add_*() returns. */
int link_new(struct link **ret, sd_event *event, const struct link_setup *setup, const struct link_calls *calls,
	     void *user);
/* Takes NULL, returns NULL. */
struct link *link_free(struct link *link);
bool link_is_up(const struct link *link);
/* QoS 1; text is copied. 0; -ENOTCONN: it is gone, or goes now, and down() tells from the loop. */
int link_publish(struct link *link, const char *topic, const char *text, size_t n, bool retain, int *ret_mid);
/* The broker does what it shouldn't: the connection is given up, and another is made later. */
void link_give_up(struct link *link, const char *why);
/* What is asked of the broker gets on: the next attempt may come soon again. */
void link_is_well(struct link *link);
/* The end: a last retained message is sent, and acknowledged within two seconds, or not. Not from a call of the link's.
 */
void link_finish(struct link *link, const char *topic, const char *text, size_t n);
