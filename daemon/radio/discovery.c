// SPDX-License-Identifier: MIT
#include "discovery.h"
#include "wake.h"
#include "daemon/log.h"

#define RETRY_MIN_US UINT64_C(1000000)
#define RETRY_MAX_US UINT64_C(60000000)
#define PAUSE_US UINT64_C(10000000)
#define LOST_US UINT64_C(15000000) /* BlueZ rests between two scans; beyond this it has stopped */
#define TOLD_FAILURES 4

enum { SCAN_IDLE, SCAN_FILTERING, SCAN_STARTING, SCAN_ON, SCAN_STOPPING };

static void step(struct discovery *discovery, struct mirror_adapter *adapter);
static void arm(struct discovery *discovery);

static void proceed(struct mirror_adapter *adapter)
{
	step(adapter->scan.discovery, adapter);
	arm(adapter->scan.discovery);
}

static void fail(struct mirror_adapter *adapter, const char *why)
{
	uint64_t us = RETRY_MIN_US << (adapter->scan.failures < 6 ? adapter->scan.failures : 6);

	adapter->scan.state = SCAN_IDLE;
	adapter->scan.failures++;
	adapter->scan.retry_us =
		wake_now(adapter->scan.discovery->event) + (us < RETRY_MAX_US ? us : RETRY_MAX_US);
	log_event(LOG_EVENT_SCAN_FAILING, adapter->scan.failures == TOLD_FAILURES ? LOG_WARNING : LOG_DEBUG,
		  "BISMAR_ADAPTER", adapter->path, "radio: %s: can't scan for scales: %s; trying again", adapter->path,
		  why);
}

static void on_started(void *userdata, DBusMessage *reply)
{
	struct mirror_adapter *adapter = userdata;
	const char *name, *text;
	bool failed = bus_failed(reply, &name, &text);

	if (failed && !(strcmp(name, "org.bluez.Error.InProgress") == 0 && adapter->discovering)) {
		fail(adapter, name);
	} else {
		adapter->scan.state = SCAN_ON;
		adapter->scan.failures = 0;
		adapter->scan.confirmed = false;
		adapter->scan.borrowed = failed;
		adapter->scan.lost_us = UINT64_MAX;
	}
	proceed(adapter);
}

static void call(struct mirror_adapter *adapter, const char *member, int state, bus_reply_fn *fn)
{
	struct bus *bus = adapter->scan.discovery->bus;

	adapter->scan.state = state;
	if (bus_call(bus, bus_method(bus, adapter->path, MIRROR_ADAPTER, member), -1, fn, adapter,
		     &adapter->scan.call) < 0)
		fail(adapter, "no connection");
}

/* An implementation without filters scans for everything, and that will do. */
static void on_filtered(void *userdata, DBusMessage *reply)
{
	struct mirror_adapter *adapter = userdata;
	const char *name, *text;

	if (bus_failed(reply, &name, &text))
		log_debug("radio: %s: SetDiscoveryFilter: %s", adapter->path, name);
	call(adapter, "StartDiscovery", SCAN_STARTING, on_started);
}

static void on_stopped(void *userdata, DBusMessage *reply)
{
	struct mirror_adapter *adapter = userdata;

	(void)reply; /* an error says that it wasn't running */
	adapter->scan.state = SCAN_IDLE;
	proceed(adapter);
}

static bool append_setting(DBusMessageIter *dict, const char *key, int type, const char *signature,
			   const void *value)
{
	DBusMessageIter entry, variant;

	return dbus_message_iter_open_container(dict, DBUS_TYPE_DICT_ENTRY, NULL, &entry) &&
	       dbus_message_iter_append_basic(&entry, DBUS_TYPE_STRING, &key) &&
	       dbus_message_iter_open_container(&entry, DBUS_TYPE_VARIANT, signature, &variant) &&
	       dbus_message_iter_append_basic(&variant, type, value) &&
	       dbus_message_iter_close_container(&entry, &variant) &&
	       dbus_message_iter_close_container(dict, &entry);
}

/* No UUIDs: a bonded scale may advertise without any, and the filters of all programs are merged
 * (facts, 7.2). */
