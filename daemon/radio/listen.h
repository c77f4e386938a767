// SPDX-License-Identifier: MIT
#pragma once
/*
 * Scales that broadcast instead of being connected to: what they say becomes ops.frame. Above: radio.c, scale.c.
 * Below: broadcast.c, mirror.c. scale.c decides who is listened to, and keeps such a scale from being connected to.
 *
 * Data are read from the message that brings them, never from what the object shows later: adverts of several kinds
 * overwrite each other there (facts, 7.3).
 */
#include "broadcast.h"

struct mirror;
struct mirror_device;
struct scale;

/* One scale's. All zero at first. */
struct listen {
	struct broadcast_memory memory;
	struct broadcast_rate rate;
	uint64_t heard_us; /* monotonic; when it was last known to be there */
};

/* Its scale deals with this object from now on. */
void listen_meet(struct mirror_device *device);
/* It was heard; after listen_meet(). */
void listen_heard(struct scale *scale);

/* Each after the mirror and the scales have been told of the same message, and while no call of our owner's is under
 * way. The first two: signals of a device's; the last: the answer to GetManagedObjects. */
void listen_changed(struct mirror *mirror, DBusMessage *signal);
void listen_added(struct mirror *mirror, DBusMessage *signal);
void listen_tree(struct mirror *mirror, DBusMessage *reply);
