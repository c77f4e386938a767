// SPDX-License-Identifier: MIT
#pragma once
/*
 * libdbus on an sd-event loop: its watches, its timeouts and its queue of messages.
 * Above: radio/bus.c. Below: libdbus, sd-event. It looks into no message.
 *
 * Two facts shape it. libdbus hands out two watches on one descriptor, and epoll (so sd-event)
 * takes a descriptor once: there is one source for each descriptor, its mask recomputed from all
 * enabled watches. And messages are dispatched in a later turn of the loop, one a turn, never from
 * inside a watch: what a handler does to the connection can't pull the watch away from under
 * libdbus, and other sources get their turn.
 */
#include <dbus/dbus.h>
#include <systemd/sd-event.h>

struct glue;

/* Takes a reference on both. 0, -ENOMEM, or -errno of sd-event. */
int glue_new(sd_event *event, DBusConnection *connection, struct glue **ret);
/* Lets go of the connection, which stays open. Not from inside a message handler. Takes NULL;
 * returns NULL. */
struct glue *glue_free(struct glue *glue);
