// SPDX-License-Identifier: MIT
#pragma once
/*
 * Results that a scale had kept come at once when it is connected, before its clock could be read, which alone tells
 * when they were weighed. They wait here for that, UNDATED_MS at most.
 * Above: frames.c, desk.c. Below: passage.c, weigh/stamp.
 *
 * bluetoothd has confirmed them to the scale: while they wait, for some tenths of a second mostly, this is their only
 * copy.
 */
#include "daemon/desk/passage.h"

struct desk;

/* A scale that has no clock to be read is waited for as long. Our judgement. */
#define UNDATED_MS 2000

/* True: it waits. False: there is nothing to wait for, or no room (LIMIT_PENDING_FRAMES). */
bool undated_hold(struct desk *desk, const struct passage *passage);
/* The scale's clock was read, or won't be any more: those that waited for it go on, in their order. NULL: all. */
void undated_release(struct desk *desk, const char *scale_id);
