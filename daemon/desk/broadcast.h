// SPDX-License-Identifier: MIT
#pragma once
/*
 * BTHome broadcasts of an adopted scale: unsealed, counted, made results or samples, and their buttons pressed.
 * Above: frames.c. Below: protocols/bthome, keys.c, seal.c, passage.c, stream.c, buttons.c.
 *
 * What says that it is sent when something happens ("trigger") is a result; what is sent at an interval is a sample.
 */
#include "daemon/desk/roster.h"
#include "daemon/radio/radio.h"

struct desk;

/* Frames without any effect (refused, or known already) of which the ledger takes a note, in a minute. */
#define BROADCAST_NOISE 10

void broadcast_take(struct desk *desk, struct roster_scale *scale, const struct radio_frame *frame);
