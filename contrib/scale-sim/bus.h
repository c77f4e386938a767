// SPDX-License-Identifier: MIT
#pragma once
/*
 * The connection to the system bus under the name org.bluez, and libdbus's watches for a poll loop. Above: main.c,
 * and whoever sends. Below: libdbus; calls.h takes what comes in. Needs no timeouts: the one call that we make of
 * a client has none.
 */
#include "sim.h"
#include <poll.h>

#define BUS_WATCHES 8

struct bus;

/* Connects afresh (so with a new unique name), and takes the name. false: says why on standard error. */
bool bus_open(struct sim *sim, struct bus **ret);
/* Leaves the bus, as a daemon that ended: callers in waiting get NoReply from the bus. Takes NULL. Returns NULL. */
struct bus *bus_close(struct bus *bus);
const char *bus_name(const struct bus *bus);

/* Fills fds with what libdbus waits for; returns how many. */
size_t bus_poll_set(struct bus *bus, struct pollfd fds[static BUS_WATCHES]);
/* Handles what poll() found in that set, and some messages. */
void bus_handle(struct bus *bus, const struct pollfd *fds, size_t n);
/* Messages wait to be dispatched: don't block in poll(). */
bool bus_busy(struct bus *bus);

/* Takes msg over. With bus NULL it's dropped. */
void bus_send(struct bus *bus, DBusMessage *msg);
/* Answers *call if there is one, and clears it. name NULL: success, without a value; else as in put_error(). */
void bus_answer(struct bus *bus, DBusMessage **call, const char *name, const char *text);
/* Octets that the bus hasn't taken yet. */
size_t bus_backlog(struct bus *bus);
/* A call without time limit; NULL when the connection is lost. msg stays the caller's. */
DBusPendingCall *bus_call(struct bus *bus, DBusMessage *msg, DBusPendingCallNotifyFunction notify, void *userdata);
