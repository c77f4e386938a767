// SPDX-License-Identifier: MIT
#pragma once
/*
 * Results that came while the ledger couldn't be written (a full disk, a lock): kept in memory, in order, and tried
 * again. bluetoothd has confirmed them to the scale already; this is their only copy.
 * Above: desk.c. Below: nothing.
 */
#include "daemon/desk/passage.h"
#include "daemon/limits.h"
#include "protocols/presentation.h"

/* A frame with all that it points to, for as long as one needs it. */
struct frame_copy {
	struct radio_frame frame; /* its pointers lead into the members below */
	char address[RADIO_ADDRESS_SIZE];
	char uuid[37];
	struct presentation description;
	uint8_t octets[];
};

/* NULL without memory; free() frees it. */
struct frame_copy *frame_copy(const struct radio_frame *frame);

struct pending_passage {
	struct pending_passage *next;
	struct passage passage; /* scale is NULL: its id is below, the roster moves */
	char scale_id[UUID7_SIZE];
	char why[192];
	struct frame_copy *frame;
};

struct pending {
	struct pending_passage *first, *last;
	size_t n;
	size_t lost; /* of those that found no room */
	struct sd_event_source *timer; /* runs while n > 0 */
};

/* Copies the passage to the end; of a stream only its last frame. -ENOMEM, -ENOSPC at LIMIT_PENDING_FRAMES. */
int pending_add(struct pending *pending, const struct passage *passage);
/* Removes the first one. */
void pending_drop(struct pending *pending);
/* One that is out of its list. */
void pending_free(struct pending_passage *kept);
void pending_done(struct pending *pending);
