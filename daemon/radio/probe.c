// SPDX-License-Identifier: MIT
#include "probe.h"
#include "gatt.h"
#include "objects.h"
#include "wake.h"
#include "daemon/limits.h"
#include "daemon/log.h"
#include "protocols/bytes.h"
#include "protocols/formats.h"
#include <ctype.h>
#include <errno.h>

#define LOOK_US UINT64_C(500000)
#define PRESENTATION_FORMAT 0x2904
#define AGGREGATE_FORMAT 0x2905

struct probe_item {
	char *path;
	char uuid[MIRROR_UUID_SIZE];
	bool descriptor, described;
	bool notifies, indicates, reads, writes;
	struct presentation description; /* of a descriptor: what it says */
};

static void clear(struct probe *probe)
{
	for (size_t i = 0; i < probe->n_items; i++)
		free(probe->items[i].path);
	free(probe->items);
	probe->items = NULL;
	probe->n_items = probe->at = 0;
}

/* Ends; a link that was made for it ends as well, unless the scale has been adopted meanwhile. */
static void forget(struct probe *probe)
{
	wake_at(probe->timer, UINT64_MAX);
	wake_at(probe->limit, UINT64_MAX);
	bus_cancel(&probe->call);
	if (probe->made && probe->path && !probe->adopted(probe->owner, probe->address))
		bus_send(probe->bus, bus_method(probe->bus, probe->path, MIRROR_DEVICE, "Disconnect"));
	probe->step = PROBE_IDLE;
	probe->made = probe->scans = false;
	free(probe->path);
	probe->path = NULL;
}

static void finish(struct probe *probe, bool ok)
{
	forget(probe);
	clear(probe);
	log_debug("radio: probe of %s %s", probe->address, ok ? "done" : "failed");
	if (probe->ops->offer)
		probe->ops->offer(probe->userdata, probe->address, NULL, ok);
}

/* ---- the tree of objects ---- */

struct sight {
	bool there, connected, resolved;
	int rank;
};

static void read_sight(DBusMessageIter *properties, struct sight *sight)
{
	DBusMessageIter dict, value;
	const char *key;
	int16_t rssi;

	*sight = (struct sight){ .there = true };
	if (!dict_enter(properties, &dict))
		return;
	while (dict_next(&dict, &key, &value)) {
		if (strcmp(key, "Connected") == 0)
			(void)dict_flag(&value, &sight->connected); /* another type tells nothing */
		else if (strcmp(key, "ServicesResolved") == 0)
			(void)dict_flag(&value, &sight->resolved);
		else if (strcmp(key, "RSSI") == 0 && dict_i16(&value, &rssi))
			sight->rank = 1;
	}
	if (sight->connected)
		sight->rank = 2;
}

/* The best of its objects, which may stand under several adapters. */
static struct sight find_device(struct probe *probe, DBusMessage *reply)
{
	DBusMessageIter at, objects, interfaces, properties;
	struct sight best = { .rank = -1 }, sight;
	char address[RADIO_ADDRESS_SIZE];
	const char *path, *best_path = NULL;

	if (!dbus_message_iter_init(reply, &at) || !dict_enter(&at, &objects))
		return best;
	while (dict_next(&objects, &path, &interfaces)) {
		if (!dbus_validate_path(path, NULL) || !dict_find(&interfaces, MIRROR_DEVICE, &properties) ||
		    !mirror_address_of(path, &properties, address) || strcmp(address, probe->address) != 0)
			continue;
		read_sight(&properties, &sight);
		if (sight.rank > best.rank) {
			best = sight;
			best_path = path;
		}
	}
	if (best_path && (!probe->path || strcmp(best_path, probe->path) != 0)) {
		free(probe->path);
		probe->path = strdup(best_path);
		probe->made = false; /* a link under another adapter isn't the one that we made */
	}
	best.there = best.there && probe->path;
	return best;
}

