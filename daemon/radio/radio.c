// SPDX-License-Identifier: MIT
#include "radio.h"
#include "agent.h"
#include "bus.h"
#include "consent.h"
#include "discovery.h"
#include "find.h"
#include "listen.h"
#include "mirror.h"
#include "objects.h"
#include "probe.h"
#include "profile.h"
#include "rules.h"
#include "scale.h"
#include "trouble.h"
#include "wake.h"
#include "daemon/limits.h"
#include "daemon/log.h"
#include <errno.h>

#define FIND_MAX_S 120

struct radio {
	struct scale_host host; /* what the scales see of us */
	sd_event *event;
	struct radio_ops ops;
	void *userdata;
	struct bus *bus;
	struct mirror mirror;
	struct objects objects;
	struct scale *scales;
	struct discovery discovery;
	struct find find;
	struct agent agent;
	struct probe probe;
	struct rules rules;
	sd_event_source *defer; /* what a call of our owner's leaves to do */
	bool reload;            /* ... read the tree */
	bool rescaled;          /* scales came or went: the rules change */
	struct trouble trouble;
};

static void settle(struct radio *radio);

static void soon(struct radio *radio)
{
	/* needs no memory, can't fail */
	(void)sd_event_source_set_enabled(radio->defer, SD_EVENT_ONESHOT);
}

/* The tree of objects was read, or couldn't be. */
static void on_tree(void *userdata, DBusMessage *reply)
{
	struct radio *radio = userdata;

	find_tree(&radio->find, reply);
	settle(radio);
	if (reply && radio->objects.loaded)
		listen_tree(&radio->mirror, reply);
}

/* Brings everything in line with what is known now. Never from inside a call of our owner's. */

static bool wants_scan(const struct radio *radio)
{
	if (radio->find.running || radio->probe.scans)
		return true;
	for (const struct scale *at = radio->scales; at; at = at->next)
		if (!at->forgotten && at->link.state != LINK_RESOLVING &&
		    at->link.state != LINK_SUBSCRIBED)
			return true;
	return false;
}

static bool has_scale(const struct radio *radio)
{
	for (const struct scale *at = radio->scales; at; at = at->next)
		if (!at->forgotten)
			return true;
	return false;
}

static void settle(struct radio *radio)
{
	if (radio->objects.loaded && (radio->mirror.reshaped || radio->rescaled)) {
		radio->mirror.reshaped = false;
		radio->rescaled = false;
		if (rules_update(&radio->rules, &radio->mirror, radio->scales))
			objects_read(&radio->objects);
	}
	for (struct scale *at = radio->scales; at && radio->objects.loaded; at = at->next)
		scale_update(at);
	if (radio->objects.loaded) {
		discovery_update(&radio->discovery, wants_scan(radio));
		profile_update(radio->bus, &radio->mirror, has_scale(radio));
	}
	agent_update(&radio->agent);
	if (trouble_update(&radio->trouble, radio->bus, &radio->objects, &radio->mirror) &&
	    radio->ops.trouble)
		radio->ops.trouble(radio->userdata);
}

/* Frees what radio_forget() stopped: not earlier, since it may have been called from deep inside of
 * it. */
static void reap(struct radio *radio)
{
	for (struct scale **at = &radio->scales; *at;) {
		struct scale *scale = *at;

		if (!scale->forgotten) {
			at = &scale->next;
			continue;
		}
		mirror_drop_scale(&radio->mirror, scale);
		*at = scale->next;
		scale_free(scale);
	}
}

static int on_defer(sd_event_source *source, void *userdata)
{
	struct radio *radio = userdata;

	(void)source;
	agent_update(&radio->agent); /* before the scale that it's about may go */
	reap(radio);
	if (radio->reload)
		objects_read(&radio->objects);
	radio->reload = false;
	settle(radio);
	if (radio->trouble.told && radio->trouble.now != RADIO_FINE)
		find_end(&radio->find); /* nothing can be found */
	return 0;
}

/* What the bus tells */

static void on_bus_state(void *userdata, bool up)
{
	struct radio *radio = userdata;

	if (up)
		rules_tell(&radio->rules);
	settle(radio);
}

static void on_bus_owner(void *userdata, bool present)
{
	struct radio *radio = userdata;

	if (!present) {
		agent_lost(&radio->agent);
		probe_lost(&radio->probe);
	}
	objects_forget(&radio->objects);
	mirror_clear(&radio->mirror);
	if (present)
		objects_read(&radio->objects);
	else if (radio->find.closing)
		find_end(&radio->find);
	settle(radio);
}

/* A Value comes before all else: bluetoothd has told the scale that it was delivered (facts, 7.5).
 */
