// SPDX-License-Identifier: MIT
#include "bus.h"
#include "calls.h"
#include "put.h"

#define MESSAGES_A_TURN 64 /* then standard input has its turn */
/* Only those who left: a name without new owner. */
#define LEFT_RULE                                                                                                      \
	"type='signal',sender='" DBUS_SERVICE_DBUS "',interface='" DBUS_INTERFACE_DBUS                                 \
	"',member='NameOwnerChanged',arg2=''"

struct bus {
	struct sim *sim;
	DBusConnection *connection;
	DBusWatch *watches[BUS_WATCHES]; /* libdbus makes two for one fd; poll() doesn't mind */
	size_t n_watches;
	DBusWatch *polled[BUS_WATCHES]; /* of the last bus_poll_set() */
};

static dbus_bool_t add_watch(DBusWatch *watch, void *userdata)
{
	struct bus *bus = userdata;

	if (bus->n_watches == BUS_WATCHES)
		return FALSE;
	bus->watches[bus->n_watches++] = watch;
	return TRUE;
}

static bool has_watch(const struct bus *bus, const DBusWatch *watch)
{
	for (size_t i = 0; i < bus->n_watches; i++)
		if (bus->watches[i] == watch)
			return true;
	return false;
}

static void remove_watch(DBusWatch *watch, void *userdata)
{
	struct bus *bus = userdata;

	for (size_t i = 0; i < bus->n_watches; i++)
		if (bus->watches[i] == watch)
			bus->watches[i--] = bus->watches[--bus->n_watches];
}

static DBusHandlerResult filter(DBusConnection *connection, DBusMessage *msg, void *userdata)
{
	struct bus *bus = userdata;
	const char *name, *old, *new;

	(void)connection;
	if (dbus_message_is_signal(msg, DBUS_INTERFACE_LOCAL, "Disconnected")) {
		fputs("scale-sim: the bus is gone\n", stderr);
		bus->sim->quit = true;
		bus->sim->exit_status = 1;
		return DBUS_HANDLER_RESULT_HANDLED;
	}
	if (dbus_message_is_signal(msg, DBUS_INTERFACE_DBUS, "NameOwnerChanged") &&
	    dbus_message_get_args(msg, NULL, DBUS_TYPE_STRING, &name, DBUS_TYPE_STRING, &old, DBUS_TYPE_STRING, &new,
				  DBUS_TYPE_INVALID) &&
	    !*new) {
		calls_owner_left(bus->sim, name);
		return DBUS_HANDLER_RESULT_HANDLED;
	}
	if (dbus_message_get_type(msg) != DBUS_MESSAGE_TYPE_METHOD_CALL)
		return DBUS_HANDLER_RESULT_NOT_YET_HANDLED;
	DBusMessage *reply = calls_handle(bus->sim, msg);
	if (reply && !dbus_message_get_no_reply(msg))
		bus_send(bus, reply);
	else if (reply)
		dbus_message_unref(reply);
	return DBUS_HANDLER_RESULT_HANDLED;
}

static bool take_name(struct bus *bus)
{
	DBusError error = DBUS_ERROR_INIT;

	dbus_bus_add_match(bus->connection, LEFT_RULE, &error);
	int got = dbus_error_is_set(&error)
			  ? -1
			  : dbus_bus_request_name(bus->connection, "org.bluez", DBUS_NAME_FLAG_DO_NOT_QUEUE, &error);
	if (got == DBUS_REQUEST_NAME_REPLY_PRIMARY_OWNER)
		return true;
	fprintf(stderr, "scale-sim: can't own org.bluez: %s\n",
		dbus_error_is_set(&error) ? error.message : "somebody else does");
	dbus_error_free(&error);
	return false;
}

