// SPDX-License-Identifier: MIT
#pragma once
/*
 * One device object: the life of its link, its pairing, and when it vanishes. Above: adapter.c, calls.c, commands.c.
 * Below: chr.h for subscriptions, props.h for signals. The D-Bus calls here return the answer, or NULL and keep
 * msg until there is one.
 */
#include "sim.h"

/* Service UUIDs in the advertisement; and the Device1.UUIDs of an object. uuids has room for SIM_ATTRS pointers, which
 * stay the peer's. Both return how many. */
size_t device_advertised(const struct peer *peer, const char **uuids);
size_t device_services(const struct device *device, const char **uuids);

/* The link ends, or the attempt to make one: signals, and errors to the calls in waiting. Nothing when down. */
void device_down(struct device *device);
/* The link is lost and back before bluetoothd has looked: it takes the new one for the old (seen with 5.66). */
void device_mistake(struct device *device);
/* Answers what waits with an error, and no signal. */
void device_fail_calls(struct device *device);
/* Off the bus, with its services. A temporary device is freed, a known one is kept for the adapter's return. */
void device_hide(struct device *device);
/* Off the bus, and forgotten. Frees it. */
void device_remove(struct device *device);
void device_owner_left(struct device *device, const char *owner);
/* Reads and writes and indications can pass. */
bool device_ready(const struct device *device);

void device_tick(struct device *device, int64_t now_ms); /* may free it */
int64_t device_due(const struct device *device);

DBusMessage *device_connect(const struct node *node, DBusMessage *msg);
DBusMessage *device_disconnect(const struct node *node, DBusMessage *msg);
DBusMessage *device_pair(const struct node *node, DBusMessage *msg);
DBusMessage *device_cancel_pairing(const struct node *node, DBusMessage *msg);
