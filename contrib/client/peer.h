// SPDX-License-Identifier: MIT
#pragma once
/*
 * A lasting client of the prompt socket (protocol 1) on an sd-event loop: it connects, follows its topics, hands out
 * notifications and replies, and comes back by itself when the daemon does.
 * Above: contrib/page, contrib/keypad, contrib/speak. Below: daemon/ctl/socket, sd-event.
 *
 * Nothing is asked twice: a request that was under way when the connection ended is told as PEER_LOST, whether the
 * daemon did it or not; what it recorded is in the database.
 */
#include <jansson.h>
#include <stdbool.h>
#include <stdint.h>
#include <systemd/sd-event.h>

struct peer;

/* Each may be NULL. user is peer_new()'s. None may free the peer. */
struct peer_calls {
	/* Connected, and the topics are followed; the open asks come next, as notices. */
	void (*up)(void *user);
	/* Nobody answers; say tells people what to do. Once, until it is up again. Also at the start if nobody listens.
	 */
	void (*down)(void *user, const char *say);
	/* A notification; params is borrowed. */
	void (*notice)(void *user, const char *topic, const json_t *params);
};

/*
 * topics ends with NULL; of those the daemon doesn't know none is followed (an older daemon: down() tells). The path
 * and the topics are copied. The first attempt is made from the loop, not in here. 0, -ENOMEM, or what sd_event_add_*()
 * returns.
 */
int peer_new(struct peer **ret, sd_event *event, const char *path, const char *const topics[],
	     const struct peer_calls *calls, void *user);
/* Takes NULL, returns NULL. Requests under way get PEER_LOST first. */
struct peer *peer_free(struct peer *peer);
bool peer_is_up(const struct peer *peer);

enum peer_outcome {
	PEER_RESULT = 0, /* body is the result */
	PEER_REFUSED,    /* body is the error object: code, message, data {code, hint} */
	PEER_LOST /* body is NULL: the connection ended before a reply, or it took longer than SOCKET_PATIENCE_MS */
};
/* Called once for each request that was sent. body is borrowed. It may send further requests. */
typedef void (*peer_reply)(void *user, enum peer_outcome outcome, const json_t *body);

/*
 * Sends a request. params is stolen, NULL is none. reply may be NULL. 0; -ENOTCONN while it isn't up; -ENOMEM; what
 * socket_send() returns, and then the connection is ended. reply isn't called unless 0 was returned.
 */
int peer_request(struct peer *peer, const char *method, json_t *params, peer_reply reply, void *user);