static void read_item(struct probe *probe, const char *path, DBusMessageIter *properties, bool descriptor)
{
	struct probe_item *item = &probe->items[probe->n_items];
	DBusMessageIter dict, value;
	const char *key, *text;

	*item = (struct probe_item){ .descriptor = descriptor };
	if (!dict_enter(properties, &dict))
		return;
	while (dict_next(&dict, &key, &value)) {
		if (strcmp(key, "UUID") == 0 && dict_text(&value, &text) && strlen(text) == MIRROR_UUID_SIZE - 1) {
			for (size_t i = 0; i < MIRROR_UUID_SIZE; i++)
				item->uuid[i] = (char)tolower((unsigned char)text[i]);
		} else if (strcmp(key, "Flags") == 0 && dict_is_list(&value)) {
			item->notifies = dict_lists(&value, "notify");
			item->indicates = dict_lists(&value, "indicate");
			item->reads = dict_lists(&value, "read");
			item->writes = dict_lists(&value, "write") || dict_lists(&value, "write-without-response");
		}
	}
	if (!*item->uuid)
		return;
	item->path = strdup(path);
	probe->n_items += item->path != NULL;
}

static int by_path(const void *a, const void *b)
{
	const struct probe_item *x = a, *y = b;

	return strcmp(x->path, y->path);
}

/* What lies below the device, in the scale's own order: handles stand in the paths, in hexadecimal. */
static bool read_items(struct probe *probe, DBusMessage *reply)
{
	DBusMessageIter at, objects, interfaces, properties;
	const char *path;

	clear(probe);
	probe->items = calloc(LIMIT_ATTRIBUTES, sizeof *probe->items);
	if (!probe->items || !dbus_message_iter_init(reply, &at) || !dict_enter(&at, &objects))
		return false;
	while (dict_next(&objects, &path, &interfaces) && probe->n_items < LIMIT_ATTRIBUTES) {
		if (!mirror_under(path, probe->path) || !dbus_validate_path(path, NULL))
			continue;
		if (dict_find(&interfaces, MIRROR_CHARACTERISTIC, &properties))
			read_item(probe, path, &properties, false);
		else if (dict_find(&interfaces, MIRROR_DESCRIPTOR, &properties))
			read_item(probe, path, &properties, true);
	}
	qsort(probe->items, probe->n_items, sizeof *probe->items, by_path);
	return true;
}

/* ---- telling ---- */

/* As subscribe.c sees it: with one 0x2904 and no 0x2905 a value is one number (facts, 3.2). */
static const struct presentation *description_of(const struct probe *probe, const struct probe_item *item)
{
	const struct probe_item *found = NULL;

	for (size_t i = 0; i < probe->n_items; i++) {
		const struct probe_item *one = &probe->items[i];
		uint16_t number = one->descriptor ? format_assigned_number(one->uuid) : 0;

		if (number == 0 || !mirror_under(one->path, item->path))
			continue;
		if (number == AGGREGATE_FORMAT || (number == PRESENTATION_FORMAT && found))
			return NULL;
		if (number == PRESENTATION_FORMAT)
			found = one;
	}
	return found && found->described ? &found->description : NULL;
}

static void tell(struct probe *probe)
{
	for (size_t i = 0; i < probe->n_items && probe->ops->offer; i++) {
		const struct probe_item *item = &probe->items[i];
		struct radio_offer offer = { .uuid = item->uuid,           .notifies = item->notifies,
					     .indicates = item->indicates, .reads = item->reads,
					     .writes = item->writes,       .description = description_of(probe, item) };

		if (!item->descriptor)
			probe->ops->offer(probe->userdata, probe->address, &offer, true);
	}
	finish(probe, true);
}

/* ---- the descriptions, one after the other ---- */

static void on_description(void *userdata, DBusMessage *reply);

static void read_next(struct probe *probe)
{
	for (; probe->at < probe->n_items; probe->at++) {
		const struct probe_item *item = &probe->items[probe->at];

		if (item->descriptor && format_assigned_number(item->uuid) == PRESENTATION_FORMAT &&
		    bus_call(probe->bus, gatt_read(probe->bus, item->path, MIRROR_DESCRIPTOR), -1, on_description, probe,
			     &probe->call) >= 0)
			return;
	}
	tell(probe);
}

