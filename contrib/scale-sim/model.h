// SPDX-License-Identifier: MIT
#pragma once
/*
 * Making, finding and freeing what sim.h describes, and the clock. No signals are sent from here. Above: everybody.
 * Below: put_alloc.
 */
#include "sim.h"

void model_init(struct sim *sim);
void model_done(struct sim *sim); /* drops pending calls unanswered */

int64_t model_now_ms(void); /* monotonic */

struct adapter *model_adapter(struct sim *sim, const char *name);   /* plugged in, or NULL */
struct adapter *model_first_adapter(struct sim *sim);               /* or NULL */
struct peer *model_peer(struct sim *sim, const char *address);      /* a defined scale, or NULL */
struct peer *model_peer_new(const char *address, const char *name); /* the caller links it into a list */
struct device *model_device(struct adapter *adapter, const char *address);
struct device *model_device_new(struct adapter *adapter, struct peer *peer); /* temporary, silent */
/* Unlinks and frees; pending calls must have been answered (or are dropped). */
void model_device_free(struct device *device);
void model_free_states(struct device *device);
/* Row of the first characteristic with this UUID; false when there is none. */
bool model_chr(const struct peer *peer, const char *uuid, size_t *ret);
/* What it broadcasts under this UUID ("": of this company); made empty when it's new. NULL: no room. */
struct part *model_part(struct peer *peer, const char *uuid, uint16_t company);
/* Whether there are service data, or manufacturer data. */
bool model_has_parts(const struct peer *peer, bool service);
/* Answers who connects: what has no services only broadcasts. */
bool model_connectable(const struct peer *peer);
/* Audible now: advertises, and nobody is connected to it. */
bool model_audible(const struct peer *peer);
