// SPDX-License-Identifier: MIT
#pragma once
/*
 * Discovery sessions of an adapter, their filters, and who is heard. Above: adapter.c, calls.c, commands.c. Below:
 * device.h, props.h. The D-Bus calls here return the answer.
 */
#include "sim.h"

bool discovery_on(const struct adapter *adapter);
void discovery_hear_all(struct sim *sim, struct peer *peer);
/* The same with service or manufacturer data in it; changed: they differ from the last ones. */
void discovery_hear_data(struct sim *sim, struct peer *peer, bool service, bool changed);
/* Another program discovers on this adapter, with or without every repeat of data, or no longer. false: no room. */
bool discovery_by_other(struct adapter *adapter, bool on, bool duplicates);

void discovery_end_all(struct adapter *adapter); /* as at power off */
void discovery_owner_left(struct adapter *adapter, const char *owner);
void discovery_tick(struct adapter *adapter, int64_t now_ms); /* due at adapter->advert_ms */

DBusMessage *discovery_start(const struct node *node, DBusMessage *msg);
DBusMessage *discovery_stop(const struct node *node, DBusMessage *msg);
DBusMessage *discovery_set_filter(const struct node *node, DBusMessage *msg);
DBusMessage *discovery_get_filters(const struct node *node, DBusMessage *msg);
