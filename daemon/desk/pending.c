// SPDX-License-Identifier: MIT
#include "daemon/desk/pending.h"
#include <errno.h>
#include <systemd/sd-event.h>

int pending_add(struct pending *pending, const struct radio_frame *frame)
{
	struct pending_frame *kept;

	if (pending->n >= LIMIT_PENDING_FRAMES)
		return -ENOSPC;
	kept = calloc(1, sizeof *kept + frame->n);
	if (!kept)
		return -ENOMEM;
	kept->frame = *frame;
	(void)snprintf(kept->address, sizeof kept->address, "%s", frame->address);
	(void)snprintf(kept->uuid, sizeof kept->uuid, "%s", frame->uuid);
	if (frame->n)
		memcpy(kept->octets, frame->octets, frame->n);
	kept->frame.address = kept->address;
	kept->frame.uuid = kept->uuid;
	kept->frame.octets = kept->octets;
	if (frame->description) {
		kept->description = *frame->description;
		kept->frame.description = &kept->description;
	}
	if (pending->last)
		pending->last->next = kept;
	else
		pending->first = kept;
	pending->last = kept;
	pending->n++;
	return 0;
}

void pending_drop(struct pending *pending)
{
	struct pending_frame *first = pending->first;

	if (!first)
		return;
	pending->first = first->next;
	if (!pending->first)
		pending->last = NULL;
	pending->n--;
	free(first);
}

void pending_done(struct pending *pending)
{
	while (pending->first)
		pending_drop(pending);
	pending->timer = sd_event_source_disable_unref(pending->timer);
}
