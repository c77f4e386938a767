// SPDX-License-Identifier: MIT
#include "scale.h"
#include "consent.h"
#include "wake.h"
#include "daemon/log.h"
#include <errno.h>

/* Log lines of one scale: one in 3 s, after 20 at once. More are a link that flaps, of interest to
 * nobody. */
#define LOG_PACE_US UINT64_C(3000000)
#define LOG_BURST_US UINT64_C(60000000)

/* A scale that is out of reach is tried for ever; after the third time that is no news. */
#define LOG_FAILURES 3

#define PAIRING_LOOK_US UINT64_C(1000000)

static void tell(struct scale *scale)
{
	uint64_t now_us = wake_now(scale->host->event);
	const struct radio_ops *ops = scale->host->ops;
	int level = LOG_DEBUG;

	if (scale->link.failures < LOG_FAILURES && scale->log_us < now_us + LOG_BURST_US) {
		scale->log_us = (scale->log_us > now_us ? scale->log_us : now_us) + LOG_PACE_US;
		level = LOG_INFO;
	}
	log_event(LOG_EVENT_SCALE_LINK, level, "BISMAR_SCALE", scale->address, "scale %s: %s", scale->address,
		  link_state_text(scale->link.state));
	if (ops->link)
		ops->link(scale->host->userdata, scale->address, scale->link.state);
	scale->host->changed(scale->host);
}

static void unpause(struct scale *scale)
{
	if (scale->paused && scale->device)
		scale->host->pause(scale->host, scale->device, false);
	scale->paused = false;
}

/* Errors that say "not now" rather than "no": the controller couldn't scan and connect at once, or
 * BlueZ was busy. */
static bool is_crowded(const char *name, const char *text)
{
	return strcmp(name, "org.bluez.Error.InProgress") == 0 || strstr(text, "abort") ||
	       strstr(text, "busy");
}

/* A link that ends for want of a key that both know (facts, 7.8: a peer that lost its bond). How bluetoothd words it
 * changes from version to version. */
static bool is_bond_lost(const struct scale *scale, const char *name, const char *text)
{
	return scale->device && scale->device->paired &&
	       (strncmp(name, "org.bluez.Error.Authentication", 30) == 0 || strstr(text, "uthentication") ||
		strstr(text, "key-missing"));
}

static void on_connect(void *userdata, DBusMessage *reply)
{
	struct scale *scale = userdata;
	const char *name, *text;
	char quoted[128];

	unpause(scale);
	if (!bus_failed(reply, &name, &text) ||
	    strcmp(name, "org.bluez.Error.AlreadyConnected") == 0) {
		scale->crowded = false;
		scale->complete = true;
		scale_feed(scale, LINK_EV_CONNECT_DONE);
		return;
	}
	log_debug("scale %s: Connect: %s: %s", scale->address, name,
		  log_quote(text, quoted, sizeof quoted));
	/* every other time only: if scanning wasn't the reason, being quiet doesn't help */
	scale->crowded = !scale->crowded && is_crowded(name, text);
	if (is_bond_lost(scale, name, text))
		scale_needs_pairing(scale); /* its owner may forget the scale in there */
	scale_feed(scale, LINK_EV_CONNECT_FAILED);
}

static void connect_device(struct scale *scale)
{
	struct scale_host *host = scale->host;

	/* a scale that isn't heard is tried beside everything else, never in its way */
	if (scale->crowded && scale->link.heard) {
		host->pause(host, scale->device, true);
		scale->paused = true;
	}
	/* link.c ends it before libdbus does */
	if (bus_call(host->bus,
		     bus_method(host->bus, scale->device->path, MIRROR_DEVICE, "Connect"),
		     (int)(LINK_CONNECT_LIMIT_US / 1000) + 5000, on_connect, scale,
		     &scale->connect) < 0)
		scale_feed(scale, LINK_EV_CONNECT_FAILED);
}

static void disconnect_device(struct scale *scale, const struct mirror_device *device)
{
	struct bus *bus = scale->host->bus;

	bus_send(bus, bus_method(bus, device->path, MIRROR_DEVICE, "Disconnect"));
}

/* Without Trusted bluetoothd drops an unpaired device from its list at every disconnect, and half a
 * minute later the object with its subscription (seen with 5.66). */
