// SPDX-License-Identifier: MIT
#include "bus.h"
#include "glue.h"
#include "wake.h"
#include "daemon/log.h"
#include <errno.h>

/* The address that the D-Bus specification gives the system bus when the environment names no
 * other. */
#define SYSTEM_BUS "unix:path=/var/run/dbus/system_bus_socket"
#define HELLO_LIMIT_MS 10000
#define RETRY_MAX_US UINT64_C(8000000)

struct bus_call {
	struct bus_call *next;
	struct bus *bus;
	DBusPendingCall *pending;
	bus_reply_fn *fn;
	void *userdata;
	struct bus_call **slot;
};

struct bus {
	sd_event *event;
	const struct bus_ops *ops;
	void *userdata;
	sd_event_source
		*timer; /* the next attempt to connect, or the funeral of a lost connection */
	DBusConnection *connection;
	struct glue *glue;
	bool up, failed, dying;
	bool asked; /* the bus has told who owns org.bluez */
	unsigned failures;
	char *owner; /* unique name; NULL: nobody */
	struct bus_call *hello, *who;
	struct bus_call *calls;
};

static void set_owner(struct bus *bus, const char *owner)
{
	if (owner && bus->owner && strcmp(owner, bus->owner) == 0)
		return;
	if (bus->owner) {
		free(bus->owner);
		bus->owner = NULL;
		bus->ops->owner(bus->userdata, false);
	}
	if (owner && *owner)
		bus->owner = strdup(owner);
	bus->ops->owner(bus->userdata, bus->owner != NULL);
}

static void drop_connection(struct bus *bus)
{
	while (bus->calls)
		bus_cancel(bus->calls->slot);
	bus->glue = glue_free(bus->glue);
	if (bus->connection) {
		dbus_connection_close(bus->connection);
		dbus_connection_unref(bus->connection);
		bus->connection = NULL;
	}
}

/* Tears down and connects again, later and from the loop: never inside a handler of the
 * connection's. */
static void retry(struct bus *bus)
{
	uint64_t us = UINT64_C(1000000) << (bus->failures < 3 ? bus->failures : 3);
	bool news = bus->up || !bus->failed;

	if (bus->dying)
		return;
	bus->dying = true;
	bus->up = false;
	bus->asked = false;
	bus->failed = true;
	bus->failures++;
	wake_in(bus->timer, us < RETRY_MAX_US ? us : RETRY_MAX_US);
	if (bus->owner) {
		free(bus->owner);
		bus->owner = NULL;
		bus->ops->owner(bus->userdata, false);
	}
	if (news)
		bus->ops->state(bus->userdata, false);
}

static void on_owner(void *userdata, DBusMessage *reply)
{
	struct bus *bus = userdata;
	const char *name, *text, *owner = NULL;

	bus->asked = true;
	if (!bus_failed(reply, &name, &text) &&
	    !dbus_message_get_args(reply, NULL, DBUS_TYPE_STRING, &owner, DBUS_TYPE_INVALID))
		owner = NULL;
	if (owner && bus->owner && strcmp(owner, bus->owner) == 0)
		return; /* NameOwnerChanged has told already */
	set_owner(bus, owner);
}

static void ask_owner(struct bus *bus)
{
	const char *name = BUS_BLUEZ;
	DBusMessage *call;

	call = dbus_message_new_method_call(DBUS_SERVICE_DBUS, DBUS_PATH_DBUS, DBUS_INTERFACE_DBUS,
					    "GetNameOwner");
	if (call && !dbus_message_append_args(call, DBUS_TYPE_STRING, &name, DBUS_TYPE_INVALID)) {
		dbus_message_unref(call);
		call = NULL;
	}
	if (bus_call(bus, call, -1, on_owner, bus, &bus->who) < 0)
		log_warning("radio: can't ask the bus who owns " BUS_BLUEZ ", ignoring");
}

