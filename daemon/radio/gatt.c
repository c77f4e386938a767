// SPDX-License-Identifier: MIT
#include "gatt.h"
#include "mirror.h"

static bool append_octets(DBusMessageIter *at, const uint8_t *octets, size_t n)
{
	DBusMessageIter array;

	return dbus_message_iter_open_container(at, DBUS_TYPE_ARRAY, DBUS_TYPE_BYTE_AS_STRING, &array) &&
	       dbus_message_iter_append_fixed_array(&array, DBUS_TYPE_BYTE, &octets, (int)n) &&
	       dbus_message_iter_close_container(at, &array);
}

/* a{sv}; type NULL: empty. */
static bool append_options(DBusMessageIter *at, const char *type)
{
	const char *key = "type";
	DBusMessageIter dict, entry, variant;

	if (!dbus_message_iter_open_container(at, DBUS_TYPE_ARRAY, "{sv}", &dict))
		return false;
	if (type && (!dbus_message_iter_open_container(&dict, DBUS_TYPE_DICT_ENTRY, NULL, &entry) ||
		     !dbus_message_iter_append_basic(&entry, DBUS_TYPE_STRING, &key) ||
		     !dbus_message_iter_open_container(&entry, DBUS_TYPE_VARIANT, "s", &variant) ||
		     !dbus_message_iter_append_basic(&variant, DBUS_TYPE_STRING, &type) ||
		     !dbus_message_iter_close_container(&entry, &variant) ||
		     !dbus_message_iter_close_container(&dict, &entry)))
		return false;
	return dbus_message_iter_close_container(at, &dict);
}

DBusMessage *gatt_read(struct bus *bus, const char *path, const char *interface)
{
	DBusMessage *call = bus_method(bus, path, interface, "ReadValue");
	DBusMessageIter at;

	if (!call)
		return NULL;
	dbus_message_iter_init_append(call, &at);
	if (append_options(&at, NULL))
		return call;
	dbus_message_unref(call);
	return NULL;
}

DBusMessage *gatt_write(struct bus *bus, const char *path, const uint8_t *octets, size_t n)
{
	DBusMessage *call = bus_method(bus, path, MIRROR_CHARACTERISTIC, "WriteValue");
	DBusMessageIter at;

	if (!call)
		return NULL;
	dbus_message_iter_init_append(call, &at);
	if (append_octets(&at, octets, n) && append_options(&at, "request"))
		return call;
	dbus_message_unref(call);
	return NULL;
}

bool gatt_is_unpaired(const char *name, const char *text)
{
	/* ATT errors of Core, Vol 3, Part F, 3.4.1.1 (from memory) */
	static const char *const texts[] = { "Insufficient", "ATT error: 0x05", "ATT error: 0x08", "ATT error: 0x0c",
					     "ATT error: 0x0f" };

	if (strcmp(name, "org.bluez.Error.NotPermitted") == 0 || strcmp(name, "org.bluez.Error.NotAuthorized") == 0)
		return true;
	for (size_t i = 0; i < sizeof texts / sizeof *texts; i++)
		if (strstr(text, texts[i]))
			return true;
	return false;
}
