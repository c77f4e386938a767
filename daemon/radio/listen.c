// SPDX-License-Identifier: MIT
#include "listen.h"
#include "scale.h"
#include "wake.h"
#include "daemon/limits.h"
#include "daemon/log.h"

void listen_meet(struct mirror_device *device)
{
	struct scale *scale = device->scale;

	if (!device->met)
		broadcast_meet(&scale->listen.memory, scale->listen.heard_us, wake_now(scale->host->event));
	device->met = true;
}

void listen_heard(struct scale *scale)
{
	scale->listen.heard_us = wake_now(scale->host->event);
}

static bool is_listened_to(const struct mirror_device *device)
{
	const struct scale *scale = device->scale;

	return !scale->forgotten && scale->device == device && scale->link.state == LINK_LISTENING;
}

static bool has_room(struct scale *scale)
{
	switch (broadcast_count(&scale->listen.rate, wake_now(scale->host->event))) {
	case BROADCAST_TAKE:
		return true;
	case BROADCAST_TAKE_AGAIN:
		log_event(LOG_EVENT_SCALE_FLOOD_OVER, LOG_INFO, "BISMAR_SCALE", scale->address,
			  "scale %s: its broadcasts are all taken again", scale->address);
		return true;
	case BROADCAST_DROP:
		return false;
	case BROADCAST_DROP_FIRST:
		log_event(LOG_EVENT_SCALE_FLOOD, LOG_WARNING, "BISMAR_SCALE", scale->address,
			  "scale %s broadcasts more than %d times a second; the rest is dropped, ignoring", scale->address,
			  LIMIT_BROADCASTS_PER_S);
		return false;
	}
	return false;
}

static void take(struct scale *scale, const struct broadcast_part *part)
{
	const struct radio_ops *ops = scale->host->ops;
	struct radio_frame frame = {
		.address = scale->address,
		.kind = part->kind,
		.uuid = part->uuid,
		.octets = part->octets,
		.n = part->n,
		.link = scale->link.number,
	};
	struct timespec now;

	if (broadcast_known(&scale->listen.memory, part) || !has_room(scale))
		return;
	broadcast_keep(&scale->listen.memory, part);
	(void)clock_gettime(CLOCK_REALTIME, &now); /* always there on Linux */
	frame.received_ms = (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
	if (ops->frame)
		ops->frame(scale->host->userdata, &frame);
}

/*
 * An entry as it was counts as a repeat, whether BlueZ tells of it because another has changed, or because somebody
 * wants repeats: with our filter it tells of changes alone (facts, 7.3).
 * alive: these octets were heard just now, or are all that we will get to know of what is heard now. Else they may be
 * days old, and are only kept, so that they aren't taken for news later.
 */
static void read_data(struct mirror_device *device, DBusMessageIter *properties)
{
	struct scale *scale = device->scale;
	DBusMessageIter dict, value;
	struct broadcast_walk walk;
	struct broadcast_part part;
	bool alive = is_listened_to(device);
	const char *key;

	if (scale->forgotten || scale->device != device || !dict_enter(properties, &dict))
		return;
	while (dict_next(&dict, &key, &value)) {
		if (!broadcast_enter(key, &value, &walk))
			continue;
		while (broadcast_next(&walk, &part)) {
			if (!broadcast_wanted(scale->host->ops, scale->host->userdata, &part))
				continue;
			if (!alive)
				broadcast_keep(&scale->listen.memory, &part);
			else if (is_listened_to(device)) /* its owner may forget it in between */
				take(scale, &part);
		}
	}
}

static void read_at(struct mirror *mirror, const char *path, DBusMessageIter *properties)
{
	for (struct mirror_device *at = mirror->devices; at; at = at->next)
		if (strcmp(at->path, path) == 0) {
			read_data(at, properties);
			return;
		}
}

void listen_changed(struct mirror *mirror, DBusMessage *signal)
{
	const char *path = dbus_message_get_path(signal), *interface;
	DBusMessageIter at;

	if (path && dbus_message_iter_init(signal, &at) && dict_text(&at, &interface) &&
	    strcmp(interface, MIRROR_DEVICE) == 0 && dbus_message_iter_next(&at))
		read_at(mirror, path, &at);
}

void listen_added(struct mirror *mirror, DBusMessage *signal)
{
	DBusMessageIter at, properties;
	const char *path;

	if (dbus_message_iter_init(signal, &at) && dict_path(&at, &path) && dbus_message_iter_next(&at) &&
	    dict_find(&at, MIRROR_DEVICE, &properties))
		read_at(mirror, path, &properties);
}

void listen_tree(struct mirror *mirror, DBusMessage *reply)
{
	DBusMessageIter at, objects, interfaces, properties;
	const char *path;

	if (!dbus_message_iter_init(reply, &at) || !dict_enter(&at, &objects))
		return;
	while (dict_next(&objects, &path, &interfaces))
		if (dict_find(&interfaces, MIRROR_DEVICE, &properties))
			read_at(mirror, path, &properties);
}