static void on_hello(void *userdata, DBusMessage *reply)
{
	struct bus *bus = userdata;
	const char *name, *text, *unique;

	if (bus_failed(reply, &name, &text) ||
	    !dbus_message_get_args(reply, NULL, DBUS_TYPE_STRING, &unique, DBUS_TYPE_INVALID) ||
	    !dbus_bus_set_unique_name(bus->connection, unique)) {
		retry(bus);
		return;
	}
	bus->up = true;
	bus->failed = false;
	bus->failures = 0;
	/* rules before questions: what changes in between is then told by a signal */
	dbus_bus_add_match(bus->connection,
			   "type='signal',sender='" DBUS_SERVICE_DBUS
			   "',interface='" DBUS_INTERFACE_DBUS
			   "',member='NameOwnerChanged',arg0='" BUS_BLUEZ "'",
			   NULL);
	bus->ops->state(bus->userdata, true);
	ask_owner(bus);
}

static void on_owner_changed(struct bus *bus, DBusMessage *message)
{
	const char *name, *before, *after;

	if (!dbus_message_has_sender(message, DBUS_SERVICE_DBUS) ||
	    !dbus_message_get_args(message, NULL, DBUS_TYPE_STRING, &name, DBUS_TYPE_STRING,
				   &before, DBUS_TYPE_STRING, &after, DBUS_TYPE_INVALID) ||
	    strcmp(name, BUS_BLUEZ) != 0)
		return;
	bus->asked = true;
	set_owner(bus, *after ? after : NULL);
}

static DBusHandlerResult filter(DBusConnection *connection, DBusMessage *message, void *userdata)
{
	struct bus *bus = userdata;
	int type = dbus_message_get_type(message);

	(void)connection;
	if (type == DBUS_MESSAGE_TYPE_METHOD_CALL)
		return bus->ops->method(bus->userdata, message)
			       ? DBUS_HANDLER_RESULT_HANDLED
			       : DBUS_HANDLER_RESULT_NOT_YET_HANDLED;
	if (type != DBUS_MESSAGE_TYPE_SIGNAL)
		return DBUS_HANDLER_RESULT_NOT_YET_HANDLED;
	if (dbus_message_is_signal(message, DBUS_INTERFACE_LOCAL, "Disconnected"))
		retry(bus);
	else if (dbus_message_is_signal(message, DBUS_INTERFACE_DBUS, "NameOwnerChanged"))
		on_owner_changed(bus, message);
	else if (bus->owner && dbus_message_has_sender(message, bus->owner))
		bus->ops->signal(bus->userdata, message);
	return DBUS_HANDLER_RESULT_HANDLED;
}

static int connect_bus(struct bus *bus)
{
	const char *address = secure_getenv("DBUS_SYSTEM_BUS_ADDRESS");
	int r;

	bus->connection =
		dbus_connection_open_private(address && *address ? address : SYSTEM_BUS, NULL);
	if (!bus->connection)
		return -ENOTCONN;
	dbus_connection_set_exit_on_disconnect(bus->connection, FALSE);
	r = glue_new(bus->event, bus->connection, &bus->glue);
	if (r < 0)
		return r;
	if (!dbus_connection_add_filter(bus->connection, filter, bus, NULL))
		return -ENOMEM;
	return bus_call(bus,
			dbus_message_new_method_call(DBUS_SERVICE_DBUS, DBUS_PATH_DBUS,
						     DBUS_INTERFACE_DBUS, "Hello"),
			HELLO_LIMIT_MS, on_hello, bus, &bus->hello);
}

static int on_timer(sd_event_source *source, uint64_t at_us, void *userdata)
{
	struct bus *bus = userdata;

	(void)source, (void)at_us;
	drop_connection(bus);
	bus->dying = false;
	if (connect_bus(bus) < 0) {
		drop_connection(bus);
		retry(bus);
	}
	return 0;
}

int bus_new(sd_event *event, const struct bus_ops *ops, void *userdata, struct bus **ret)
{
	struct bus *bus = calloc(1, sizeof *bus);
	int r;

	if (!bus)
		return -ENOMEM;
	bus->event = sd_event_ref(event);
	bus->ops = ops;
	bus->userdata = userdata;
	r = wake_new(event, on_timer, bus, &bus->timer);
	if (r < 0) {
		bus_free(bus);
		return r;
	}
	wake_at(bus->timer, 0);
	*ret = bus;
	return 0;
}

