// SPDX-License-Identifier: MIT
#include "daemon/desk/pending.h"
#include <errno.h>
#include <systemd/sd-event.h>

struct frame_copy *frame_copy(const struct radio_frame *frame)
{
	struct frame_copy *copy = calloc(1, sizeof *copy + frame->n);

	if (!copy)
		return NULL;
	copy->frame = *frame;
	(void)snprintf(copy->address, sizeof copy->address, "%s", frame->address);
	(void)snprintf(copy->uuid, sizeof copy->uuid, "%s", frame->uuid);
	if (frame->n)
		memcpy(copy->octets, frame->octets, frame->n);
	copy->frame.address = copy->address;
	copy->frame.uuid = copy->uuid;
	copy->frame.octets = copy->octets;
	if (frame->description) {
		copy->description = *frame->description;
		copy->frame.description = &copy->description;
	}
	return copy;
}

void pending_free(struct pending_passage *kept)
{
	free(kept->frame);
	free(kept);
}

int pending_add(struct pending *pending, const struct passage *passage)
{
	struct pending_passage *kept;

	if (pending->n >= LIMIT_PENDING_FRAMES)
		return -ENOSPC;
	kept = calloc(1, sizeof *kept);
	if (!kept)
		return -ENOMEM;
	kept->frame = frame_copy(passage->frame);
	if (!kept->frame) {
		pending_free(kept);
		return -ENOMEM;
	}
	kept->passage = *passage;
	kept->passage.scale = NULL;
	kept->passage.frame = &kept->frame->frame;
	kept->passage.n_before = 0;
	kept->passage.before = NULL;
	(void)snprintf(kept->scale_id, sizeof kept->scale_id, "%s", passage->scale->id);
	if (passage->why) {
		(void)snprintf(kept->why, sizeof kept->why, "%s", passage->why);
		kept->passage.why = kept->why;
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
	struct pending_passage *first = pending->first;

	if (!first)
		return;
	pending->first = first->next;
	if (!pending->first)
		pending->last = NULL;
	pending->n--;
	pending_free(first);
}

void pending_done(struct pending *pending)
{
	while (pending->first)
		pending_drop(pending);
	pending->timer = sd_event_source_disable_unref(pending->timer);
}
