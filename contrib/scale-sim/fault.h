// SPDX-License-Identifier: MIT
#pragma once
/* What `hold` and `fail` do to a scale. Above: device.c, chr.c, commands.c. Below: say.h. */
#include "sim.h"

/* "connect", "resolve", ...; false for another word. */
bool fault_step(const char *word, enum step *ret);
/* The next count attempts fail. text NULL: as BlueZ puts it; "org.bluez.Error.X" and perhaps a text after a blank;
 * or a text for org.bluez.Error.Failed. false: no legal error. */
bool fault_set(struct peer *peer, enum step step, unsigned count, const char *text);
/* This attempt fails: counts it down. NULL: it doesn't. */
const struct fault *fault_take(struct peer *peer, enum step step);
/* The step is held; says so once an attempt (said may be NULL: don't say). */
bool fault_held(const struct peer *peer, enum step step, bool *said, const struct sim *sim);
