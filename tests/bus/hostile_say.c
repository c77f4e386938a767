// SPDX-License-Identifier: MIT
/* Messages, and the bus. */
#include "hostile_put.h"
#include <stdlib.h>

#define MANAGER "org.freedesktop.DBus.ObjectManager"
#define COUNT(list) (sizeof(list) / sizeof *(list))
#define ONE_OF(list) (list)[hostile_below(hostile, COUNT(list))]

/* ---- messages ---- */

static void send(DBusConnection *connection, DBusMessage *message)
{
	put_must(dbus_connection_send(connection, message, NULL));
	dbus_message_unref(message);
}

static DBusMessage *signal_of(const char *path, const char *interface, const char *member, DBusMessageIter *ret_at)
{
	DBusMessage *message = dbus_message_new_signal(path, interface, member);

	put_must(message != NULL);
	dbus_message_iter_init_append(message, ret_at);
	return message;
}

void hostile_answer(struct hostile *hostile, DBusMessage *call, bool well)
{
	bool tree = dbus_message_has_member(call, "GetManagedObjects");
	DBusMessage *reply;
	DBusMessageIter at;

	if (!well && hostile_chance(hostile, 40)) {
		reply = dbus_message_new_error(call, put_one(hostile, PUT_ERROR),
					       hostile_chance(hostile, 50) ? put_one(hostile, PUT_WORD) : NULL);
		put_must(reply != NULL);
		send(hostile->connection, reply);
		return;
	}
	reply = dbus_message_new_method_return(call);
	put_must(reply != NULL);
	dbus_message_iter_init_append(reply, &at);
	if (tree && well)
		put_honest_tree(&at);
	else if (tree && hostile_chance(hostile, 80))
		put_hostile_tree(hostile, &at);
	else if (!well)
		put_any(hostile, &at);
	send(hostile->connection, reply);
}

void hostile_value(struct hostile *hostile, DBusConnection *connection, const char *path, const uint8_t *octets,
		   size_t n)
{
	DBusMessageIter at, dict, entry, variant;
	DBusMessage *message = signal_of(path, DBUS_INTERFACE_PROPERTIES, "PropertiesChanged", &at);

	(void)hostile;
	put_text(&at, DBUS_TYPE_STRING, "org.bluez.GattCharacteristic1");
	put_must(dbus_message_iter_open_container(&at, DBUS_TYPE_ARRAY, "{sv}", &dict));
	put_open(&dict, "Value", "ay", &entry, &variant);
	put_octets(&variant, octets, n);
	put_close(&dict, &entry, &variant);
	put_must(dbus_message_iter_close_container(&at, &dict));
	put_texts(&at, NULL, 0);
	send(connection, message);
	dbus_connection_flush(connection);
}

void hostile_added(struct hostile *hostile)
{
	DBusMessageIter at;
	DBusMessage *message = signal_of(hostile_chance(hostile, 90) ? "/" : put_one(hostile, PUT_PATH), MANAGER,
					 "InterfacesAdded", &at);

	if (hostile_chance(hostile, 90)) {
		put_text(&at, DBUS_TYPE_OBJECT_PATH, put_one(hostile, PUT_PATH));
		put_interfaces(hostile, &at);
	} else {
		put_any(hostile, &at);
		put_any(hostile, &at);
	}
	send(hostile->connection, message);
}

void hostile_removed(struct hostile *hostile)
{
	const char *path = put_one(hostile, PUT_PATH),
		   *list[] = { put_one(hostile, PUT_INTERFACE), put_one(hostile, PUT_INTERFACE) };

	for (unsigned n = 1 + hostile_below(hostile, 2); n; n--) { /* twice, too */
		DBusMessageIter at;
		DBusMessage *message = signal_of("/", MANAGER, "InterfacesRemoved", &at);
		put_text(&at, DBUS_TYPE_OBJECT_PATH, path);
		if (hostile_chance(hostile, 80))
			put_texts(&at, list, COUNT(list));
		else
			put_any(hostile, &at);
		send(hostile->connection, message);
	}
}

void hostile_changed(struct hostile *hostile)
{
	const char *invalid = put_one(hostile, PUT_KEY);
	DBusMessageIter at;
	DBusMessage *message =
		signal_of(put_one(hostile, PUT_PATH), DBUS_INTERFACE_PROPERTIES, "PropertiesChanged", &at);

	if (hostile_chance(hostile, 95))
		put_text(&at, DBUS_TYPE_STRING, put_one(hostile, PUT_INTERFACE));
	if (hostile_chance(hostile, 90))
		put_dict(hostile, &at, 0);
	else
		put_any(hostile, &at);
	if (hostile_chance(hostile, 80))
		put_texts(&at, &invalid, 1);
	send(hostile->connection, message);
}

