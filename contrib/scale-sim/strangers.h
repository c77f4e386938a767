// SPDX-License-Identifier: MIT
#pragma once
/*
 * A storm of other people's devices, as if another program were scanning: their objects, and changes of RSSI,
 * ManufacturerData and ServiceData. The service data are well-formed BTHome masses (a format that the collector
 * reads) from devices that nobody adopted. Above: commands.c, main.c, adapter.c. Below: props.h, bus.h.
 */
#include "sim.h"

/* n devices (0: all of them go) and so many changes. NULL, or what is wrong. */
const char *strangers_start(struct sim *sim, size_t n, uint64_t changes);
/* Sends some of the changes that are left, unless the bus has enough to do. */
void strangers_push(struct sim *sim);
/* There is something to send now, or as soon as the bus takes it. */
bool strangers_busy(const struct sim *sim);
/* Those of this adapter go, without a signal for those already hidden. */
void strangers_gone(struct adapter *adapter);
