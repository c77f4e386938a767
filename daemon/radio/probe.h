// SPDX-License-Identifier: MIT
#pragma once
/*
 * What a device offers, for people: radio_probe(). It finds the device in BlueZ's tree of objects, connects unless
 * somebody is connected, waits for its services, reads how its characteristics are described (0x2904), tells them, and
 * ends the link if it has made it. It subscribes to nothing and writes nothing.
 * Above: radio.c. Below: bus.c, dict.c, gatt.c. An adopted scale is connected to by scale.c alone, and never disconnected:
 * the probe waits for its link.
 */
#include "mirror.h"
#include <systemd/sd-event.h>

#define PROBE_LIMIT_US UINT64_C(30000000)

enum probe_step {
	PROBE_IDLE,
	PROBE_LOOKING,    /* for the device, its link, its services */
	PROBE_CONNECTING,
	PROBE_READING,    /* its descriptions */
};

struct probe_item;

struct probe {
	sd_event *event;
	struct bus *bus;
	const struct radio_ops *ops;
	void *userdata;                  /* of ops */
	bool (*adopted)(void *owner, const char *address);
	void *owner;                     /* of adopted */
	sd_event_source *timer, *limit;  /* the next look, the end */
	struct bus_call *call;
	enum probe_step step;
	bool made;                       /* the link is ours */
	bool scans;                      /* the device hasn't been heard: discovery is wanted */
	char address[RADIO_ADDRESS_SIZE];
	char *path;                      /* of the device; or NULL */
	struct probe_item *items;        /* its characteristics and descriptors */
	size_t n_items, at;              /* at: the description that is read now */
};

/* event, bus, ops and owner outlive it. 0, or -errno of sd-event. */
int probe_init(struct probe *probe, sd_event *event, struct bus *bus, const struct radio_ops *ops, void *userdata,
	       bool (*adopted)(void *owner, const char *address), void *owner);
/* Ends without a word. */
void probe_done(struct probe *probe);
/* address in upper case. -EBUSY when one runs. ops.offer follows from the loop. */
int probe_begin(struct probe *probe, const char *address);
/* org.bluez has gone. */
void probe_lost(struct probe *probe);
