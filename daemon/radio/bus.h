// SPDX-License-Identifier: MIT
#pragma once
/*
 * A connection of our own to the system bus, and who owns org.bluez there.
 * Above: the rest of this room. Below: radio/glue.c, libdbus. It knows no object of BlueZ's.
 *
 * It never blocks: the socket is opened and Hello is called like any other method
 * (dbus_bus_get_private() would wait for the answer, and a daemon that waits for a hanging bus
 * answers nobody). A missing or lost bus is tried again after 1, 2, 4, 8 s and so on, forever;
 * nothing here ends the process.
 *
 * Signals are passed up only when they come from the connection that owns org.bluez: any user of
 * the bus can send us a signal that looks like a measurement.
 */
#include <dbus/dbus.h>
#include <stdbool.h>
#include <stdint.h>
#include <systemd/sd-event.h>

#define BUS_BLUEZ "org.bluez"

struct bus;
struct bus_call;

/* All called from the loop. None may free the bus. */
struct bus_ops {
	/* On the bus, before it is asked for org.bluez: the time to add match rules. Or not any
	 * more: every call has been dropped, without an answer. */
	void (*state)(void *userdata, bool up);
	/* Whether somebody owns org.bluez now. A new owner is told as false, then true. */
	void (*owner)(void *userdata, bool present);
	/* A signal from org.bluez. */
	void (*signal)(void *userdata, DBusMessage *message);
	/* A method call for us; false: not ours, answered as unknown. */
	bool (*method)(void *userdata, DBusMessage *message);
};

/* The answer to a call: a method return, or an error, libdbus's own included (time-out, connection
 * lost). */
typedef void bus_reply_fn(void *userdata, DBusMessage *reply);

/* ops is kept, not copied. Tries to connect from the loop's next turn on. 0, -ENOMEM, -errno of
 * sd-event. */
int bus_new(sd_event *event, const struct bus_ops *ops, void *userdata, struct bus **ret);
/* Drops all calls; no callback fires any more. Not from inside a callback of its own. Takes NULL;
 * returns NULL. */
struct bus *bus_free(struct bus *bus);

bool bus_is_up(const struct bus *bus);
/* An attempt to connect has failed since it was up last, or since the start. */
bool bus_has_failed(const struct bus *bus);
/* Nobody owns org.bluez, and the bus has said so. */
bool bus_lacks_owner(const struct bus *bus);

/* message comes from the connection that owns org.bluez. */
bool bus_from_owner(const struct bus *bus, DBusMessage *message);

/* A method call to the owner of org.bluez, by its unique name: it starts no service, and never
 * reaches another owner. NULL: no owner, or no memory. */
DBusMessage *bus_method(struct bus *bus, const char *path, const char *interface,
			const char *member);
/*
 * Sends a call. Takes over message, also on failure; NULL is -ENOTCONN. timeout_ms: -1 is libdbus's
 * 25 s. *slot is the owner's handle: not NULL while the answer is due, NULL again before fn is
 * called. The owner must bus_cancel() it before it goes away. 0, -ENOTCONN, -ENOMEM: then fn isn't
 * called, *slot is NULL.
 */
int bus_call(struct bus *bus, DBusMessage *message, int timeout_ms, bus_reply_fn *fn,
	     void *userdata, struct bus_call **slot);
/* The answer isn't wanted any more. *slot may be NULL. */
void bus_cancel(struct bus_call **slot);
/* Sends a call whose answer nobody wants, or an answer. Takes over message; NULL is fine. */
void bus_send(struct bus *bus, DBusMessage *message);

/* Adds a match rule, or takes it back. A lost bus forgets them all: add them again when it is up.
 */
void bus_match(struct bus *bus, const char *rule, bool wanted);

/* True when reply is an error; then *ret_name is its name, *ret_text its text ("" when it has
 * none). */
bool bus_failed(DBusMessage *reply, const char **ret_name, const char **ret_text);
