// SPDX-License-Identifier: MIT
#pragma once
/*
 * Scanning: one discovery session on each powered adapter while anything is to be heard.
 * Above: radio.c. Below: bus.c, mirror.c (its state stands in the adapter). It looks at no device.
 * What fails is tried again after 1, 2, 4 ... 60 s.
 */
#include "bus.h"
#include "mirror.h"

struct discovery {
	sd_event *event;
	struct bus *bus;
	struct mirror *mirror;
	sd_event_source *timer;
	bool wanted;
};

/* 0, or -errno of sd-event. event, bus and mirror outlive it. */
int discovery_init(struct discovery *discovery, sd_event *event, struct bus *bus,
		   struct mirror *mirror);
/* The adapters are gone by now. */
void discovery_done(struct discovery *discovery);
/* Starts or stops what has to be, on all adapters as they are now. */
void discovery_update(struct discovery *discovery, bool wanted);
/* Keeps it off one adapter, 10 s at the longest; or no longer. */
void discovery_pause(struct discovery *discovery, struct mirror_adapter *adapter, bool pause);
void discovery_adapter_gone(struct mirror_adapter *adapter);
