// SPDX-License-Identifier: MIT
#include "model.h"
#include "put.h"
#include "words.h"
#include <time.h>

#define CONNECT_TIMEOUT_MS 41000 /* Connect to a silent scale with bluetoothd 5.66, as seen on a virtual radio */
#define TEMPORARY_MS 30000       /* TemporaryTimeout of main.conf */

void model_init(struct sim *sim)
{
	*sim = (struct sim){
		.settings = {
			.connect_ms = 50,
			.resolve_ms = 50,
			.disconnect_ms = 20,
			.pair_ms = 50,
			.connect_timeout_ms = CONNECT_TIMEOUT_MS,
			.temporary_ms = TEMPORARY_MS,
			.advert_ms = 1000,
			.auto_enable = true,
			.auto_connect = true,
		},
	};
}

int64_t model_now_ms(void)
{
	struct timespec now;

	clock_gettime(CLOCK_MONOTONIC, &now);
	return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

struct adapter *model_adapter(struct sim *sim, const char *name)
{
	for (size_t i = 0; i < SIM_ADAPTERS; i++)
		if (sim->adapters[i].present && !strcmp(sim->adapters[i].name, name))
			return &sim->adapters[i];
	return NULL;
}

struct adapter *model_first_adapter(struct sim *sim)
{
	for (size_t i = 0; i < SIM_ADAPTERS; i++)
		if (sim->adapters[i].present)
			return &sim->adapters[i];
	return NULL;
}

struct peer *model_peer(struct sim *sim, const char *address)
{
	struct peer *peer = sim->peers;

	while (peer && strcmp(peer->address, address))
		peer = peer->next;
	return peer;
}

struct peer *model_peer_new(const char *address, const char *name)
{
	struct peer *peer = put_alloc(1, sizeof(*peer));

	words_copy(peer->address, sizeof(peer->address), address);
	words_copy(peer->name, sizeof(peer->name), name);
	peer->battery_pct = -1;
	peer->rssi_dbm = -60;
	return peer;
}

struct device *model_device(struct adapter *adapter, const char *address)
{
	struct device *device = adapter->devices;

	while (device && strcmp(device->peer->address, address))
		device = device->next;
	return device;
}

struct device *model_device_new(struct adapter *adapter, struct peer *peer)
{
	struct device *device = put_alloc(1, sizeof(*device));

	device->adapter = adapter;
	device->peer = peer;
	device->temporary = true;
	device->due_ms = device->timeout_ms = device->vanish_ms = device->pair_ms = SIM_NEVER;
	device->next = adapter->devices;
	adapter->devices = device;
	return device;
}

static void drop(DBusMessage **call)
{
	if (*call)
		dbus_message_unref(*call);
	*call = NULL;
}

static void drop_calls(struct device *device)
{
	drop(&device->connect_call);
	drop(&device->disconnect_call);
	drop(&device->pair_call);
}

void model_free_states(struct device *device)
{
	if (!device->states)
		return;
	for (size_t i = 0; i < device->peer->n_attrs; i++)
		for (size_t k = 0; k < device->states[i].n_subs; k++)
			drop(&device->states[i].subs[k].call);
	free(device->states);
	device->states = NULL;
}

void model_device_free(struct device *device)
{
	struct storm *storm = &device->adapter->sim->storm;
	struct device **at = &device->adapter->devices;

	while (*at != device)
		at = &(*at)->next;
	*at = device->next;
	for (size_t i = 0; device->peer->stranger && i < storm->n; i++)
		if (storm->devices[i] == device)
			storm->devices[i--] = storm->devices[--storm->n];
	if (device->peer->link == device)
		device->peer->link = NULL;
	drop_calls(device);
	model_free_states(device);
	free(device);
}

static void peers_free(struct peer *peer)
{
	while (peer) {
		struct peer *next = peer->next;

		free(peer->attrs);
		free(peer->stored);
		free(peer);
		peer = next;
	}
}

void model_done(struct sim *sim)
{
	free(sim->storm.devices);
	sim->storm = (struct storm){ 0 };
	for (size_t i = 0; i < SIM_ADAPTERS; i++)
		while (sim->adapters[i].devices)
			model_device_free(sim->adapters[i].devices);
	peers_free(sim->peers);
	peers_free(sim->strangers);
	sim->peers = sim->strangers = NULL;
}

bool model_chr(const struct peer *peer, const char *uuid, size_t *ret)
{
	for (size_t i = 0; i < peer->n_attrs; i++) {
		if (peer->attrs[i].kind == ATTR_CHR && !strcmp(peer->attrs[i].uuid, uuid)) {
			*ret = i;
			return true;
		}
	}
	return false;
}

bool model_audible(const struct peer *peer)
{
	return peer->advertising && !peer->link;
}

bool model_connectable(const struct peer *peer)
{
	return model_audible(peer) && peer->n_attrs > 0;
}

struct part *model_part(struct peer *peer, const char *uuid, uint16_t company)
{
	struct part *part = peer->parts;

	for (size_t i = 0; i < peer->n_parts; i++, part++)
		if (!strcmp(part->uuid, uuid) && part->company == company)
			return part;
	if (peer->n_parts == SIM_PARTS)
		return NULL;
	peer->n_parts++;
	*part = (struct part){ .company = company };
	snprintf(part->uuid, sizeof(part->uuid), "%s", uuid);
	return part;
}

bool model_has_parts(const struct peer *peer, bool service)
{
	for (size_t i = 0; i < peer->n_parts; i++)
		if ((*peer->parts[i].uuid != '\0') == service)
			return true;
	return false;
}
