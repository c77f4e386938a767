// SPDX-License-Identifier: MIT
#include "stranger.h"
#include "rig.h"
#include <dbus/dbus.h>

struct stranger {
	struct rig *rig;
	DBusConnection *connection;
};

static DBusConnection *connect_bus(struct rig *rig)
{
	DBusError error = DBUS_ERROR_INIT;
	DBusConnection *connection;
	char address[128];

	(void)snprintf(address, sizeof address, "unix:path=%s/bus", rig->dir);
	connection = dbus_connection_open_private(address, &error);
	if (!connection || !dbus_bus_register(connection, &error))
		deck_fail(rig->deck, "another client of the bus: %s", error.message);
	dbus_connection_set_exit_on_disconnect(connection, FALSE);
	return connection;
}

static DBusMessage *call(struct stranger *stranger, const char *path, const char *interface, const char *member)
{
	DBusMessage *message = dbus_message_new_method_call("org.bluez", path, interface, member), *reply;
	DBusError error = DBUS_ERROR_INIT;

	if (!message)
		abort();
	reply = dbus_connection_send_with_reply_and_block(stranger->connection, message, TAPE_PATIENCE_MS, &error);
	dbus_message_unref(message);
	if (!reply)
		deck_fail(stranger->rig->deck, "%s of %s: %s", member, path, error.message);
	return reply;
}

/* scale-sim's table begins with the Weight Scale service at handle 0x15, and 0x2A9D in it at 0x16. */
struct stranger *stranger_subscribe(struct rig *rig, const char *address)
{
	struct stranger *stranger = calloc(1, sizeof *stranger);
	char device[96], characteristic[128], event[64], dashes[18];

	if (!stranger)
		abort();
	*stranger = (struct stranger){ .rig = rig, .connection = connect_bus(rig) };
	for (size_t i = 0; i < sizeof dashes; i++)
		dashes[i] = (char)(address[i] == ':' ? '_' : address[i]);
	(void)snprintf(device, sizeof device, "/org/bluez/hci0/dev_%s", dashes);
	(void)snprintf(characteristic, sizeof characteristic, "%s/service0015/char0016", device);
	dbus_message_unref(call(stranger, device, "org.bluez.Device1", "Connect"));
	(void)snprintf(event, sizeof event, "resolved %s", address);
	(void)rig_event(rig, event);
	dbus_message_unref(call(stranger, characteristic, "org.bluez.GattCharacteristic1", "StartNotify"));
	return stranger;
}

static bool append_variant(DBusMessageIter *at, const char *signature, int type, const void *value)
{
	DBusMessageIter variant, array;

	if (!dbus_message_iter_open_container(at, DBUS_TYPE_VARIANT, signature, &variant))
		return false;
	if (*signature != DBUS_TYPE_ARRAY)
		return dbus_message_iter_append_basic(&variant, type, value) && dbus_message_iter_close_container(at, &variant);
	return dbus_message_iter_open_container(&variant, DBUS_TYPE_ARRAY, signature + 1, &array) &&
	       dbus_message_iter_append_basic(&array, type, value) &&
	       dbus_message_iter_close_container(&variant, &array) && dbus_message_iter_close_container(at, &variant);
}

static bool append_entry(DBusMessageIter *dict, const char *key, const char *signature, int type, const void *value)
{
	DBusMessageIter entry;

	return dbus_message_iter_open_container(dict, DBUS_TYPE_DICT_ENTRY, NULL, &entry) &&
	       dbus_message_iter_append_basic(&entry, DBUS_TYPE_STRING, &key) &&
	       append_variant(&entry, signature, type, value) && dbus_message_iter_close_container(dict, &entry);
}

static bool append_filter(DBusMessage *message, const char *uuid)
{
	const char *transport = "le";
	DBusMessageIter at, dict;
	int16_t rssi_dbm = -60;

	dbus_message_iter_init_append(message, &at);
	return dbus_message_iter_open_container(&at, DBUS_TYPE_ARRAY, "{sv}", &dict) &&
	       append_entry(&dict, "UUIDs", "as", DBUS_TYPE_STRING, &uuid) &&
	       append_entry(&dict, "RSSI", "n", DBUS_TYPE_INT16, &rssi_dbm) &&
	       append_entry(&dict, "Transport", "s", DBUS_TYPE_STRING, &transport) &&
	       dbus_message_iter_close_container(&at, &dict);
}

struct stranger *stranger_scan(struct rig *rig, const char *uuid)
{
	struct stranger *stranger = calloc(1, sizeof *stranger);
	DBusMessage *message, *reply;

