// SPDX-License-Identifier: MIT
#pragma once
/*
 * What stands between us and any scale, as far as it is known.
 * Above: radio.c. Below: what bus, tree of objects and mirror know. It logs a change.
 */
#include "bus.h"
#include "mirror.h"
#include "objects.h"

struct trouble {
	enum radio_trouble now;
	bool told; /* now is known, not just assumed */
};

/* Looks; true when it has changed, or is known for the first time. */
bool trouble_update(struct trouble *trouble, const struct bus *bus, const struct objects *objects,
		    const struct mirror *mirror);
