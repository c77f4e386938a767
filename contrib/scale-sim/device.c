// SPDX-License-Identifier: MIT
#include "device.h"
#include "apps.h"
#include "bus.h"
#include "chr.h"
#include "discovery.h"
#include "fault.h"
#include "model.h"
#include "node.h"
#include "pairing.h"
#include "props.h"
#include "put.h"
#include "say.h"

#define ABORTED "le-connection-abort-by-local" /* BlueZ's text for ECONNABORTED */
#define AUTO_RETRY_MS 1000
#define AUTO_SOON_MS 10

size_t device_advertised(const struct peer *peer, const char **uuids)
{
	size_t n = 0;

	for (size_t i = 0; !peer->hidden && i < peer->n_attrs; i++)
		if (peer->attrs[i].kind == ATTR_SERVICE &&
		    (!strncmp(peer->attrs[i].uuid, "0000181d", 8) || !strncmp(peer->attrs[i].uuid, "0000181b", 8)))
			uuids[n++] = peer->attrs[i].uuid;
	return n;
}

size_t device_services(const struct device *device, const char **uuids)
{
	const struct peer *peer = device->peer;
	size_t n = 0;

	if (!device->resolved_once)
		return device_advertised(peer, uuids);
	for (size_t i = 0; i < peer->n_attrs; i++)
		if (peer->attrs[i].kind == ATTR_SERVICE)
			uuids[n++] = peer->attrs[i].uuid;
	return n;
}

bool device_ready(const struct device *device)
{
	return device->link == LINK_RESOLVED;
}

void device_fail_calls(struct device *device)
{
	bus_answer(device->adapter->sim->bus, &device->connect_call, "Failed", ABORTED);
	bus_answer(device->adapter->sim->bus, &device->pair_call, "AuthenticationFailed", "Authentication Failed");
	pairing_end(device);
	bus_answer(device->adapter->sim->bus, &device->disconnect_call, NULL, NULL);
	chr_link_down(device);
}

static void start_link(struct device *device, int64_t now_ms)
{
	device->link = LINK_CONNECTING;
	device->due_ms = now_ms + device->adapter->sim->settings.connect_ms;
	device->timeout_ms = now_ms + device->adapter->sim->settings.connect_timeout_ms;
	device->said_held = false;
	device->vanish_ms = SIM_NEVER;
}

static void link_up(struct device *device, int64_t now_ms)
{
	struct sim *sim = device->adapter->sim;

	device->link = LINK_UP;
	device->peer->link = device;
	device->due_ms = now_ms + sim->settings.resolve_ms;
	device->said_held = false;
	props_changed(node_device(device), PROPS_DEVICE, "Connected", NULL);
	say_event(sim, "connected %s", device->peer->address);
	if (!sim->settings.reply_resolved)
		bus_answer(device->adapter->sim->bus, &device->connect_call, NULL, NULL);
}

/* Objects of the GATT table, and Battery1, which bluetoothd's own battery profile makes. */
static void export_all(struct device *device)
{
	const struct peer *peer = device->peer;

	if (!device->exported) {
		device->states = put_alloc(peer->n_attrs, sizeof(*device->states));
		device->exported = true;
		for (size_t i = 0; i < peer->n_attrs; i++)
			props_added(node_attr(device, i), NULL);
	}
	if (peer->battery_pct >= 0) {
		device->battery_shown = true;
		props_added(node_device(device), PROPS_BATTERY);
	}
}

static void link_resolved(struct device *device)
{
	bool first = !device->resolved_once;

	export_all(device);
	device->resolved_once = true;
	device->due_ms = SIM_NEVER;
	if (first)
		props_changed(node_device(device), PROPS_DEVICE, "UUIDs", NULL);
	device->link = LINK_RESOLVED;
	props_changed(node_device(device), PROPS_DEVICE, "ServicesResolved", NULL);
	say_event(device->adapter->sim, "resolved %s", device->peer->address);
	bus_answer(device->adapter->sim->bus, &device->connect_call, NULL, NULL);
}

static void signal_down(struct device *device, bool resolved)
{
	struct node node = node_device(device);

	if (resolved && device->adapter->sim->settings.split_drop) {
		props_changed(node, PROPS_DEVICE, "ServicesResolved", NULL);
		props_changed(node, PROPS_DEVICE, "Connected", NULL);
	} else if (resolved) {
		props_changed(node, PROPS_DEVICE, "ServicesResolved", "Connected", NULL);
	} else {
		props_changed(node, PROPS_DEVICE, "Connected", NULL);
	}
}

