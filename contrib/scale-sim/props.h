// SPDX-License-Identifier: MIT
#pragma once
/*
 * Properties on the bus: the answers of Get, GetAll, GetManagedObjects, and the signals InterfacesAdded,
 * InterfacesRemoved and PropertiesChanged. Above: calls.c and whoever changes a property. Below: show.h, bus.h.
 * Signals are sent at once, so before the answer of the call that caused them, as bluetoothd's are.
 */
#include "sim.h"

#define PROPS_ADAPTER "org.bluez.Adapter1"
#define PROPS_DEVICE "org.bluez.Device1"
#define PROPS_BATTERY "org.bluez.Battery1"
#define PROPS_CHR "org.bluez.GattCharacteristic1"
#define PROPS_DESC "org.bluez.GattDescriptor1"

bool props_has_iface(const struct node *node, const char *iface);
/* The object's interfaces as a{sa{sv}}; only this one when iface isn't NULL. */
void props_put_ifaces(DBusMessageIter *iter, const struct node *node, const char *iface);
/* a{sv}; empty for an interface without properties. */
void props_put_all(DBusMessageIter *iter, const struct node *node, const char *iface);
/* A variant; false when there is no such property now. */
bool props_put_one(DBusMessageIter *iter, const struct node *node, const char *iface, const char *name);
/* Signature of a property, or NULL. */
const char *props_signature(const struct node *node, const char *iface, const char *name);

/* Names end with NULL; one that doesn't exist now is listed as invalidated. */
void props_changed(struct node node, const char *iface, ...) __attribute__((sentinel));
/* iface NULL: all of the object's. */
void props_added(struct node node, const char *iface);
void props_removed(struct node node, const char *iface);
