// SPDX-License-Identifier: MIT
#pragma once
/*
 * What the daemon tells, as events for the streams; and what a new stream is told first: whether the daemon is there,
 * and the questions that are open. Above: server.c. Below: contrib/client/peer, stream.
 */
#include "contrib/client/peer.h"
#include "contrib/page/stream.h"
#include <stdbool.h>

#define FEED_ASKS 256 /* kept for new streams; as many as the daemon has open (daemon/limits.h) */

struct feed {
	struct streams *streams; /* borrowed */
	struct peer *peer;
	json_t *asks; /* id: params, oldest first */
	char *link;   /* `link`'s data while the daemon is away */
	bool ounces;
};

/* 0 or -errno. feed isn't moved until feed_done(). */
int feed_init(struct feed *feed, sd_event *event, struct streams *streams, const char *socket, bool ounces);
/* Takes a zeroed one too. Requests under way are lost first, see peer_free(). */
void feed_done(struct feed *feed);
/* What a new stream is told first. */
void feed_greet(const struct feed *feed, struct stream *stream);