void hostile_reply_to_nobody(struct hostile *hostile)
{
	DBusMessage *message = dbus_message_new(hostile_chance(hostile, 50) ? DBUS_MESSAGE_TYPE_METHOD_RETURN
									    : DBUS_MESSAGE_TYPE_ERROR);
	DBusMessageIter at;

	put_must(message && dbus_message_set_reply_serial(message, 1 + hostile_below(hostile, 200)));
	if (dbus_message_get_type(message) == DBUS_MESSAGE_TYPE_ERROR)
		put_must(dbus_message_set_error_name(message, put_one(hostile, PUT_ERROR)));
	if (*hostile->bismard)
		put_must(dbus_message_set_destination(message, hostile->bismard));
	dbus_message_iter_init_append(message, &at);
	put_any(hostile, &at);
	send(hostile->connection, message);
}

void hostile_call(struct hostile *hostile)
{
	static const char *const objects[] = { "/bismar/agent", "/bismar/profile", "/bismar", "/" };
	static const char *const own[] = { "org.bluez.Agent1", "org.bluez.GattProfile1", MANAGER,
					   DBUS_INTERFACE_PROPERTIES };
	static const char *const members[] = {
		"RequestPasskey",       "RequestPinCode",   "DisplayPasskey", "RequestConfirmation",
		"RequestAuthorization", "AuthorizeService", "Cancel",         "Release",
		"GetManagedObjects",    "GetAll",           "Nothing"
	};
	DBusMessage *message;
	DBusMessageIter at;

	if (!*hostile->bismard)
		return;
	message = dbus_message_new_method_call(hostile->bismard, ONE_OF(objects), ONE_OF(own), ONE_OF(members));
	put_must(message != NULL);
	dbus_message_iter_init_append(message, &at);
	for (unsigned n = hostile_below(hostile, 3); n; n--)
		put_any(hostile, &at);
	send(hostile->connection, message);
}

void hostile_crowd(struct hostile *hostile)
{
	for (unsigned n = hostile_below(hostile, 120); n; n--) {
		DBusMessageIter at;
		DBusMessage *message = signal_of("/", MANAGER, "InterfacesAdded", &at);
		put_stranger(hostile, &at, hostile_below(hostile, 65536));
		send(hostile->connection, message);
	}
}

void hostile_flap(struct hostile *hostile)
{
	for (unsigned n = hostile_below(hostile, 20); n; n--) {
		DBusMessageIter at, dict;
		DBusMessage *message = signal_of(HOSTILE_DEVICE, DBUS_INTERFACE_PROPERTIES, "PropertiesChanged", &at);
		put_text(&at, DBUS_TYPE_STRING, "org.bluez.Device1");
		put_must(dbus_message_iter_open_container(&at, DBUS_TYPE_ARRAY, "{sv}", &dict));
		put_flag(&dict, hostile_chance(hostile, 50) ? "Connected" : "ServicesResolved",
			 hostile_chance(hostile, 50));
		put_must(dbus_message_iter_close_container(&at, &dict));
		put_texts(&at, NULL, 0);
		send(hostile->connection, message);
	}
}

/* ---- the bus ---- */

static DBusConnection *connect_bus(void)
{
	DBusError error = DBUS_ERROR_INIT;
	DBusConnection *connection = dbus_bus_get_private(DBUS_BUS_SYSTEM, &error);

	if (!connection) {
		(void)fprintf(stderr, "hostile: no bus: %s\n", error.message);
		exit(1);
	}
	dbus_connection_set_exit_on_disconnect(connection, FALSE);
	return connection;
}

void hostile_connect(struct hostile *hostile)
{
	hostile->connection = connect_bus();
	hostile->imposter = connect_bus();
}

static void leave(DBusConnection *connection)
{
	dbus_connection_flush(connection);
	dbus_connection_close(connection);
	dbus_connection_unref(connection);
}

void hostile_come_again(struct hostile *hostile)
{
	leave(hostile->connection);
	hostile->connection = connect_bus();
}

void hostile_disconnect(struct hostile *hostile)
{
	leave(hostile->connection);
	leave(hostile->imposter);
}

void hostile_own(struct hostile *hostile, bool own)
{
	DBusError error = DBUS_ERROR_INIT;
	/* in the queue, if the bus hasn't noticed yet that the connection before is gone */
	int r = own ? dbus_bus_request_name(hostile->connection, "org.bluez", 0, &error)
		    : dbus_bus_release_name(hostile->connection, "org.bluez", &error);

	if (r < 0) {
		(void)fprintf(stderr, "hostile: org.bluez: %s\n", error.message);
		exit(1);
	}
}