static void set_trusted(struct scale *scale, struct mirror_device *device, bool trusted)
{
	struct bus *bus = scale->host->bus;
	DBusMessage *call = bus_method(bus, device->path, DBUS_INTERFACE_PROPERTIES, "Set");
	const char *interface = MIRROR_DEVICE, *property = "Trusted";
	dbus_bool_t value = trusted;
	DBusMessageIter at, variant;

	if (!call)
		return;
	dbus_message_iter_init_append(call, &at);
	if (!dbus_message_iter_append_basic(&at, DBUS_TYPE_STRING, &interface) ||
	    !dbus_message_iter_append_basic(&at, DBUS_TYPE_STRING, &property) ||
	    !dbus_message_iter_open_container(&at, DBUS_TYPE_VARIANT, DBUS_TYPE_BOOLEAN_AS_STRING,
					      &variant) ||
	    !dbus_message_iter_append_basic(&variant, DBUS_TYPE_BOOLEAN, &value) ||
	    !dbus_message_iter_close_container(&at, &variant)) {
		dbus_message_unref(call);
		return;
	}
	bus_send(bus, call);
	device->trust_asked = true;
}

static bool has_link(enum link_state state)
{
	return state == LINK_RESOLVING || state == LINK_SUBSCRIBED;
}

/* For a link that is of no use. Trusted, BlueZ would make the next one at once, and no wait would
 * hold; and bluetoothd 5.66 was seen to crash on a link that follows that fast. */
static void end_link(struct scale *scale)
{
	set_trusted(scale, scale->device, false);
	scale->device->trusted = false;
	scale->device->trust_asked = false; /* with the next link */
	disconnect_device(scale, scale->device);
}

static void act(struct scale *scale, enum link_action action, bool linked)
{
	switch (action) {
	case LINK_DO_NOTHING:
		break;
	case LINK_DO_CONNECT:
		connect_device(scale);
		break;
	case LINK_DO_SUBSCRIBE:
		if (!scale->device->trusted && !scale->device->trust_asked)
			set_trusted(scale, scale->device, true);
		subscribe_news(scale);
		break;
	case LINK_DO_DISCONNECT:
		if (linked)
			end_link(scale);
		else
			disconnect_device(scale, scale->device);
		break;
	}
}

void scale_needs_pairing(struct scale *scale)
{
	const struct radio_ops *ops = scale->host->ops;
	const char *why;

	scale->bond_lost = scale->device && scale->device->paired;
	if (scale->pairing_told || scale->pairing)
		return;
	scale->pairing_told = true;
	why = scale->bond_lost ? "it has lost or refuses the bond that it was paired by" :
				 "it measures for a paired host only";
	log_event(LOG_EVENT_PAIRING_NEEDED, LOG_WARNING, "BISMAR_SCALE", scale->address, "scale %s must be paired: %s",
		  scale->address, why);
	if (ops->pairing && !scale->forgotten)
		ops->pairing(scale->host->userdata, scale->address, RADIO_PAIRING_NEEDED, 0, why);
}

void scale_pairing(struct scale *scale, bool on)
{
	scale->pairing = on;
	if (scale->forgotten)
		return;
	if (scale->link.state == LINK_WAITING) { /* a person waits */
		scale->link.failures = 0;
		scale->link.wake_us = wake_now(scale->host->event) + (scale->link.ending ? LINK_ENDING_US : 0);
		scale->link.ending = false;
	}
	wake_at(scale->timer, scale->link.wake_us);
	if (!on)
		subscribe_again(scale);
}

/* While a person pairs, the link stays, useless though it is until then. */
static bool is_put_off(struct scale *scale, enum link_event event)
{
	if (!scale->pairing || !has_link(scale->link.state))
		return false;
	if (event == LINK_EV_WAKE)
		wake_in(scale->timer, PAIRING_LOOK_US);
	return event == LINK_EV_WAKE || event == LINK_EV_SUBSCRIBE_FAILED || event == LINK_EV_UNFIT;
}