static void set_filter(struct mirror_adapter *adapter)
{
	struct bus *bus = adapter->scan.discovery->bus;
	DBusMessage *message = bus_method(bus, adapter->path, MIRROR_ADAPTER, "SetDiscoveryFilter");
	const char *transport = "le";
	dbus_bool_t duplicates = FALSE;
	DBusMessageIter at, dict;

	if (message) {
		dbus_message_iter_init_append(message, &at);
		if (!dbus_message_iter_open_container(&at, DBUS_TYPE_ARRAY, "{sv}", &dict) ||
		    !append_setting(&dict, "Transport", DBUS_TYPE_STRING, "s", &transport) ||
		    !append_setting(&dict, "DuplicateData", DBUS_TYPE_BOOLEAN, "b", &duplicates) ||
		    !dbus_message_iter_close_container(&at, &dict)) {
			dbus_message_unref(message);
			message = NULL;
		}
	}
	adapter->scan.state = SCAN_FILTERING;
	if (bus_call(bus, message, -1, on_filtered, adapter, &adapter->scan.call) < 0)
		fail(adapter, "no connection");
}

/* Discovering went false under us, and stays so. */
static void check_lost(struct mirror_adapter *adapter, uint64_t now_us)
{
	if (adapter->discovering) {
		adapter->scan.confirmed = true;
		adapter->scan.lost_us = UINT64_MAX;
	} else if (adapter->scan.borrowed) {
		fail(adapter, "another program's scan has ended");
	} else if (adapter->scan.confirmed && adapter->scan.lost_us == UINT64_MAX) {
		adapter->scan.lost_us = now_us + LOST_US;
	} else if (adapter->scan.confirmed && now_us >= adapter->scan.lost_us) {
		fail(adapter, "it ended");
	}
}

/* An adapter that plays an adopted scale, as in a test rig: scanning on it would hold up its advertising. */
static bool plays_scale(const struct discovery *discovery, const struct mirror_adapter *adapter)
{
	const struct mirror *mirror = discovery->mirror;

	return mirror->ops->adopted(mirror->userdata, adapter->address) != NULL;
}

static void step(struct discovery *discovery, struct mirror_adapter *adapter)
{
	uint64_t now_us = wake_now(discovery->event);
	bool run = discovery->wanted && now_us >= adapter->scan.paused_us && !plays_scale(discovery, adapter);

	adapter->scan.discovery = discovery;
	if (!adapter->powered) { /* the session went with the power */
		bus_cancel(&adapter->scan.call);
		adapter->scan.state = SCAN_IDLE;
		adapter->scan.failures = 0;
		adapter->scan.retry_us = 0;
		return;
	}
	if (adapter->scan.call)
		return;
	if (adapter->scan.state == SCAN_ON && run)
		check_lost(adapter, now_us);
	if (adapter->scan.state == SCAN_ON && !run)
		call(adapter, "StopDiscovery", SCAN_STOPPING, on_stopped);
	else if (adapter->scan.state == SCAN_IDLE && run && now_us >= adapter->scan.retry_us)
		set_filter(adapter);
}

static uint64_t sooner(uint64_t then_us, uint64_t at_us, uint64_t now_us)
{
	return at_us > now_us && at_us < then_us ? at_us : then_us;
}

static void arm(struct discovery *discovery)
{
	uint64_t now_us = wake_now(discovery->event), then_us = UINT64_MAX;

	for (struct mirror_adapter *at = discovery->mirror->adapters; at && discovery->wanted;
	     at = at->next) {
		if (!at->powered)
			continue;
		then_us = sooner(then_us, at->scan.paused_us, now_us);
		if (at->scan.state == SCAN_IDLE)
			then_us = sooner(then_us, at->scan.retry_us, now_us);
		if (at->scan.state == SCAN_ON && at->scan.confirmed)
			then_us = sooner(then_us, at->scan.lost_us, now_us);
	}
	wake_at(discovery->timer, then_us);
}

static int on_timer(sd_event_source *source, uint64_t at_us, void *userdata)
{
	struct discovery *discovery = userdata;

	(void)source, (void)at_us;
	discovery_update(discovery, discovery->wanted);
	return 0;
}

int discovery_init(struct discovery *discovery, sd_event *event, struct bus *bus,
		   struct mirror *mirror)
{
	*discovery = (struct discovery){ .event = event, .bus = bus, .mirror = mirror };
	return wake_new(event, on_timer, discovery, &discovery->timer);
}

void discovery_done(struct discovery *discovery)
{
	discovery->timer = sd_event_source_disable_unref(discovery->timer);
}

void discovery_update(struct discovery *discovery, bool wanted)
{
	discovery->wanted = wanted;
	for (struct mirror_adapter *at = discovery->mirror->adapters; at; at = at->next)
		step(discovery, at);
	arm(discovery);
}

void discovery_pause(struct discovery *discovery, struct mirror_adapter *adapter, bool pause)
{
	adapter->scan.paused_us = pause ? wake_now(discovery->event) + PAUSE_US : 0;
}

void discovery_adapter_gone(struct mirror_adapter *adapter)
{
	bus_cancel(&adapter->scan.call);
}
