// SPDX-License-Identifier: MIT
#pragma once
/*
 * What bismar-broker does: rows from the ledger to the broker, in order, at least once (MESSAGES.md).
 * Above: main. Below: link, ledger, window, position, message, again; contrib/client/peer.
 */
#include "contrib/broker/link.h"
#include "contrib/broker/name.h"

struct bridge;

/* All is borrowed, and lives as long as the bridge. */
struct bridge_setup {
	struct link_setup link;    /* will, will_topic, hear and client are filled in by bridge_new() */
	const char *bridge, *base; /* names that name.h finds well */
	const char *database, *socket, *state;
	int rate;  /* rows a second at most; 0: as many as the broker takes */
	bool once; /* ends the loop when all is out (0), or when that can't be (1) */
};

/* What is wrong is told in the log. 0 or -errno. */
int bridge_new(struct bridge **ret, sd_event *event, const struct bridge_setup *setup);
/* After the loop: says goodbye, and keeps the position. Takes NULL, returns NULL. */
struct bridge *bridge_free(struct bridge *bridge);
