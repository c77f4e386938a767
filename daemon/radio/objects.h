// SPDX-License-Identifier: MIT
#pragma once
/*
 * Reading BlueZ's tree of objects into the mirror, again when it fails.
 * Above: radio.c. Below: bus.c, mirror.c.
 */
#include "bus.h"
#include "mirror.h"

#define OBJECTS_MANAGER "org.freedesktop.DBus.ObjectManager"

struct objects {
	struct bus *bus;
	struct mirror *mirror;
	/* A reading has come to its end; reply is NULL when it failed. */
	void (*done)(void *userdata, DBusMessage *reply);
	void *userdata;
	sd_event_source *timer; /* for the next try */
	struct bus_call *call;
	bool again;  /* another reading was asked for after this one had begun */
	bool loaded; /* the mirror shows this owner of org.bluez */
	bool denied; /* the bus's policy forbids it */
	unsigned failures;
};

/* 0, or -errno of sd-event. bus and mirror outlive it. */
int objects_init(struct objects *objects, sd_event *event, struct bus *bus, struct mirror *mirror,
		 void (*done)(void *userdata, DBusMessage *reply), void *userdata);
void objects_done(struct objects *objects);
/* Reads; done is called later. Does nothing when nobody owns org.bluez. */
void objects_read(struct objects *objects);
/* A reading is under way. */
bool objects_pending(const struct objects *objects);
/* The owner of org.bluez has gone, or is another one. */
void objects_forget(struct objects *objects);