bool bus_open(struct sim *sim, struct bus **ret)
{
	DBusError error = DBUS_ERROR_INIT;
	struct bus *bus = put_alloc(1, sizeof(*bus));

	bus->sim = sim;
	bus->connection = dbus_bus_get_private(DBUS_BUS_SYSTEM, &error);
	if (!bus->connection) {
		fprintf(stderr, "scale-sim: no bus at DBUS_SYSTEM_BUS_ADDRESS: %s\n", error.message);
		dbus_error_free(&error);
		free(bus);
		return false;
	}
	dbus_connection_set_exit_on_disconnect(bus->connection, FALSE);
	if (!dbus_connection_set_watch_functions(bus->connection, add_watch, remove_watch, NULL, bus, NULL) ||
	    !dbus_connection_add_filter(bus->connection, filter, bus, NULL))
		put_oom();
	if (!take_name(bus)) {
		bus_close(bus);
		return false;
	}
	*ret = bus;
	return true;
}

struct bus *bus_close(struct bus *bus)
{
	if (!bus)
		return NULL;
	dbus_connection_remove_filter(bus->connection, filter, bus);
	dbus_connection_flush(bus->connection);
	dbus_connection_close(bus->connection);
	dbus_connection_unref(bus->connection);
	free(bus);
	return NULL;
}

const char *bus_name(const struct bus *bus)
{
	return dbus_bus_get_unique_name(bus->connection);
}

size_t bus_poll_set(struct bus *bus, struct pollfd fds[static BUS_WATCHES])
{
	size_t n = 0;

	for (size_t i = 0; bus && i < bus->n_watches; i++) {
		if (!dbus_watch_get_enabled(bus->watches[i]))
			continue;
		unsigned flags = dbus_watch_get_flags(bus->watches[i]);
		int events = (flags & DBUS_WATCH_READABLE ? POLLIN : 0) | (flags & DBUS_WATCH_WRITABLE ? POLLOUT : 0);
		fds[n] = (struct pollfd){ .fd = dbus_watch_get_unix_fd(bus->watches[i]), .events = (short)events };
		bus->polled[n++] = bus->watches[i];
	}
	return n;
}

void bus_handle(struct bus *bus, const struct pollfd *fds, size_t n)
{
	for (size_t i = 0; i < n; i++) {
		unsigned flags = (fds[i].revents & POLLIN ? DBUS_WATCH_READABLE : 0u) |
				 (fds[i].revents & POLLOUT ? DBUS_WATCH_WRITABLE : 0u) |
				 (fds[i].revents & POLLHUP ? DBUS_WATCH_HANGUP : 0u) |
				 (fds[i].revents & POLLERR ? DBUS_WATCH_ERROR : 0u);
		/* Handling one watch may remove the next. */
		if (flags && has_watch(bus, bus->polled[i]))
			dbus_watch_handle(bus->polled[i], flags);
	}
	for (int i = 0; i < MESSAGES_A_TURN && bus_busy(bus); i++)
		dbus_connection_dispatch(bus->connection);
}

bool bus_busy(struct bus *bus)
{
	return bus && dbus_connection_get_dispatch_status(bus->connection) == DBUS_DISPATCH_DATA_REMAINS;
}

void bus_send(struct bus *bus, DBusMessage *msg)
{
	if (bus && !dbus_connection_send(bus->connection, msg, NULL))
		put_oom();
	dbus_message_unref(msg);
}

void bus_answer(struct bus *bus, DBusMessage **call, const char *name, const char *text)
{
	DBusMessage *msg = *call;

	if (!msg)
		return;
	*call = NULL;
	if (!dbus_message_get_no_reply(msg))
		bus_send(bus, name ? put_error(msg, name, text) : put_ok(msg));
	dbus_message_unref(msg);
}

size_t bus_backlog(struct bus *bus)
{
	return (size_t)dbus_connection_get_outgoing_size(bus->connection);
}

DBusPendingCall *bus_call(struct bus *bus, DBusMessage *msg, DBusPendingCallNotifyFunction notify, void *userdata)
{
	DBusPendingCall *pending = NULL;

	if (!bus)
		return NULL;
	if (!dbus_connection_send_with_reply(bus->connection, msg, &pending, DBUS_TIMEOUT_INFINITE) ||
	    (pending && !dbus_pending_call_set_notify(pending, notify, userdata, NULL)))
		put_oom();
	return pending;
}
