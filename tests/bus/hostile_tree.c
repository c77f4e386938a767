// SPDX-License-Identifier: MIT
/* Trees of objects, hostile and honest. */
#include "hostile_put.h"

#define MANY 10000 /* objects of a whole tree, sometimes */

void put_stranger(struct hostile *hostile, DBusMessageIter *at, unsigned i)
{
	char path[64];

	(void)snprintf(path, sizeof path, HOSTILE_ADAPTER "/dev_02_00_00_01_%02X_%02X", i >> 8 & 0xff, i & 0xff);
	put_text(at, DBUS_TYPE_OBJECT_PATH, path);
	put_interfaces(hostile, at);
}

void put_hostile_tree(struct hostile *hostile, DBusMessageIter *at)
{
	unsigned n = hostile_chance(hostile, 5) ? MANY : hostile_below(hostile, 20);
	DBusMessageIter tree, entry;

	put_must(dbus_message_iter_open_container(at, DBUS_TYPE_ARRAY, "{oa{sa{sv}}}", &tree));
	for (unsigned i = 0; i < n; i++) {
		put_must(dbus_message_iter_open_container(&tree, DBUS_TYPE_DICT_ENTRY, NULL, &entry));
		if (n == MANY && i >= 20) {
			DBusMessageIter none;
			char path[64];
			(void)snprintf(path, sizeof path, HOSTILE_ADAPTER "/dev_02_00_00_02_%02X_%02X", i >> 8,
				       i & 0xff);
			put_text(&entry, DBUS_TYPE_OBJECT_PATH, path);
			put_must(dbus_message_iter_open_container(&entry, DBUS_TYPE_ARRAY, "{sa{sv}}", &none));
			put_must(dbus_message_iter_close_container(&entry, &none));
		} else {
			put_text(&entry, DBUS_TYPE_OBJECT_PATH, put_one(hostile, PUT_PATH));
			put_interfaces(hostile, &entry);
		}
		put_must(dbus_message_iter_close_container(&tree, &entry));
	}
	put_must(dbus_message_iter_close_container(at, &tree));
}

void put_open(DBusMessageIter *dict, const char *key, const char *kind, DBusMessageIter *entry,
	      DBusMessageIter *variant)
{
	put_must(dbus_message_iter_open_container(dict, DBUS_TYPE_DICT_ENTRY, NULL, entry));
	put_text(entry, DBUS_TYPE_STRING, key);
	put_must(dbus_message_iter_open_container(entry, DBUS_TYPE_VARIANT, kind, variant));
}

void put_close(DBusMessageIter *dict, DBusMessageIter *entry, DBusMessageIter *variant)
{
	put_must(dbus_message_iter_close_container(entry, variant));
	put_must(dbus_message_iter_close_container(dict, entry));
}

static void say_text(DBusMessageIter *dict, const char *key, const char *text)
{
	DBusMessageIter entry, variant;

	put_open(dict, key, *text == '/' ? "o" : "s", &entry, &variant);
	put_text(&variant, *text == '/' ? DBUS_TYPE_OBJECT_PATH : DBUS_TYPE_STRING, text);
	put_close(dict, &entry, &variant);
}

void put_flag(DBusMessageIter *dict, const char *key, bool flag)
{
	dbus_bool_t value = flag;
	DBusMessageIter entry, variant;

	put_open(dict, key, "b", &entry, &variant);
	put_must(dbus_message_iter_append_basic(&variant, DBUS_TYPE_BOOLEAN, &value));
	put_close(dict, &entry, &variant);
}

static void say_list(DBusMessageIter *dict, const char *key, const char *text)
{
	DBusMessageIter entry, variant;

	put_open(dict, key, "as", &entry, &variant);
	put_texts(&variant, &text, 1);
	put_close(dict, &entry, &variant);
}

/* One object with one interface, its properties by say(). */
static void put_honest(DBusMessageIter *tree, const char *path, const char *interface,
		       void (*say)(DBusMessageIter *dict))
{
	DBusMessageIter object, interfaces_of, entry, dict;

	put_must(dbus_message_iter_open_container(tree, DBUS_TYPE_DICT_ENTRY, NULL, &object));
	put_text(&object, DBUS_TYPE_OBJECT_PATH, path);
	put_must(dbus_message_iter_open_container(&object, DBUS_TYPE_ARRAY, "{sa{sv}}", &interfaces_of));
	put_must(dbus_message_iter_open_container(&interfaces_of, DBUS_TYPE_DICT_ENTRY, NULL, &entry));
	put_text(&entry, DBUS_TYPE_STRING, interface);
	put_must(dbus_message_iter_open_container(&entry, DBUS_TYPE_ARRAY, "{sv}", &dict));
	say(&dict);
	put_must(dbus_message_iter_close_container(&entry, &dict));
	put_must(dbus_message_iter_close_container(&interfaces_of, &entry));
	put_must(dbus_message_iter_close_container(&object, &interfaces_of));
	put_must(dbus_message_iter_close_container(tree, &object));
}

static void say_adapter(DBusMessageIter *dict)
{
	say_text(dict, "Address", "02:00:00:00:00:01");
	put_flag(dict, "Powered", true);
	put_flag(dict, "Discovering", true);
}

static void say_device(DBusMessageIter *dict)
{
	say_text(dict, "Address", "02:00:00:00:0A:01");
	say_text(dict, "Adapter", HOSTILE_ADAPTER);
	say_list(dict, "UUIDs", "0000181d-0000-1000-8000-00805f9b34fb");
	put_flag(dict, "Connected", true);
	put_flag(dict, "ServicesResolved", true);
}

static void say_characteristic(DBusMessageIter *dict)
{
	say_text(dict, "UUID", "00002a9d-0000-1000-8000-00805f9b34fb");
	say_list(dict, "Flags", "indicate");
}

void put_honest_tree(DBusMessageIter *at)
{
	DBusMessageIter tree;

	put_must(dbus_message_iter_open_container(at, DBUS_TYPE_ARRAY, "{oa{sa{sv}}}", &tree));
	put_honest(&tree, HOSTILE_ADAPTER, "org.bluez.Adapter1", say_adapter);
	put_honest(&tree, HOSTILE_DEVICE, "org.bluez.Device1", say_device);
	put_honest(&tree, HOSTILE_VALUE, "org.bluez.GattCharacteristic1", say_characteristic);
	put_must(dbus_message_iter_close_container(at, &tree));
}
