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
/* Discovers on hci0, for devices with this service alone and not weaker than -60 dBm, until it is freed. */
struct stranger *stranger_scan(struct rig *rig, const char *uuid);
/* Asks bluetoothd to power hci0 on; returns the name of the error, "" when it is done. */
const char *stranger_power_on(struct rig *rig);
struct stranger *stranger_free(struct stranger *stranger); /* takes NULL, returns NULL */
/* Asks everybody on the bus, as if it were bluetoothd, for the passkey of a device of hci0 that has this address. Returns
 * how many gave one. */
unsigned stranger_ask_agents(struct rig *rig, const char *address);
