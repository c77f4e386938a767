// SPDX-License-Identifier: MIT
#include "profile.h"
#include "daemon/log.h"

#define ROOT_PATH "/bismar"
#define PROFILE_PATH "/bismar/profile"
#define PROFILE "org.bluez.GattProfile1"
#define MANAGER "org.bluez.GattManager1"
#define OBJECT_MANAGER "org.freedesktop.DBus.ObjectManager"

/* Weight Scale and Body Composition (Assigned Numbers, 3.4). */
static const char *const uuids[] = {
	"0000181d-0000-1000-8000-00805f9b34fb",
	"0000181b-0000-1000-8000-00805f9b34fb",
};

static bool append_uuids_variant(DBusMessageIter *at)
{
	DBusMessageIter variant, array;

	if (!dbus_message_iter_open_container(at, DBUS_TYPE_VARIANT, "as", &variant) ||
	    !dbus_message_iter_open_container(&variant, DBUS_TYPE_ARRAY, "s", &array))
		return false;
	for (size_t i = 0; i < sizeof uuids / sizeof *uuids; i++)
		if (!dbus_message_iter_append_basic(&array, DBUS_TYPE_STRING, &uuids[i]))
			return false;
	return dbus_message_iter_close_container(&variant, &array) &&
	       dbus_message_iter_close_container(at, &variant);
}

/* a{sv}: all properties of the profile. */
static bool append_properties(DBusMessageIter *at)
{
	const char *name = "UUIDs";
	DBusMessageIter dict, entry;

	return dbus_message_iter_open_container(at, DBUS_TYPE_ARRAY, "{sv}", &dict) &&
	       dbus_message_iter_open_container(&dict, DBUS_TYPE_DICT_ENTRY, NULL, &entry) &&
	       dbus_message_iter_append_basic(&entry, DBUS_TYPE_STRING, &name) &&
	       append_uuids_variant(&entry) && dbus_message_iter_close_container(&dict, &entry) &&
	       dbus_message_iter_close_container(at, &dict);
}

/* a{oa{sa{sv}}}: our one object with its one interface. */
static bool append_objects(DBusMessageIter *at)
{
	const char *path = PROFILE_PATH, *interface = PROFILE;
	DBusMessageIter objects, object, interfaces, one;

	return dbus_message_iter_open_container(at, DBUS_TYPE_ARRAY, "{oa{sa{sv}}}", &objects) &&
	       dbus_message_iter_open_container(&objects, DBUS_TYPE_DICT_ENTRY, NULL, &object) &&
	       dbus_message_iter_append_basic(&object, DBUS_TYPE_OBJECT_PATH, &path) &&
	       dbus_message_iter_open_container(&object, DBUS_TYPE_ARRAY, "{sa{sv}}",
						&interfaces) &&
	       dbus_message_iter_open_container(&interfaces, DBUS_TYPE_DICT_ENTRY, NULL, &one) &&
	       dbus_message_iter_append_basic(&one, DBUS_TYPE_STRING, &interface) &&
	       append_properties(&one) && dbus_message_iter_close_container(&interfaces, &one) &&
	       dbus_message_iter_close_container(&object, &interfaces) &&
	       dbus_message_iter_close_container(&objects, &object) &&
	       dbus_message_iter_close_container(at, &objects);
}

static DBusMessage *answer(DBusMessage *message, bool (*append)(DBusMessageIter *))
{
	DBusMessage *reply = dbus_message_new_method_return(message);
	DBusMessageIter at;

	if (!reply || !append)
		return reply;
	dbus_message_iter_init_append(reply, &at);
	if (append(&at))
		return reply;
	dbus_message_unref(reply); /* no memory: the caller runs into its time-out */
	return NULL;
}

static DBusMessage *answer_get(DBusMessage *message, bool all)
{
	const char *interface, *property = "UUIDs";

	if (all ? !dbus_message_get_args(message, NULL, DBUS_TYPE_STRING, &interface,
					 DBUS_TYPE_INVALID)
		: !dbus_message_get_args(message, NULL, DBUS_TYPE_STRING, &interface,
					 DBUS_TYPE_STRING, &property, DBUS_TYPE_INVALID))
		return dbus_message_new_error(message, DBUS_ERROR_INVALID_ARGS,
					      "an interface and a property");
	if (strcmp(interface, PROFILE) != 0)
		return dbus_message_new_error(message, DBUS_ERROR_UNKNOWN_INTERFACE,
					      "only " PROFILE);
	if (strcmp(property, "UUIDs") != 0)
		return dbus_message_new_error(message, DBUS_ERROR_UNKNOWN_PROPERTY, "only UUIDs");
	return answer(message, all ? append_properties : append_uuids_variant);
}

bool profile_method(struct bus *bus, DBusMessage *message)
{
	if (dbus_message_has_path(message, ROOT_PATH)) {
		if (!dbus_message_is_method_call(message, OBJECT_MANAGER, "GetManagedObjects"))
			return false;
		bus_send(bus, answer(message, append_objects));
		return true;
	}
	if (!dbus_message_has_path(message, PROFILE_PATH))
		return false;
	if (dbus_message_is_method_call(message, DBUS_INTERFACE_PROPERTIES, "Get"))
		bus_send(bus, answer_get(message, false));
	else if (dbus_message_is_method_call(message, DBUS_INTERFACE_PROPERTIES, "GetAll"))
		bus_send(bus, answer_get(message, true));
	else if (dbus_message_is_method_call(
			 message, PROFILE,
			 "Release")) /* bluetoothd ends; its successor is told anew */
		bus_send(bus, answer(message, NULL));
	else
		return false;
	return true;
}

static void on_registered(void *userdata, DBusMessage *reply)
{
	struct mirror_adapter *adapter = userdata;
	const char *name, *text;

	if (bus_failed(reply, &name, &text))
		log_debug("radio: %s: RegisterApplication: %s, ignoring", adapter->path, name);
}

static void call(struct bus *bus, struct mirror_adapter *adapter, const char *member, bool options)
{
	DBusMessage *message = bus_method(bus, adapter->path, MANAGER, member);
	const char *path = ROOT_PATH;
	DBusMessageIter at, dict;

	if (!message)
		return;
	dbus_message_iter_init_append(message, &at);
	if (!dbus_message_iter_append_basic(&at, DBUS_TYPE_OBJECT_PATH, &path) ||
	    (options && (!dbus_message_iter_open_container(&at, DBUS_TYPE_ARRAY, "{sv}", &dict) ||
			 !dbus_message_iter_close_container(&at, &dict)))) {
		dbus_message_unref(message);
		return;
	}
	/* its failing is worth a debug line, its not being sent none */
	(void)bus_call(bus, message, -1, on_registered, adapter, &adapter->profile_call);
}

void profile_update(struct bus *bus, struct mirror *mirror, bool wanted)
{
	for (struct mirror_adapter *at = mirror->adapters; at; at = at->next) {
		if (at->profile_asked == wanted || at->profile_call || (wanted && !at->powered))
			continue;
		at->profile_asked = wanted;
		call(bus, at, wanted ? "RegisterApplication" : "UnregisterApplication", wanted);
	}
}

void profile_adapter_gone(struct mirror_adapter *adapter)
{
	bus_cancel(&adapter->profile_call);
}