struct bus *bus_free(struct bus *bus)
{
	if (!bus)
		return NULL;
	drop_connection(bus);
	sd_event_source_disable_unref(bus->timer);
	sd_event_unref(bus->event);
	free(bus->owner);
	free(bus);
	return NULL;
}

bool bus_is_up(const struct bus *bus)
{
	return bus->up;
}

bool bus_has_failed(const struct bus *bus)
{
	return bus->failed;
}

bool bus_lacks_owner(const struct bus *bus)
{
	return bus->asked && !bus->owner;
}

bool bus_from_owner(const struct bus *bus, DBusMessage *message)
{
	return bus->owner && dbus_message_has_sender(message, bus->owner);
}

DBusMessage *bus_method(struct bus *bus, const char *path, const char *interface,
			const char *member)
{
	return bus->owner ? dbus_message_new_method_call(bus->owner, path, interface, member)
			  : NULL;
}

static void call_unlink(struct bus_call *call)
{
	for (struct bus_call **at = &call->bus->calls; *at; at = &(*at)->next)
		if (*at == call) {
			*at = call->next;
			break;
		}
	*call->slot = NULL;
	if (call->pending)
		dbus_pending_call_unref(call->pending);
	free(call);
}

static void on_reply(DBusPendingCall *pending, void *userdata)
{
	struct bus_call *call = userdata;
	bus_reply_fn *fn = call->fn;
	void *owner = call->userdata;
	DBusMessage *reply = dbus_pending_call_steal_reply(pending);

	call_unlink(call);
	if (!reply)
		return; /* can't be: it has just completed */
	fn(owner, reply);
	dbus_message_unref(reply);
}

int bus_call(struct bus *bus, DBusMessage *message, int timeout_ms, bus_reply_fn *fn,
	     void *userdata, struct bus_call **slot)
{
	struct bus_call *call;

	*slot = NULL;
	if (!message)
		return -ENOTCONN;
	call = calloc(1, sizeof *call);
	if (!call) {
		dbus_message_unref(message);
		return -ENOMEM;
	}
	*call = (struct bus_call){ bus->calls, bus, NULL, fn, userdata, slot };
	bus->calls = call;
	*slot = call;
	if (!bus->connection ||
	    !dbus_connection_send_with_reply(bus->connection, message, &call->pending,
					     timeout_ms) ||
	    !call->pending || !dbus_pending_call_set_notify(call->pending, on_reply, call, NULL)) {
		bus_cancel(slot);
		dbus_message_unref(message);
		return -ENOTCONN;
	}
	dbus_message_unref(message);
	return 0;
}

void bus_cancel(struct bus_call **slot)
{
	if (!*slot)
		return;
	if ((*slot)->pending)
		dbus_pending_call_cancel((*slot)->pending);
	call_unlink(*slot);
}

void bus_send(struct bus *bus, DBusMessage *message)
{
	if (!message)
		return;
	if (dbus_message_get_type(message) == DBUS_MESSAGE_TYPE_METHOD_CALL)
		dbus_message_set_no_reply(message, TRUE);
	if (bus->connection)
		(void)dbus_connection_send(bus->connection, message,
					   NULL); /* nobody waits for its effect */
	dbus_message_unref(message);
}

void bus_match(struct bus *bus, const char *rule, bool wanted)
{
	if (!bus->up)
		return;
	/* without a DBusError neither waits for an answer */
	if (wanted)
		dbus_bus_add_match(bus->connection, rule, NULL);
	else
		dbus_bus_remove_match(bus->connection, rule, NULL);
}

bool bus_failed(DBusMessage *reply, const char **ret_name, const char **ret_text)
{
	const char *text = "";

	if (dbus_message_get_type(reply) != DBUS_MESSAGE_TYPE_ERROR)
		return false;
	(void)dbus_message_get_args(reply, NULL, DBUS_TYPE_STRING, &text,
				    DBUS_TYPE_INVALID); /* may have none */
	*ret_name = dbus_message_get_error_name(reply);
	*ret_text = text;
	return true;
}
