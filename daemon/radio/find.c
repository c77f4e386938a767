// SPDX-License-Identifier: MIT
#include "find.h"
#include "broadcast.h"
#include "wake.h"

/* Appearance: category 50, Weight Scale, in the upper ten bits (Assigned Numbers, 2.6). */
#define APPEARANCE_CATEGORY_SHIFT 6
#define APPEARANCE_WEIGHT_SCALE 50

static bool is_reported(struct find *find, const char *address)
{
	for (size_t i = 0; i < find->n_reported; i++)
		if (strcmp(find->reported[i], address) == 0)
			return true;
	return false;
}

static bool holds_mass(const struct find *find, const char *key, DBusMessageIter *value)
{
	struct broadcast_walk walk;
	struct broadcast_part part;

	if (!broadcast_enter(key, value, &walk))
		return false;
	while (broadcast_next(&walk, &part))
		if (broadcast_wanted(find->ops, find->userdata, &part))
			return true;
	return false;
}

/* false: doesn't look like a scale. */
static bool read_device(const struct find *find, DBusMessageIter *properties, struct radio_found *found,
			bool *ret_connected)
{
	DBusMessageIter dict, value;
	uint16_t appearance = 0;
	int16_t rssi;
	const char *key;

	if (!dict_enter(properties, &dict))
		return false;
	while (dict_next(&dict, &key, &value)) {
		if (strcmp(key, "Name") == 0)
			(void)dict_text(&value, &found->name); /* another type: no name */
		else if (strcmp(key, "Connected") == 0)
			(void)dict_flag(&value, ret_connected);
		else if (strcmp(key, "Appearance") == 0)
			(void)dict_u16(&value, &appearance);
		else if (strcmp(key, "RSSI") == 0 && dict_i16(&value, &rssi))
			found->rssi_dbm = rssi;
		else if (strcmp(key, "UUIDs") == 0) {
			found->weight_scale = dict_lists(&value, MIRROR_WEIGHT_SCALE);
			found->body_composition = dict_lists(&value, MIRROR_BODY_COMPOSITION);
		} else if (holds_mass(find, key, &value))
			found->broadcast = true;
	}
	return found->weight_scale || found->body_composition || found->broadcast ||
	       appearance >> APPEARANCE_CATEGORY_SHIFT == APPEARANCE_WEIGHT_SCALE;
}

static void look(struct find *find, const char *path, DBusMessageIter *properties, bool present)
{
	struct radio_found found = { .name = "", .rssi_dbm = INT16_MIN };
	char address[RADIO_ADDRESS_SIZE];

	if (!mirror_address_of(path, properties, address) || is_reported(find, address) ||
	    !read_device(find, properties, &found, &present))
		return;
	if (found.rssi_dbm == INT16_MIN && !present)
		return; /* BlueZ remembers it; it may be miles away */
	if (find->n_reported == FIND_REPORTED_MAX)
		return;
	memcpy(find->reported[find->n_reported++], address, sizeof address);
	found.address = address;
	if (find->ops->found)
		find->ops->found(find->userdata, &found);
}

static int on_timer(sd_event_source *source, uint64_t at_us, void *userdata)
{
	struct find *find = userdata;

	(void)source, (void)at_us;
	find->closing = true;
	objects_read(find->objects);
	if (!objects_pending(find->objects))
		find_end(find);
	return 0;
}

int find_init(struct find *find, sd_event *event, struct objects *objects,
	      const struct mirror *mirror, const struct radio_ops *ops, void *userdata)
{
	*find = (struct find){
		.objects = objects, .mirror = mirror, .ops = ops, .userdata = userdata
	};
	return wake_new(event, on_timer, find, &find->timer);
}

void find_done(struct find *find)
{
	find->running = false;
	find->timer = sd_event_source_disable_unref(find->timer);
}

void find_begin(struct find *find, unsigned seconds)
{
	uint64_t end_us =
		wake_now(sd_event_source_get_event(find->timer)) + seconds * UINT64_C(1000000);

	if (!find->running || end_us > find->end_us)
		find->end_us = end_us;
	find->running = true;
	find->closing = false;
	find->n_reported = 0;
	wake_at(find->timer, find->end_us);
}

static void look_at_all(struct find *find, DBusMessage *reply)
{
	DBusMessageIter at, objects, interfaces, properties;
	const char *path;

	if (!dbus_message_iter_init(reply, &at) || !dict_enter(&at, &objects))
		return;
	/* at the end of the window a device without RSSI is told of too: some implementations never
	 * give it */
	while (dict_next(&objects, &path, &interfaces))
		if (dict_find(&interfaces, MIRROR_DEVICE, &properties))
			look(find, path, &properties, find->closing);
}

void find_tree(struct find *find, DBusMessage *reply)
{
	if (find->running && reply)
		look_at_all(find, reply);
	if (find->closing && !objects_pending(find->objects))
		find_end(find);
}

void find_added(struct find *find, DBusMessage *signal)
{
	DBusMessageIter at, properties;
	const char *path;

	if (find->running && dbus_message_iter_init(signal, &at) && dict_path(&at, &path) &&
	    dbus_message_iter_next(&at) && dict_find(&at, MIRROR_DEVICE, &properties))
		look(find, path, &properties, true);
}

void find_end(struct find *find)
{
	bool running = find->running;

	find->running = false;
	find->closing = false;
	wake_at(find->timer, UINT64_MAX);
	if (running && find->ops->find_done)
		find->ops->find_done(find->userdata);
}
