// SPDX-License-Identifier: MIT
#pragma once
/*
 * Frames that came while the ledger couldn't be written (a full disk, a lock): kept in memory, in order, and tried
 * again. bluetoothd has confirmed them to the scale already; this is their only copy.
 * Above: desk.c. Below: nothing.
 */
#include "daemon/limits.h"
#include "daemon/radio/radio.h"
#include "protocols/presentation.h"

struct pending_frame {
	struct pending_frame *next;
	struct radio_frame frame; /* its pointers lead into the members below */
	char address[RADIO_ADDRESS_SIZE];
	char uuid[37];
	struct presentation description;
	uint8_t octets[];
};

struct pending {
	struct pending_frame *first, *last;
	size_t n;
	size_t lost; /* of those that found no room */
	struct sd_event_source *timer; /* runs while n > 0 */
};

/* Copies the frame to the end. -ENOMEM, -ENOSPC at LIMIT_PENDING_FRAMES. */
int pending_add(struct pending *pending, const struct radio_frame *frame);
/* Removes the first one. */
void pending_drop(struct pending *pending);
void pending_done(struct pending *pending);
