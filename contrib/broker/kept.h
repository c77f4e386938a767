// SPDX-License-Identifier: MIT
#pragma once
/*
 * Keeps how far the broker has come: for which broker and topics, once a second at most, and says in the log when it
 * can't. Above: bridge. Below: position.
 */
#include "contrib/broker/bridge.h"
#include "contrib/broker/name.h"
#include "contrib/broker/position.h"

#define KEPT_NEVER INT64_MAX

struct kept {
	const char *folder; /* borrowed */
	int dir;
	char to[NAME_SIZE + 320];
	bool unsaved; /* set by whoever moves a lane */
	bool told;    /* that it can't be kept */
	int64_t saved_ms;
};

/* Opens setup's folder and begins the lanes where they were. 0 or position_open()'s -errno, told in the log; then, too,
 * kept_close() follows. */
int kept_open(struct kept *kept, const struct bridge_setup *setup, struct lane lanes[LOG_KINDS]);
/* When it must be saved, on the clock of now_ms; KEPT_NEVER: all is. */
int64_t kept_due_ms(const struct kept *kept);
void kept_save(struct kept *kept, const struct lane lanes[LOG_KINDS], int64_t now_ms);
/* Saves what isn't. */
void kept_close(struct kept *kept, const struct lane lanes[LOG_KINDS]);
