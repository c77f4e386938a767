// SPDX-License-Identifier: MIT
#pragma once
/*
 * Values of characteristics and descriptors, and who is subscribed. Above: device.c, calls.c, commands.c. Below:
 * props.h, bus.h. A notify session belongs to a bus client, outlives the link, and is registered again on each one.
 */
#include "sim.h"

/* Registers the sessions that aren't, on a resolved link; answers StartNotify calls that wait. */
void chr_settle(struct device *device);
/* No session is registered any more; those still waiting for StartNotify end with an error. */
void chr_link_down(struct device *device);
void chr_owner_left(struct device *device, const char *owner);
/* A value from the scale arrives. false: nobody is subscribed on this link. */
bool chr_deliver(struct device *device, size_t attr, const uint8_t *octets, size_t n);
/* Live sessions of a device. */
size_t chr_live(const struct device *device);

DBusMessage *chr_read(const struct node *node, DBusMessage *msg); /* descriptors too */
DBusMessage *chr_write(const struct node *node, DBusMessage *msg);
DBusMessage *chr_start_notify(const struct node *node, DBusMessage *msg);
DBusMessage *chr_stop_notify(const struct node *node, DBusMessage *msg);
DBusMessage *chr_acquire(const struct node *node, DBusMessage *msg);
