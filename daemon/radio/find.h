// SPDX-License-Identifier: MIT
#pragma once
/*
 * One look around for scales that aren't adopted: what GetManagedObjects and InterfacesAdded tell
 * of strangers within a window of time. Above: radio.c, which scans and reads the tree. Below:
 * dict.c. It keeps addresses only, and those only until the window closes.
 */
#include "mirror.h"
#include "objects.h"

#define FIND_REPORTED_MAX 64

struct find {
	sd_event_source *timer; /* the end of the window */
	uint64_t end_us;
	struct objects *objects;
	const struct mirror *mirror;
	const struct radio_ops *ops;
	void *userdata;
	bool running;
	bool closing; /* the window is over, the last reading of the tree is under way */
	size_t n_reported;
	char reported[FIND_REPORTED_MAX][RADIO_ADDRESS_SIZE];
};

/* 0, or -errno of sd-event. The rest outlives it. */
int find_init(struct find *find, sd_event *event, struct objects *objects,
	      const struct mirror *mirror, const struct radio_ops *ops, void *userdata);
void find_done(struct find *find);
/* Opens a window, or makes it longer; everything is reported again. The tree has to be read then.
 */
void find_begin(struct find *find, unsigned seconds);
/* The tree was read; reply: the answer to GetManagedObjects, or NULL when it failed. */
void find_tree(struct find *find, DBusMessage *reply);
/* An InterfacesAdded. */
void find_added(struct find *find, DBusMessage *signal);
/* Closes it, and tells so, if one is open. */
void find_end(struct find *find);
