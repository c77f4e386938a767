// SPDX-License-Identifier: MIT
#pragma once
/*
 * Another program on the bus that subscribes to a device: its values are then signalled to whoever listens.
 * Above: the tests. Below: libdbus.
 */
struct rig;
struct stranger;

/* Connects the device of hci0 that has this address and subscribes to its first characteristic 0x2A9D, for as long as
 * it isn't freed. Waits for both. */
struct stranger *stranger_subscribe(struct rig *rig, const char *address);
struct stranger *stranger_free(struct stranger *stranger); /* takes NULL, returns NULL */
/* Asks everybody on the bus, as if it were bluetoothd, for the passkey of a device of hci0 that has this address. Returns
 * how many gave one. */
unsigned stranger_ask_agents(struct rig *rig, const char *address);
