// SPDX-License-Identifier: MIT
#pragma once
/*
 * One connection: lines in, lines out, their queue and its cap.
 * Above: prompt.c. Below: sd-event, rpc.h.
 *
 * A client that is done with (closed by the peer, too slow, out of memory) closes its socket at once, but stays in
 * memory until client_free(), because that may happen within one of its own lines' handlers. It takes no more lines
 * and drops what is sent to it.
 * Buffers exist while there is something in them. While more than half of LIMIT_QUEUE_BYTES waits for a client,
 * nothing is read from it, so replies are bounded by what one line can ask for.
 */
#include "rpc.h"

struct client;
struct sd_event;

struct client_host {
	struct sd_event *event;
	const struct rpc_service *service;
	/* Sends the open asks to this client, as CLIENT_DUE. */
	void (*snapshot)(void *userdata, struct client *client);
	/* It is done with: to be freed, but not before this returns to the loop. */
	void (*gone)(void *userdata);
	void *userdata;
};

enum client_kind {
	CLIENT_DUE,    /* a reply or an open ask: goes on top of LIMIT_QUEUE_BYTES */
	CLIENT_NOTICE, /* closes a client for which LIMIT_QUEUE_BYTES wait */
};

/* Takes over fd (non-blocking, close-on-exec) when it returns 0. host is borrowed. 0, or -errno. */
int client_new(const struct client_host *host, int fd, struct client **ret);
/* Takes NULL; returns NULL. */
struct client *client_free(struct client *client);

/* False once it is done with. */
bool client_is_open(const struct client *client);
const struct rpc_caller *client_caller(const struct client *client);
/* It couldn't be told something: it is closed, and comes back to what is open. */
void client_lose(struct client *client);
/* Sends whole lines. */
void client_send(struct client *client, const char *lines, size_t n, enum client_kind kind);