void scale_feed(struct scale *scale, enum link_event event)
{
	struct link before = scale->link;
	enum link_action action;

	if (scale->forgotten || is_put_off(scale, event))
		return;
	action = link_step(&scale->link, event, wake_now(scale->host->event));
	wake_at(scale->timer, scale->link.wake_us);
	if (scale->link.state == before.state && scale->link.number == before.number) {
		if (scale->device)
			act(scale, action, has_link(before.state));
		return;
	}
	if (has_link(before.state) && !has_link(scale->link.state))
		subscribe_end(scale);
	if (scale->link.number != before.number && has_link(scale->link.state))
		subscribe_begin(scale);
	scale->connectable |= scale->link.state == LINK_SUBSCRIBED;
	if (!has_link(scale->link.state) && scale->link.state != LINK_CONNECTING) {
		bus_cancel(&scale->connect);
		unpause(scale);
	}
	tell(scale); /* its owner may forget the scale in there */
	if (scale->device && !scale->forgotten)
		act(scale, action, has_link(before.state));
}

static int on_timer(sd_event_source *source, uint64_t at_us, void *userdata)
{
	struct scale *scale = userdata;

	(void)source, (void)at_us;
	scale_feed(scale, LINK_EV_WAKE);
	return 0;
}

/* To be listened to, never to be connected to. Once known, known for good: objects come and go, and the next one may
 * show its data later. */
static bool is_broadcaster(struct scale *scale)
{
	if (!scale->device)
		return false;
	scale->broadcasts |= scale->device->broadcasts;
	scale->connectable |= scale->device->announces;
	return scale->broadcasts && !scale->connectable;
}

static bool is_usable(const struct scale *scale, const struct mirror_device *device)
{
	struct mirror_adapter *adapter = mirror_adapter_of(scale->host->mirror, device);

	return device->scale == scale && (!adapter || adapter->powered);
}

/* How much speaks for dealing with this object rather than with the same scale's on another
 * adapter. */
static int merit(const struct scale *scale, const struct mirror_device *device)
{
	enum link_state state = scale->link.state;
	bool current = device == scale->device;

	if (current && has_link(state))
		return 7;
	if (device->connected)
		return current ? 6 : 5;
	if (current && (state == LINK_LISTENING || (state == LINK_CONNECTING && scale->link.heard) ||
			(state == LINK_WAITING && scale->link.strict)))
		return 4; /* it is heard here as well: going back and forth would get round the
			     back-off, and tell broadcasts twice */
	if (device->said & SAID_HEARD)
		return 3;
	return current ? 2 : device->rssi_dbm != MIRROR_NO_RSSI;
}

static struct mirror_device *choose(struct scale *scale)
{
	struct mirror_device *best = NULL;
	int best_merit = -1;

	for (struct mirror_device *at = scale->host->mirror->devices; at; at = at->next)
		if (is_usable(scale, at) && merit(scale, at) > best_merit) {
			best = at;
			best_merit = merit(scale, at);
		}
	for (struct mirror_device *at = scale->host->mirror->devices; at; at = at->next)
		if (at->scale == scale && at != best)
			at->said &= SAID_BATTERY; /* counts now or never */
	return best;
}

static void leave(struct scale *scale, bool for_another)
{
	unsigned failures = scale->link.failures;

	if (scale->link.state == LINK_CONNECTING)
		disconnect_device(scale, scale->device); /* else BlueZ goes on trying there */
	scale_feed(scale, LINK_EV_GONE);
	scale->device = NULL;
	if (for_another)
		scale->link.failures = failures;
}

static void follow(struct scale *scale, bool heard)
{
	if (heard)
		listen_heard(scale);
	scale_feed(scale, heard ? LINK_EV_BROADCAST : LINK_EV_QUIET);
}

/* A device not dealt with so far: what it is counts, not what has changed. */
static void enter(struct scale *scale, struct mirror_device *device)
{
	bool heard = device->said & SAID_HEARD || device->rssi_dbm != MIRROR_NO_RSSI;

	scale->device = device;
	device->said &= SAID_BATTERY;
	listen_meet(device);
	if (device->connected)
		scale_feed(scale, LINK_EV_CONNECTED);
	else if (is_broadcaster(scale))
		follow(scale, heard);
	else
		scale_feed(scale, heard ? LINK_EV_SEEN : LINK_EV_PRESENT);
}