static void take_value(struct radio *radio, DBusMessage *message)
{
	const char *path = dbus_message_get_path(message), *interface;
	struct mirror_attribute *attribute;
	struct timespec now;
	const uint8_t *octets;
	DBusMessageIter at, value;
	size_t n;

	if (!path || !dbus_message_iter_init(message, &at) || !dict_text(&at, &interface) ||
	    strcmp(interface, MIRROR_CHARACTERISTIC) != 0 || !dbus_message_iter_next(&at))
		return;
	attribute = mirror_attribute(&radio->mirror, path);
	if (!attribute || attribute->device->scale->forgotten || !dict_find(&at, "Value", &value) ||
	    !dict_octets(&value, &octets, &n))
		return;
	(void)clock_gettime(CLOCK_REALTIME, &now); /* always there on Linux */
	subscribe_value(attribute->device->scale, attribute, octets, n,
			(int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000);
}

static void on_bus_signal(void *userdata, DBusMessage *message)
{
	void (*listen)(struct mirror *, DBusMessage *) = NULL;
	struct radio *radio = userdata;
	bool ours = false;

	if (dbus_message_is_signal(message, DBUS_INTERFACE_PROPERTIES, "PropertiesChanged")) {
		take_value(radio, message);
		ours = mirror_changed(&radio->mirror, message);
		listen = listen_changed;
	} else if (dbus_message_is_signal(message, OBJECTS_MANAGER, "InterfacesAdded")) {
		ours = mirror_added(&radio->mirror, message);
		listen = listen_added;
		find_added(&radio->find, message);
	} else if (dbus_message_is_signal(message, OBJECTS_MANAGER, "InterfacesRemoved")) {
		ours = mirror_removed(&radio->mirror, message);
	}
	if (!ours)
		return;
	settle(radio);
	if (listen)
		listen(&radio->mirror, message); /* now it is known who is listened to */
}

static bool on_bus_method(void *userdata, DBusMessage *message)
{
	struct radio *radio = userdata;

	return profile_method(radio->bus, message) || agent_method(&radio->agent, message);
}

static const struct bus_ops bus_ops = {
	.state = on_bus_state,
	.owner = on_bus_owner,
	.signal = on_bus_signal,
	.method = on_bus_method,
};

/* What the mirror asks and tells */

static struct scale *lookup(const struct radio *radio, const char *address)
{
	for (struct scale *at = radio->scales; at; at = at->next)
		if (!at->forgotten && strcmp(at->address, address) == 0)
			return at;
	return NULL;
}

static struct scale *adopted(void *userdata, const char *address)
{
	return lookup(userdata, address);
}

static void adapter_gone(void *userdata, struct mirror_adapter *adapter)
{
	(void)userdata;
	discovery_adapter_gone(adapter);
	profile_adapter_gone(adapter);
}

static void device_gone(void *userdata, struct mirror_device *device)
{
	(void)userdata;
	scale_device_gone(device->scale, device);
}

static void attribute_gone(void *userdata, struct mirror_attribute *attribute)
{
	(void)userdata;
	bus_cancel(&attribute->call);
}

static bool wanted(void *userdata, const struct broadcast_part *part)
{
	struct radio *radio = userdata;

	return broadcast_wanted(&radio->ops, radio->userdata, part);
}

static const struct mirror_ops mirror_ops = { adopted, wanted, adapter_gone, device_gone, attribute_gone };

/* What the scales ask */

static void scale_changed(struct scale_host *host)
{
	soon((struct radio *)host); /* its first member */
}

static void scale_reload(struct scale_host *host)
{
	struct radio *radio = (struct radio *)host;

	radio->reload = true;
	soon(radio);
}

static void scale_pause(struct scale_host *host, const struct mirror_device *device, bool pause)
{
	struct radio *radio = (struct radio *)host;
	struct mirror_adapter *adapter = mirror_adapter_of(&radio->mirror, device);

	if (adapter)
		discovery_pause(&radio->discovery, adapter, pause);
	soon(radio);
}

/* Our own interface */

static bool is_adopted(void *owner, const char *address)
{
	return lookup(owner, address) != NULL;
}

static int radio_start(struct radio *radio)
{
	int r;

	r = bus_new(radio->event, &bus_ops, radio, &radio->bus);
	if (r < 0)
		return r;
	r = sd_event_add_defer(radio->event, &radio->defer, on_defer, radio);
	if (r < 0)
		return r;
	r = objects_init(&radio->objects, radio->event, radio->bus, &radio->mirror, on_tree, radio);
	if (r < 0)
		return r;
	r = find_init(&radio->find, radio->event, &radio->objects, &radio->mirror, &radio->ops,
		      radio->userdata);
	if (r < 0)
		return r;
	r = discovery_init(&radio->discovery, radio->event, radio->bus, &radio->mirror);
	if (r < 0)
		return r;
	radio->host = (struct scale_host){ radio->event,    radio->bus,    &radio->mirror, &radio->ops,
					   radio->userdata, scale_changed, scale_reload,   scale_pause };
	r = agent_init(&radio->agent, &radio->host);
	if (r < 0)
		return r;
	r = probe_init(&radio->probe, radio->event, radio->bus, &radio->ops, radio->userdata, is_adopted, radio);
	if (r < 0)
		return r;
	radio->rules.bus = radio->bus;
	(void)rules_update(&radio->rules, &radio->mirror, NULL); /* nothing can have changed yet */
	return 0;
}

int radio_new(struct sd_event *event, const struct radio_ops *ops, void *userdata,
	      struct radio **ret)
{
	struct radio *radio = calloc(1, sizeof *radio);
	int r;

	if (!radio)
		return -ENOMEM;
	radio->event = sd_event_ref(event);
	radio->ops = *ops;
	radio->userdata = userdata;
	radio->trouble.now = RADIO_STARTING;
	radio->mirror.ops = &mirror_ops;
	radio->mirror.userdata = radio;
	r = radio_start(radio);
	if (r < 0) {
		radio_free(radio);
		return r;
	}
	*ret = radio;
	return 0;
}

struct radio *radio_free(struct radio *radio)
{
	if (!radio)
		return NULL;
	agent_done(&radio->agent);
	probe_done(&radio->probe);
	for (struct scale *at = radio->scales; at; at = at->next)
		at->forgotten = true; /* nothing is called back any more */
	mirror_clear(&radio->mirror);
	reap(radio);
	discovery_done(&radio->discovery);
	find_done(&radio->find);
	objects_done(&radio->objects);
	rules_done(&radio->rules);
	bus_free(radio->bus);
	sd_event_source_disable_unref(radio->defer);
	sd_event_unref(radio->event);
	free(radio);
	return NULL;
}

int radio_adopt(struct radio *radio, const char *address)
{
	char upper[RADIO_ADDRESS_SIZE];
	struct scale *scale;
	unsigned n = 0;
	int r;

	if (!mirror_address(address, upper))
		return -EINVAL;
	if (lookup(radio, upper))
		return -EEXIST;
	for (scale = radio->scales; scale; scale = scale->next)
		n += !scale->forgotten;
	if (n >= LIMIT_SCALES)
		return -ENOSPC;
	r = scale_new(&radio->host, upper, &scale);
	if (r < 0)
		return r;
	scale->next = radio->scales;
	radio->scales = scale;
	radio->rescaled = true;
	radio->reload = true;
	soon(radio);
	return 0;
}

void radio_look_again(struct radio *radio)
{
	for (struct scale *at = radio->scales; at; at = at->next)
		if (!at->forgotten)
			subscribe_look(at);
}

int radio_forget(struct radio *radio, const char *address)
{
	char upper[RADIO_ADDRESS_SIZE];
	struct scale *scale = mirror_address(address, upper) ? lookup(radio, upper) : NULL;

	if (!scale)
		return -ENOENT;
	scale_stop(scale);
	radio->rescaled = true;
	soon(radio);
	return 0;
}

int radio_find(struct radio *radio, unsigned seconds)
{
	if (seconds < 1 || seconds > FIND_MAX_S)
		return -EINVAL;
	find_begin(&radio->find, seconds);
	radio->reload = true;
	soon(radio);
	return 0;
}

enum radio_trouble radio_trouble(const struct radio *radio)
{
	return radio->trouble.now;
}

enum link_state radio_link(const struct radio *radio, const char *address)
{
	char upper[RADIO_ADDRESS_SIZE];
	const struct scale *scale = mirror_address(address, upper) ? lookup(radio, upper) : NULL;

	return scale ? scale->link.state : LINK_AWAY;
}

uint32_t radio_link_number(const struct radio *radio, const char *address)
{
	char upper[RADIO_ADDRESS_SIZE];
	const struct scale *scale = mirror_address(address, upper) ? lookup(radio, upper) : NULL;

	return scale ? scale->link.number : 0;
}

/* ---- what a person asks for ---- */

int radio_probe(struct radio *radio, const char *address)
{
	char upper[RADIO_ADDRESS_SIZE];
	int r;

	if (!mirror_address(address, upper))
		return -EINVAL;
	if (radio->trouble.now != RADIO_FINE)
		return -ENODEV;
	r = probe_begin(&radio->probe, upper);
	soon(radio);
	return r;
}

static struct scale *named(const struct radio *radio, const char *address)
{
	char upper[RADIO_ADDRESS_SIZE];

	return mirror_address(address, upper) ? lookup(radio, upper) : NULL;
}

int radio_pair(struct radio *radio, const char *address)
{
	struct scale *scale = named(radio, address);
	int r;

	if (!scale)
		return -ENOENT;
	if (radio->trouble.now != RADIO_FINE)
		return -ENODEV;
	r = agent_begin(&radio->agent, scale);
	soon(radio);
	return r;
}

int radio_pair_answer(struct radio *radio, bool yes, uint32_t passkey)
{
	return agent_answer(&radio->agent, yes, passkey);
}

int radio_consent(struct radio *radio, const char *address, uint8_t index, unsigned code)
{
	struct scale *scale = named(radio, address);

	if (!scale)
		return -ENOENT;
	if (index != CONSENT_NO_USER && code > CONSENT_CODE_MAX)
		return -EINVAL;
	consent_give(scale, index, code);
	soon(radio);
	return 0;
}
