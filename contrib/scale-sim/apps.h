// SPDX-License-Identifier: MIT
#pragma once
/*
 * What clients register: GATT applications (GattManager1) and pairing agents (AgentManager1). Above: calls.c, device.c,
 * adapter.c. Below: bus.h. Of an application only the UUIDs of its GattProfile1 objects matter here.
 */
#include "sim.h"

/* An application on this adapter asks for auto connection to a service of device. */
bool apps_want(const struct adapter *adapter, const struct device *device);
const struct agent *apps_agent(struct sim *sim, const char *owner); /* NULL: that client has none */
void apps_drop(struct adapter *adapter); /* all, without a word */
void apps_owner_left(struct sim *sim, const char *owner);

DBusMessage *apps_register(const struct node *node, DBusMessage *msg);
DBusMessage *apps_unregister(const struct node *node, DBusMessage *msg);
DBusMessage *apps_register_agent(const struct node *node, DBusMessage *msg);
DBusMessage *apps_unregister_agent(const struct node *node, DBusMessage *msg);
DBusMessage *apps_default_agent(const struct node *node, DBusMessage *msg);
