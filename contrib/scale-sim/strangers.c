// SPDX-License-Identifier: MIT
#include "strangers.h"
#include "bus.h"
#include "device.h"
#include "model.h"
#include "node.h"
#include "props.h"
#include "put.h"
#include "say.h"

#define CHANGES_A_TURN 64
#define BACKLOG_OCTETS 65536 /* beyond it the bus is let to catch up */
#define COMPANY 0xffff /* reserved for tests by the assigned numbers */
#define BTHOME "0000fcd2-0000-1000-8000-00805f9b34fb"

bool strangers_busy(const struct sim *sim)
{
	return sim->storm.left && sim->bus && bus_backlog(sim->bus) < BACKLOG_OCTETS;
}

void strangers_gone(struct adapter *adapter)
{
	struct storm *storm = &adapter->sim->storm;

	if (!storm->n || storm->devices[0]->adapter != adapter)
		return;
	struct storm old = *storm;
	*storm = (struct storm){ 0 };
	for (size_t i = 0; i < old.n; i++)
		device_hide(old.devices[i]);
	free(old.devices);
	for (struct peer *peer = adapter->sim->strangers, *next; peer; peer = next) {
		next = peer->next;
		free(peer);
	}
	adapter->sim->strangers = NULL;
}

static struct device *add(struct adapter *adapter, size_t i)
{
	char address[SIM_ADDRESS];

	/* The two highest bits set: a static random address, Core specification vol 6 part B 1.3.2.1 (from memory). */
	snprintf(address, sizeof(address), "F0:5A:00:00:%02X:%02X", (unsigned)(i >> 8 & 0xff), (unsigned)(i & 0xff));
	struct peer *peer = model_peer_new(address, "");
	peer->stranger = peer->random = true;
	model_part(peer, "", COMPANY)->n = 4;
	peer->next = adapter->sim->strangers;
	adapter->sim->strangers = peer;
	struct device *device = model_device_new(adapter, peer);
	device->heard = true;
	props_added(node_device(device), NULL);
	return device;
}

const char *strangers_start(struct sim *sim, size_t n, uint64_t changes)
{
	struct storm *storm = &sim->storm;
	struct adapter *adapter = storm->n ? storm->devices[0]->adapter : model_first_adapter(sim);

	if (!adapter || !sim->bus)
		return "no adapter, or bluetoothd is stopped";
	if (!n && changes)
		return "changes need devices";
	if (n < storm->n)
		strangers_gone(adapter);
	if (n > storm->n) {
		struct device **devices = put_alloc(n, sizeof(*devices));
		if (storm->n)
			memcpy(devices, storm->devices, storm->n * sizeof(*devices));
		free(storm->devices);
		storm->devices = devices;
		while (storm->n < n) {
			devices[storm->n] = add(adapter, storm->n);
			storm->n++;
		}
	}
	storm->left = changes;
	if (!changes)
		say_event(sim, "strangers-done");
	return NULL;
}

static void change(struct device *device, unsigned kind, uint64_t number, uint8_t round)
{
	struct peer *peer = device->peer;
	struct part *part;

	switch (kind) {
	case 0:
		peer->rssi_dbm = (int16_t)(-40 - round % 50);
		props_changed(node_device(device), PROPS_DEVICE, "RSSI", NULL);
		break;
	case 1:
		part = model_part(peer, "", COMPANY);
		for (size_t i = 0; i < part->n; i++)
			part->octets[i] = (uint8_t)(number >> 8 * i);
		props_changed(node_device(device), PROPS_DEVICE, "ManufacturerData", NULL);
		break;
	case 2: {
		/* BTHome 2, packet id, mass in 10 g. */
		const uint8_t data[] = { 0x40, 0x00, round, 0x06, round, 0x01 };
		part = model_part(peer, BTHOME, 0);
		memcpy(part->octets, data, sizeof(data));
		part->n = sizeof(data);
		props_changed(node_device(device), PROPS_DEVICE, "ServiceData", NULL);
		break;
	}
	}
}

void strangers_push(struct sim *sim)
{
	struct storm *storm = &sim->storm;

	for (int i = 0; i < CHANGES_A_TURN && strangers_busy(sim); i++) {
		if (!storm->n) {
			storm->left = 0; /* a client removed the last of them */
			break;
		}
		/* From round to round a device sees another kind, so its values are new each time. */
		uint64_t number = storm->sent++, at = number % storm->n, round = number / storm->n;
		change(storm->devices[at], (unsigned)((at + round) % 3), number, (uint8_t)round);
		storm->left--;
	}
	if (!storm->left && storm->sent) {
		storm->sent = 0;
		say_event(sim, "strangers-done");
	}
}
