// SPDX-License-Identifier: MIT
#pragma once
/*
 * What a hostile org.bluez says. Above: hostile.c. Below: libdbus. Everything is drawn from one seed.
 */
#include <dbus/dbus.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#define HOSTILE_ADAPTER "/org/bluez/hci0"
#define HOSTILE_DEVICE HOSTILE_ADAPTER "/dev_02_00_00_00_0A_01" /* the adopted scale */
#define HOSTILE_VALUE HOSTILE_DEVICE "/service0015/char0016"    /* its 0x2A9D */
#define HOSTILE_LATE 16

struct hostile {
	uint64_t random;
	DBusConnection *connection, *imposter;
	char bismard[64]; /* its unique name; "" before it has called */
	bool honest;      /* answers as bluetoothd would */
	bool subscribed;  /* bismard has, while honest */
	DBusMessage *late[HOSTILE_LATE];
	size_t n_late;
};

uint64_t hostile_draw(struct hostile *hostile);
unsigned hostile_below(struct hostile *hostile, unsigned n); /* 0..n - 1 */
bool hostile_chance(struct hostile *hostile, unsigned percent);

/* Ends the program when there is no bus. */
void hostile_connect(struct hostile *hostile);
void hostile_disconnect(struct hostile *hostile);
/* A connection of another unique name, without org.bluez, as after a restart. */
void hostile_come_again(struct hostile *hostile);
/* Takes the name org.bluez, or gives it back. */
void hostile_own(struct hostile *hostile, bool own);

/* As bluetoothd with one connected scale would, or anything at all. */
void hostile_answer(struct hostile *hostile, DBusMessage *call, bool well);
/* PropertiesChanged with a Value, well formed. */
void hostile_value(struct hostile *hostile, DBusConnection *connection, const char *path, const uint8_t *octets,
		   size_t n);

/* One message each, or some. */
void hostile_added(struct hostile *hostile);
void hostile_removed(struct hostile *hostile);
void hostile_changed(struct hostile *hostile);
void hostile_reply_to_nobody(struct hostile *hostile);
void hostile_call(struct hostile *hostile);  /* the agent's and the profile's methods, and none */
void hostile_crowd(struct hostile *hostile); /* hundreds of strangers */
void hostile_flap(struct hostile *hostile);  /* connected, not, resolved, not */
