// SPDX-License-Identifier: MIT
#pragma once
/*
 * Method calls from the bus: finds object, interface and method, checks the signature, and answers. Above: bus.c.
 * Below: the files whose calls its table names.
 */
#include "sim.h"

/* The answer, the caller's to send; or NULL: it comes later. */
DBusMessage *calls_handle(struct sim *sim, DBusMessage *msg);
/* A bus name has no owner any more: bluetoothd keeps nothing for a client that left. */
void calls_owner_left(struct sim *sim, const char *name);