	if (!stranger)
		abort();
	*stranger = (struct stranger){ .rig = rig, .connection = connect_bus(rig) };
	message = dbus_message_new_method_call("org.bluez", "/org/bluez/hci0", "org.bluez.Adapter1", "SetDiscoveryFilter");
	if (!message || !append_filter(message, uuid))
		abort();
	reply = dbus_connection_send_with_reply_and_block(stranger->connection, message, TAPE_PATIENCE_MS, NULL);
	dbus_message_unref(message);
	if (!reply)
		deck_fail(rig->deck, "another client's filter isn't taken");
	dbus_message_unref(reply);
	dbus_message_unref(call(stranger, "/org/bluez/hci0", "org.bluez.Adapter1", "StartDiscovery"));
	return stranger;
}

const char *stranger_power_on(struct rig *rig)
{
	static char name[128];
	DBusConnection *connection = connect_bus(rig);
	const char *interface = "org.bluez.Adapter1", *property = "Powered";
	DBusError error = DBUS_ERROR_INIT;
	DBusMessage *message, *reply;
	dbus_bool_t on = TRUE;
	DBusMessageIter at;

	message = dbus_message_new_method_call("org.bluez", "/org/bluez/hci0", DBUS_INTERFACE_PROPERTIES, "Set");
	if (!message)
		abort();
	dbus_message_iter_init_append(message, &at);
	if (!dbus_message_iter_append_basic(&at, DBUS_TYPE_STRING, &interface) ||
	    !dbus_message_iter_append_basic(&at, DBUS_TYPE_STRING, &property) ||
	    !append_variant(&at, "b", DBUS_TYPE_BOOLEAN, &on))
		abort();
	reply = dbus_connection_send_with_reply_and_block(connection, message, TAPE_PATIENCE_MS, &error);
	(void)snprintf(name, sizeof name, "%s", reply ? "" : error.name);
	if (reply)
		dbus_message_unref(reply);
	dbus_error_free(&error);
	dbus_message_unref(message);
	dbus_connection_close(connection);
	dbus_connection_unref(connection);
	return name;
}

struct stranger *stranger_free(struct stranger *stranger)
{
	if (!stranger)
		return NULL;
	dbus_connection_close(stranger->connection);
	dbus_connection_unref(stranger->connection);
	free(stranger);
	return NULL;
}

static bool gives_passkey(DBusConnection *connection, const char *name, const char *device)
{
	DBusMessage *ask =
		dbus_message_new_method_call(name, "/bismar/agent", "org.bluez.Agent1", "RequestPasskey"), *reply;

	if (!ask || !dbus_message_append_args(ask, DBUS_TYPE_OBJECT_PATH, &device, DBUS_TYPE_INVALID))
		abort();
	/* an error, or nothing within a second, is none */
	reply = dbus_connection_send_with_reply_and_block(connection, ask, 1000, NULL);
	dbus_message_unref(ask);
	if (reply)
		dbus_message_unref(reply);
	return reply != NULL;
}

unsigned stranger_ask_agents(struct rig *rig, const char *address)
{
	struct stranger stranger = { .rig = rig, .connection = connect_bus(rig) };
	const char *own = dbus_bus_get_unique_name(stranger.connection);
	DBusMessage *ask = dbus_message_new_method_call(DBUS_SERVICE_DBUS, DBUS_PATH_DBUS, DBUS_INTERFACE_DBUS, "ListNames");
	DBusMessage *reply;
	char device[96] = "/org/bluez/hci0/dev_", **names;
	unsigned asked = 0, given = 0;
	int n;

	for (size_t i = 0; i < 18; i++)
		device[20 + i] = (char)(address[i] == ':' ? '_' : address[i]);
	reply = ask ? dbus_connection_send_with_reply_and_block(stranger.connection, ask, TAPE_PATIENCE_MS, NULL) : NULL;
	if (!reply || !dbus_message_get_args(reply, NULL, DBUS_TYPE_ARRAY, DBUS_TYPE_STRING, &names, &n, DBUS_TYPE_INVALID))
		deck_fail(rig->deck, "the bus tells no names");
	for (int i = 0; i < n; i++) {
		if (*names[i] != ':' || strcmp(names[i], own) == 0)
			continue;
		asked++;
		given += gives_passkey(stranger.connection, names[i], device);
	}
	if (asked < 2)
		deck_fail(rig->deck, "only %u on the bus to ask", asked);
	dbus_free_string_array(names);
	dbus_message_unref(ask);
	dbus_message_unref(reply);
	dbus_connection_close(stranger.connection);
	dbus_connection_unref(stranger.connection);
	return given;
}
