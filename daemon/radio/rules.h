// SPDX-License-Identifier: MIT
#pragma once
/*
 * Which signals of BlueZ's we want: objects that come and go, and what changes on our adapters and
 * on adopted scales. Nothing of a stranger's but his coming and going: a street full of phones
 * never wakes us. Above: radio.c. Below: bus.c.
 */
#include "scale.h"

struct rule;

struct rules {
	struct bus *bus;
	struct rule *first;
	bool grown;
};

/* For the adapters and devices of the mirror and the scales of the list. true: there is a new rule,
 * and what it covers may have changed unseen just before; read the tree again. */
bool rules_update(struct rules *rules, const struct mirror *mirror, const struct scale *scales);
/* Tells all of them to a bus that has just come up. */
void rules_tell(const struct rules *rules);
void rules_done(struct rules *rules);
