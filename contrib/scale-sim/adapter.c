// SPDX-License-Identifier: MIT
#include "adapter.h"
#include "apps.h"
#include "device.h"
#include "discovery.h"
#include "node.h"
#include "props.h"
#include "put.h"
#include "say.h"
#include "strangers.h"
#include "words.h"

DBusMessage *adapter_remove_device(const struct node *node, DBusMessage *msg)
{
	struct node found;
	const char *path;

	dbus_message_get_args(msg, NULL, DBUS_TYPE_OBJECT_PATH, &path, DBUS_TYPE_INVALID);
	if (!node_find(node->sim, path, &found) || found.kind != NODE_DEVICE || found.adapter != node->adapter)
		return put_error(msg, "DoesNotExist", "Does Not Exist");
	device_remove(found.device);
	return put_ok(msg);
}

void adapter_set_power(struct adapter *adapter, bool powered)
{
	struct device *next;

	if (powered == adapter->powered)
		return;
	adapter->powered = powered;
	if (!powered) {
		for (struct device *d = adapter->devices; d; d = next) {
			next = d->next;
			device_down(d);
		}
		discovery_end_all(adapter);
	}
	props_changed(node_adapter(adapter), PROPS_ADAPTER, "Powered", "PowerState", NULL);
	say_event(adapter->sim, "power %s %s", adapter->name, powered ? "on" : "off");
}

void adapter_block(struct adapter *adapter, bool blocked)
{
	if (blocked == adapter->blocked)
		return;
	adapter->blocked = blocked;
	if (blocked && adapter->powered) {
		adapter_set_power(adapter, false);
		return;
	}
	props_changed(node_adapter(adapter), PROPS_ADAPTER, "PowerState", NULL);
	if (!blocked && adapter->sim->settings.auto_enable)
		adapter_set_power(adapter, true);
}

struct adapter *adapter_plug(struct sim *sim, const char *name, const char *address)
{
	struct adapter *slot = NULL;

	for (size_t i = 0; i < SIM_ADAPTERS; i++) {
		struct adapter *a = &sim->adapters[i];
		bool same = a->used && !strcmp(a->address, address);
		if (a->present && (same || !strcmp(a->name, name)))
			return NULL;
		if (same || (!a->used && !slot))
			slot = a;
	}
	if (!slot)
		return NULL;
	slot->sim = sim;
	slot->used = slot->present = slot->pairable = true;
	slot->advert_ms = SIM_NEVER;
	words_copy(slot->name, sizeof(slot->name), name);
	words_copy(slot->address, sizeof(slot->address), address);
	slot->powered = false;
	adapter_show(slot);
	return slot;
}

void adapter_show(struct adapter *adapter)
{
	props_added(node_adapter(adapter), NULL);
	for (struct device *d = adapter->devices; d; d = d->next)
		props_added(node_device(d), NULL);
	/* BlueZ powers it after it has shown it (AutoEnable). */
	if (adapter->sim->settings.auto_enable && !adapter->blocked)
		adapter_set_power(adapter, true);
}

void adapter_keep_links(struct adapter *adapter)
{
	for (struct device *d = adapter->devices; d; d = d->next)
		d->outlives = d->link >= LINK_UP && !d->temporary;
}

void adapter_take_links(struct adapter *adapter)
{
	for (struct device *d = adapter->devices; d; d = d->next) {
		if (!d->outlives)
			continue;
		d->outlives = false;
		d->link = LINK_UP;
		d->peer->link = d;
		d->due_ms = SIM_NEVER; /* it is never resolved: seen with bluetoothd 5.66 */
	}
}

void adapter_unplug(struct adapter *adapter, bool abrupt)
{
	struct bus *bus = adapter->sim->bus;
	struct device *next;

	adapter->n_sessions = 0;
	apps_drop(adapter);
	for (struct device *d = adapter->devices; d; d = d->next)
		device_fail_calls(d);
	if (abrupt)
		adapter->sim->bus = NULL; /* no signal */
	strangers_gone(adapter);
	for (struct device *d = adapter->devices; d; d = next) {
		next = d->next;
		device_hide(d);
	}
	adapter->sim->bus = bus;
	props_removed(node_adapter(adapter), NULL);
	adapter->present = adapter->powered = false;
}

void adapter_reset(struct adapter *adapter)
{
	struct device *next;

	adapter->n_sessions = 0;
	apps_drop(adapter);
	strangers_gone(adapter);
	for (struct device *d = adapter->devices; d; d = next) {
		next = d->next;
		device_hide(d);
	}
	adapter->powered = false;
}

void adapter_owner_left(struct adapter *adapter, const char *owner)
{
	discovery_owner_left(adapter, owner);
	for (struct device *d = adapter->devices; d; d = d->next)
		device_owner_left(d, owner);
}

void adapter_tick(struct adapter *adapter, int64_t now_ms)
{
	struct device *next;

	if (!adapter->present)
		return;
	discovery_tick(adapter, now_ms);
	for (struct device *d = adapter->devices; d; d = next) {
		next = d->next;
		if (!d->peer->stranger)
			device_tick(d, now_ms);
	}
}

int64_t adapter_due(const struct adapter *adapter)
{
	int64_t due_ms = adapter->present ? adapter->advert_ms : SIM_NEVER;

	for (struct device *d = adapter->devices; adapter->present && d; d = d->next) {
		int64_t one_ms = d->peer->stranger ? SIM_NEVER : device_due(d);
		if (one_ms < due_ms)
			due_ms = one_ms;
	}
	return due_ms;
}
