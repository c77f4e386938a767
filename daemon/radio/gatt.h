// SPDX-License-Identifier: MIT
#pragma once
/*
 * Calls of GattCharacteristic1 and GattDescriptor1 that several files make, and what their errors mean.
 * Above: subscribe.c, current_time.c, consent.c, probe.c. Below: bus.c.
 */
#include "bus.h"
#include <stddef.h>

/* ReadValue without options. interface: MIRROR_CHARACTERISTIC or MIRROR_DESCRIPTOR. NULL as bus_method(). */
DBusMessage *gatt_read(struct bus *bus, const char *path, const char *interface);
/* WriteValue of a characteristic, with response. NULL as bus_method(). */
DBusMessage *gatt_write(struct bus *bus, const char *path, const uint8_t *octets, size_t n);

/* Whether an error of a call on an attribute says that the scale wants a bond (facts, 7.5: NotAuthorized, NotPermitted;
 * or the ATT errors for insufficient authentication, authorization, key size and encryption). */
bool gatt_is_unpaired(const char *name, const char *text);
