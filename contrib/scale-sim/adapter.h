// SPDX-License-Identifier: MIT
#pragma once
/*
 * An adapter's coming, going and power. Above: calls.c, commands.c, main.c. Below: discovery.h, device.h, props.h.
 */
#include "sim.h"

/* NULL: no slot is left, or the name or address is in use. Known devices of this address come back. */
struct adapter *adapter_plug(struct sim *sim, const char *name, const char *address);
/* abrupt: only the adapter's own removal is signalled. */
void adapter_unplug(struct adapter *adapter, bool abrupt);
void adapter_set_power(struct adapter *adapter, bool powered);
/* By rfkill: off, and not to be powered on; released, bluetoothd powers it as it was (set auto-enable). */
void adapter_block(struct adapter *adapter, bool blocked);
/* Forgets what bluetoothd keeps in memory alone; for when it isn't on the bus. */
void adapter_reset(struct adapter *adapter);
/* Before the reset, and after it: links stay up in the kernel, and no services will ever be told of them. */
void adapter_keep_links(struct adapter *adapter);
void adapter_take_links(struct adapter *adapter);
/* Shows all of it anew, as bluetoothd does after its start. */
void adapter_show(struct adapter *adapter);
void adapter_owner_left(struct adapter *adapter, const char *owner);

void adapter_tick(struct adapter *adapter, int64_t now_ms);
int64_t adapter_due(const struct adapter *adapter); /* next time that the tick has something to do */

DBusMessage *adapter_remove_device(const struct node *node, DBusMessage *msg);