/* GATT objects stay on the bus, and Notifying stays true (seen with bluetoothd 5.66). */
void device_down(struct device *device)
{
	bool was_up = device->link >= LINK_UP, resolved = device->link > LINK_UP;

	if (device->link == LINK_DOWN)
		return;
	device->link = LINK_DOWN;
	device->mistaken = false;
	device->due_ms = device->pair_ms = SIM_NEVER;
	device->auto_ms = model_now_ms() + (was_up ? AUTO_SOON_MS : AUTO_RETRY_MS);
	if (was_up) {
		device->peer->link = NULL;
		if (device->battery_shown)
			props_removed(node_device(device), PROPS_BATTERY);
		device->battery_shown = false;
		signal_down(device, resolved);
		say_event(device->adapter->sim, "disconnected %s", device->peer->address);
	}
	device_fail_calls(device);
	if (was_up)
		discovery_hear_all(device->adapter->sim, device->peer); /* it advertises again */
}

void device_mistake(struct device *device)
{
	device->link = LINK_UP;
	device->due_ms = SIM_NEVER;
	device->mistaken = true;
	chr_link_down(device);
	props_changed(node_device(device), PROPS_DEVICE, "ServicesResolved", "Connected", NULL);
}

static void hide_attrs(struct device *device)
{
	/* Children first, as they go with their parents. */
	for (size_t i = device->peer->n_attrs; device->exported && i > 0; i--)
		props_removed(node_attr(device, i - 1), NULL);
	device->exported = false;
	model_free_states(device);
}

void device_hide(struct device *device)
{
	device_down(device);
	hide_attrs(device);
	props_removed(node_device(device), NULL);
	device->heard = false;
	device->vanish_ms = SIM_NEVER;
	if (device->temporary)
		model_device_free(device);
}

void device_remove(struct device *device)
{
	say_event(device->adapter->sim, "removed %s", device->peer->address);
	device->temporary = true;
	device_hide(device);
}

void device_owner_left(struct device *device, const char *owner)
{
	if (device->exported)
		chr_owner_left(device, owner);
}

/* The attempt fails with what the `fail` command said, or with text. */
static void attempt_failed(struct device *device, const struct fault *fault, const char *step)
{
	say_event(device->adapter->sim, "failed %s %s", device->peer->address, step);
	if (fault)
		bus_answer(device->adapter->sim->bus, &device->connect_call, fault->name, fault->text);
	device_down(device);
}

static void tick_connecting(struct device *device, int64_t now_ms)
{
	struct peer *peer = device->peer;

	if (fault_held(peer, STEP_CONNECT, &device->said_held, device->adapter->sim))
		return;
	if (!model_connectable(peer)) {
		if (now_ms >= device->timeout_ms)
			attempt_failed(device, NULL, "connect");
		return;
	}
	if (now_ms < device->due_ms)
		return;
	/* Its keys don't fit any more (how 5.66 words that was not seen) */
	static const struct fault lost = { .name = "org.bluez.Error.AuthenticationFailed", .text = "Authentication Failed" };
	const struct fault *fault = fault_take(peer, STEP_CONNECT);
	if (!fault && peer->bond.lost && device->paired)
		fault = &lost;
	if (fault)
		attempt_failed(device, fault, "connect");
	else
		link_up(device, now_ms);
}

static void tick_resolving(struct device *device, int64_t now_ms)
{
	if (fault_held(device->peer, STEP_RESOLVE, &device->said_held, device->adapter->sim) || now_ms < device->due_ms)
		return;
	const struct fault *fault = fault_take(device->peer, STEP_RESOLVE);
	if (fault)
		attempt_failed(device, fault, "resolve");
	else
		link_resolved(device);
}

static void tick_pairing(struct device *device, int64_t now_ms)
{
	if (!device->pair_call || device->link < LINK_UP || device->link == LINK_CLOSING)
		return;
	if (device->pair_ms == SIM_NEVER)
		device->pair_ms = now_ms + device->adapter->sim->settings.pair_ms;
	if (fault_held(device->peer, STEP_PAIR, &device->said_held, device->adapter->sim) || now_ms < device->pair_ms)
		return;
	const struct fault *fault = fault_take(device->peer, STEP_PAIR);
	if (fault) {
		device->pair_ms = SIM_NEVER;
		bus_answer(device->adapter->sim->bus, &device->pair_call, fault->name, fault->text);
		return;
	}
	enum pairing_outcome outcome = pairing_step(device);
	if (outcome == PAIRING_WAITS)
		return;
	device->pair_ms = SIM_NEVER;
	pairing_end(device);
	if (outcome != PAIRING_PASSED) {
		bus_answer(device->adapter->sim->bus, &device->pair_call,
			   outcome == PAIRING_FAILED ? "AuthenticationFailed" : "AuthenticationRejected",
			   outcome == PAIRING_FAILED ? "Authentication Failed" : "Authentication Rejected");
		return;
	}
	device->peer->bond.lost = false;
	device->paired = true;
	props_changed(node_device(device), PROPS_DEVICE, "Paired", NULL);
	say_event(device->adapter->sim, "paired %s", device->peer->address);
	bus_answer(device->adapter->sim->bus, &device->pair_call, NULL, NULL);
}

