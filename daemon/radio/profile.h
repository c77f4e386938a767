// SPDX-License-Identifier: MIT
#pragma once
/*
 * What makes BlueZ connect by itself to a known scale that wakes for a few seconds: a GattProfile1
 * object of ours, offered through GattManager1, says "connect to whatever has these services"
 * (facts, 7.4). Above: radio.c. Below: bus.c. Without it all still works, by scanning; so failures
 * are of interest to debuggers only.
 */
#include "bus.h"
#include "mirror.h"

/* Registers on every adapter that has power and doesn't have it, or takes it back. */
void profile_update(struct bus *bus, struct mirror *mirror, bool wanted);
/* Answers a call for one of our objects; false when it isn't one. */
bool profile_method(struct bus *bus, DBusMessage *message);
void profile_adapter_gone(struct mirror_adapter *adapter);
