// SPDX-License-Identifier: MIT
#pragma once
/*
 * A loss that the log shows by itself, whatever the growth model makes of it. The model looks for pups that stop or
 * lose some per cent a day; one that dries out loses that in hours, and its readings look to the model like another
 * pup's. Above: concern_growth. Below: drop (the limits), concern_change, what rules share. Pure.
 */
#include "daemon/litter/concern_change.h"

struct concern_drop {
	enum concern_level level;
	struct concern_change change; /* what is told; its newest reading counts, marked by the model or not */
};

/* True when its newest reading is so far below those of the last 60 hours. Those of the first day of life don't count
 * while it is younger than 72 hours: newborns may lose. */
bool concern_drop_of(const struct concern_view *view, struct concern_drop *ret);