/* GattProfile1: BlueZ connects to a known device that has the service. */
static bool wants_auto(const struct device *device)
{
	return device->adapter->sim->settings.auto_connect && device->adapter->powered && !device->temporary &&
	       device->resolved_once && !device->no_auto && model_audible(device->peer) &&
	       apps_want(device->adapter, device);
}

/* false: the device is gone. */
static bool step(struct device *device, int64_t now_ms)
{
	switch (device->link) {
	case LINK_DOWN:
		if (now_ms >= device->vanish_ms) {
			device_remove(device);
			return false;
		}
		if (now_ms >= device->auto_ms && wants_auto(device)) {
			say_event(device->adapter->sim, "auto-connect %s", device->peer->address);
			start_link(device, now_ms);
		}
		break;
	case LINK_CONNECTING:
		tick_connecting(device, now_ms);
		break;
	case LINK_UP:
		tick_resolving(device, now_ms);
		break;
	case LINK_RESOLVED:
		chr_settle(device);
		break;
	case LINK_CLOSING:
		if (now_ms >= device->due_ms)
			device_down(device);
		break;
	}
	return true;
}

void device_tick(struct device *device, int64_t now_ms)
{
	enum link_state before;

	do {
		before = device->link;
		if (!step(device, now_ms))
			return;
	} while (device->link != before);
	tick_pairing(device, now_ms);
}

int64_t device_due(const struct device *device)
{
	const struct peer *peer = device->peer;
	int64_t due_ms = SIM_NEVER;

	switch (device->link) {
	case LINK_DOWN:
		due_ms = device->vanish_ms;
		if (wants_auto(device) && device->auto_ms < due_ms)
			due_ms = device->auto_ms;
		break;
	case LINK_CONNECTING:
		if (!(peer->held & 1u << STEP_CONNECT))
			due_ms = model_connectable(peer) ? device->due_ms : device->timeout_ms;
		break;
	case LINK_UP:
		if (!(peer->held & 1u << STEP_RESOLVE))
			due_ms = device->due_ms;
		break;
	case LINK_RESOLVED:
		break;
	case LINK_CLOSING:
		due_ms = device->due_ms;
		break;
	}
	/* asked: an answer wakes us */
	if (device->pair_call && !device->asked.yet && !(peer->held & 1u << STEP_PAIR) && device->pair_ms < due_ms)
		due_ms = device->pair_ms;
	return due_ms;
}

DBusMessage *device_connect(const struct node *node, DBusMessage *msg)
{
	struct device *device = node->device;

	if (!node->adapter->powered)
		return put_error(msg, "NotReady", "Resource Not Ready");
	if (device->connect_call || device->pair_call || device->link == LINK_CLOSING)
		return put_error(msg, "InProgress", "In Progress");
	if (device->link >= LINK_UP)
		return put_ok(msg);
	say_event(node->sim, "connect %s", device->peer->address);
	device->temporary = false;
	device->no_auto = false;
	device->connect_call = dbus_message_ref(msg);
	/* A background attempt may be under way: then the call joins it. */
	if (device->link == LINK_DOWN)
		start_link(device, model_now_ms());
	return NULL;
}

DBusMessage *device_disconnect(const struct node *node, DBusMessage *msg)
{
	struct device *device = node->device;

	if (device->link == LINK_DOWN)
		return put_error(msg, "NotConnected", "Not Connected");
	if (device->link == LINK_CLOSING)
		return put_error(msg, "InProgress", "In Progress");
	say_event(node->sim, "disconnect %s", device->peer->address);
	device->no_auto = !device->trusted;
	if (device->link == LINK_CONNECTING) {
		device_down(device);
		return put_ok(msg);
	}
	device->link = LINK_CLOSING;
	device->due_ms = model_now_ms() + node->sim->settings.disconnect_ms;
	device->disconnect_call = dbus_message_ref(msg);
	return NULL;
}

DBusMessage *device_pair(const struct node *node, DBusMessage *msg)
{
	struct device *device = node->device;

	if (device->paired)
		return put_error(msg, "AlreadyExists", "Already Exists");
	if (device->connect_call || device->pair_call)
		return put_error(msg, "InProgress", "In Progress");
	say_event(node->sim, "pair %s", device->peer->address);
	/* Somebody must be able to agree. */
	if (!node->sim->n_agents)
		return put_error(msg, "AuthenticationFailed", "Authentication Failed");
	device->temporary = false;
	device->pair_call = dbus_message_ref(msg);
	device->pair_ms = SIM_NEVER;
	device->said_held = false;
	if (device->link == LINK_DOWN)
		start_link(device, model_now_ms());
	return NULL;
}

DBusMessage *device_cancel_pairing(const struct node *node, DBusMessage *msg)
{
	if (!node->device->pair_call)
		return put_error(msg, "DoesNotExist", "Does Not Exist");
	bus_answer(node->sim->bus, &node->device->pair_call, "AuthenticationCanceled", "Authentication Canceled");
	pairing_end(node->device);
	return put_ok(msg);
}