static void take_changes(struct scale *scale, unsigned said)
{
	/* down and up in one: a link that came back at once. bluetoothd 5.66 can take it for the
	 * old one, and then doesn't subscribe again by itself as it should */
	scale->stale = (said & SAID_DISCONNECTED) && (said & SAID_CONNECTED);
	if (said & SAID_DISCONNECTED)
		scale_feed(scale, LINK_EV_DISCONNECTED);
	if (said & SAID_CONNECTED)
		scale_feed(scale, LINK_EV_CONNECTED);
	if (said & SAID_ATTRIBUTE)
		scale_feed(scale, LINK_EV_CHARACTERISTIC);
	if (said & SAID_UNRESOLVED)
		scale_feed(scale, LINK_EV_UNRESOLVED);
	if (said & SAID_RESOLVED)
		scale_feed(scale, LINK_EV_RESOLVED);
	if (said & SAID_HEARD)
		scale_feed(scale, LINK_EV_SEEN);
}

/* Where a link is up that we didn't know not to want, or that somebody else has made, only a broadcast heard now ends
 * it: what the object shows may be old. false: not listened to; goes on as a scale to connect to. */
static bool take_broadcaster(struct scale *scale, unsigned said)
{
	bool heard = said & SAID_HEARD;

	if (!is_broadcaster(scale) || (has_link(scale->link.state) && !(said & SAID_BROADCAST)))
		return false;
	if (scale->link.state != LINK_LISTENING && scale->link.state != LINK_AWAY) /* it is news that it is one */
		heard = heard || scale->device->rssi_dbm != MIRROR_NO_RSSI;
	else if (!(said & (SAID_HEARD | SAID_UNHEARD)))
		return true;
	follow(scale, heard);
	return true;
}

void scale_update(struct scale *scale)
{
	const struct radio_ops *ops = scale->host->ops;
	struct mirror_device *device;
	unsigned said;

	if (scale->forgotten)
		return;
	device = choose(scale);
	if (device != scale->device) {
		if (scale->device)
			leave(scale, device != NULL);
		if (device && !scale->forgotten)
			enter(scale, device);
	}
	if (!device || scale->forgotten)
		return;
	said = device->said;
	device->said = 0;
	if (said & SAID_BATTERY && ops->battery && device->battery <= 100)
		ops->battery(scale->host->userdata, scale->address, device->battery);
	if (!take_broadcaster(scale, said))
		take_changes(scale, said);
	if (!scale->forgotten)
		consent_look(scale);
}

void scale_device_gone(struct scale *scale, struct mirror_device *device)
{
	if (scale->device != device)
		return;
	unpause(scale);
	scale->device = NULL;
	scale_feed(scale, LINK_EV_GONE);
}

int scale_new(struct scale_host *host, const char *address, struct scale **ret)
{
	struct scale *scale = calloc(1, sizeof *scale);
	int r;

	if (!scale)
		return -ENOMEM;
	scale->host = host;
	memcpy(scale->address, address, sizeof scale->address);
	link_init(&scale->link);
	r = wake_new(host->event, on_timer, scale, &scale->timer);
	if (r >= 0)
		r = subscribe_init(scale);
	if (r >= 0)
		r = consent_init(scale);
	if (r < 0) {
		scale_free(scale);
		return r;
	}
	*ret = scale;
	return 0;
}

struct scale *scale_free(struct scale *scale)
{
	if (!scale)
		return NULL;
	bus_cancel(&scale->connect);
	sd_event_source_disable_unref(scale->timer);
	sd_event_source_disable_unref(scale->retry);
	consent_done(scale);
	free(scale);
	return NULL;
}

void scale_stop(struct scale *scale)
{
	scale->forgotten = true;
	wake_at(scale->timer, UINT64_MAX);
	bus_cancel(&scale->connect);
	unpause(scale);
	subscribe_end(scale);
	scale->device = NULL;
	/* trusted, BlueZ would go on connecting to it, and nobody else could; first that, since it
	 * is looked at when the link ends (seen with bluetoothd 5.66) */
	for (struct mirror_device *at = scale->host->mirror->devices; at; at = at->next)
		if (at->scale == scale) {
			set_trusted(scale, at, false);
			disconnect_device(scale, at);
		}
}