static void on_description(void *userdata, DBusMessage *reply)
{
	struct probe *probe = userdata;
	struct probe_item *item = &probe->items[probe->at++];
	const char *name, *text;
	const uint8_t *octets;
	DBusMessageIter at;
	size_t n;

	if (!bus_failed(reply, &name, &text) && dbus_message_iter_init(reply, &at) && dict_octets(&at, &octets, &n))
		item->described = presentation_read((struct bytes){ octets, n }, &item->description);
	read_next(probe);
}

/* ---- the link ---- */

static void look_again(struct probe *probe)
{
	probe->step = PROBE_LOOKING;
	wake_in(probe->timer, LOOK_US);
}

static void on_connect(void *userdata, DBusMessage *reply)
{
	struct probe *probe = userdata;
	const char *name, *text;
	char quoted[128];

	if (bus_failed(reply, &name, &text)) {
		log_debug("radio: probe of %s: Connect: %s: %s", probe->address, name,
			  log_quote(text, quoted, sizeof quoted));
		probe->made = false;
	}
	look_again(probe);
}

static void connect_device(struct probe *probe)
{
	probe->step = PROBE_CONNECTING;
	probe->made = true;
	if (bus_call(probe->bus, bus_method(probe->bus, probe->path, MIRROR_DEVICE, "Connect"),
		     (int)(PROBE_LIMIT_US / 1000), on_connect, probe, &probe->call) < 0) {
		probe->made = false;
		look_again(probe);
	}
}

static void on_tree(void *userdata, DBusMessage *reply)
{
	struct probe *probe = userdata;
	const char *name, *text;
	struct sight sight;

	if (bus_failed(reply, &name, &text)) {
		look_again(probe);
		return;
	}
	sight = find_device(probe, reply);
	probe->scans = !sight.there || sight.rank == 0;
	if (sight.connected && sight.resolved && read_items(probe, reply)) {
		probe->step = PROBE_READING;
		read_next(probe);
	} else if (sight.there && !sight.connected && !probe->adopted(probe->owner, probe->address)) {
		connect_device(probe);
	} else {
		look_again(probe);
	}
}

static int on_look(sd_event_source *source, uint64_t at_us, void *userdata)
{
	struct probe *probe = userdata;

	(void)source, (void)at_us;
	if (bus_call(probe->bus, bus_method(probe->bus, "/", OBJECTS_MANAGER, "GetManagedObjects"), -1, on_tree, probe,
		     &probe->call) < 0)
		look_again(probe);
	return 0;
}

static int on_limit(sd_event_source *source, uint64_t at_us, void *userdata)
{
	struct probe *probe = userdata;

	(void)source, (void)at_us;
	if (probe->step == PROBE_READING)
		tell(probe); /* what is known of it by now */
	else
		finish(probe, false);
	return 0;
}

int probe_init(struct probe *probe, sd_event *event, struct bus *bus, const struct radio_ops *ops, void *userdata,
	       bool (*adopted)(void *owner, const char *address), void *owner)
{
	int r;

	*probe = (struct probe){
		.event = event, .bus = bus, .ops = ops, .userdata = userdata, .adopted = adopted, .owner = owner
	};
	r = wake_new(event, on_look, probe, &probe->timer);
	return r < 0 ? r : wake_new(event, on_limit, probe, &probe->limit);
}

void probe_done(struct probe *probe)
{
	if (probe->step != PROBE_IDLE)
		forget(probe);
	clear(probe);
	probe->timer = sd_event_source_disable_unref(probe->timer);
	probe->limit = sd_event_source_disable_unref(probe->limit);
}

int probe_begin(struct probe *probe, const char *address)
{
	if (probe->step != PROBE_IDLE)
		return -EBUSY;
	memcpy(probe->address, address, sizeof probe->address);
	probe->step = PROBE_LOOKING;
	probe->scans = true; /* until it is seen */
	wake_in(probe->timer, 0);
	wake_in(probe->limit, PROBE_LIMIT_US);
	return 0;
}

void probe_lost(struct probe *probe)
{
	if (probe->step != PROBE_IDLE)
		finish(probe, false);
}
