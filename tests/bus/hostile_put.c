// SPDX-License-Identifier: MIT
/* Values of any type, from the seed. */
#include "hostile_put.h"
#include <stdlib.h>
#include <string.h>

#define HUGE 65536
#define LONG_NAME 102400
#define COUNT(list) (sizeof(list) / sizeof *(list))

/* Some lie below each other in circles, some are nobody's. */
static const char *const paths[] = {
	HOSTILE_DEVICE,
	HOSTILE_DEVICE,
	HOSTILE_VALUE,
	HOSTILE_VALUE,
	HOSTILE_ADAPTER,
	HOSTILE_DEVICE "/service0015",
	HOSTILE_VALUE "/desc0018",
	HOSTILE_VALUE "/desc0019",
	HOSTILE_DEVICE "/service0020/char0021",
	HOSTILE_DEVICE "/service0030/char0031",
	HOSTILE_DEVICE HOSTILE_DEVICE,
	HOSTILE_VALUE HOSTILE_VALUE,
	HOSTILE_VALUE HOSTILE_ADAPTER,
	"/org/bluez/hci1",
	"/org/bluez/hci1/dev_02_00_00_00_0A_01",
	"/org/bluez/hci1/dev_02_00_00_00_0A_01/service0015/char0016",
	"/org/bluez/hci0/dev_02_00_00_00_0B_09",
	"/org/bluez",
	"/",
	"/a",
};
static const char *const interfaces[] = {
	"org.bluez.Device1",
	"org.bluez.Device1",
	"org.bluez.GattCharacteristic1",
	"org.bluez.GattCharacteristic1",
	"org.bluez.Adapter1",
	"org.bluez.GattService1",
	"org.bluez.GattDescriptor1",
	"org.bluez.Battery1",
	"org.bluez.AgentManager1",
	"org.bluez.ProfileManager1",
	"org.bluez.GattManager1",
	"org.freedesktop.DBus.Properties",
	"not.an.interface.of.anyones",
};
static const char *const keys[] = {
	"Address",
	"Adapter",
	"Connected",
	"ServicesResolved",
	"Paired",
	"Trusted",
	"UUIDs",
	"UUID",
	"Flags",
	"Value",
	"RSSI",
	"Name",
	"Alias",
	"Powered",
	"Discovering",
	"ServiceData",
	"ManufacturerData",
	"Percentage",
	"Notifying",
	"Service",
	"Characteristic",
	"Connected",
	"ServicesResolved",
	"",
};
static const char *const texts[] = {
	"",
	"02:00:00:00:0A:01",
	"02:00:00:00:0B:09",
	"02:00:00:00:0a:0",
	"notify",
	"indicate",
	"read",
	"write",
	"0000181d-0000-1000-8000-00805f9b34fb",
	"00002a9d-0000-1000-8000-00805f9b34fb",
	"00002a19-0000-1000-8000-00805f9b34fb",
	"00002904-0000-1000-8000-00805f9b34fb",
	"0000fcd2-0000-1000-8000-00805f9b34fb",
	"00002A9E-0000-1000-8000-00805F9B34FB",
	"\x1b[2J %s%n\n",
};
static const char *const errors[] = {
	"a.b",
	"org.bluez.Error.InProgress",
	"org.bluez.Error.Failed",
	"org.bluez.Error.NotAuthorized",
	"org.bluez.Error.DoesNotExist",
	"org.freedesktop.DBus.Error.NoReply",
	"org.freedesktop.DBus.Error.AccessDenied",
	"org.freedesktop.DBus.Error.UnknownObject",
	"org.freedesktop.DBus.Error.ServiceUnknown",
	"x._._._._._._._._._",
};

/* ---- chance: splitmix64 (Steele, Lea, Flood 2014) ---- */

uint64_t hostile_draw(struct hostile *hostile)
{
	uint64_t z = hostile->random += UINT64_C(0x9e3779b97f4a7c15);

	z = (z ^ z >> 30) * UINT64_C(0xbf58476d1ce4e5b9);
	z = (z ^ z >> 27) * UINT64_C(0x94d049bb133111eb);
	return z ^ z >> 31;
}

unsigned hostile_below(struct hostile *hostile, unsigned n)
{
	return (unsigned)(hostile_draw(hostile) % n);
}

bool hostile_chance(struct hostile *hostile, unsigned percent)
{
	return hostile_below(hostile, 100) < percent;
}

#define ONE_OF(list) (list)[hostile_below(hostile, COUNT(list))]

const char *put_one(struct hostile *hostile, enum put_list list)
{
	switch (list) {
	case PUT_PATH:
		return ONE_OF(paths);
	case PUT_INTERFACE:
		return ONE_OF(interfaces);
	case PUT_KEY:
		return ONE_OF(keys);
	case PUT_WORD:
		return ONE_OF(texts);
	case PUT_ERROR:
		return ONE_OF(errors);
	}
	return "";
}

/* ---- values ---- */

void put_must(dbus_bool_t good)
{
	if (!good)
		abort(); /* no memory, or our own mistake */
}

void put_text(DBusMessageIter *at, int type, const char *text)
{
	put_must(dbus_message_iter_append_basic(at, type, &text));
}

void put_octets(DBusMessageIter *at, const uint8_t *octets, size_t n)
{
	DBusMessageIter array;

	put_must(dbus_message_iter_open_container(at, DBUS_TYPE_ARRAY, "y", &array));
	put_must(dbus_message_iter_append_fixed_array(&array, DBUS_TYPE_BYTE, &octets, (int)n));
	put_must(dbus_message_iter_close_container(at, &array));
}

void put_texts(DBusMessageIter *at, const char *const *list, size_t n)
{
	DBusMessageIter array;

	put_must(dbus_message_iter_open_container(at, DBUS_TYPE_ARRAY, "s", &array));
	for (size_t i = 0; i < n; i++)
		put_text(&array, DBUS_TYPE_STRING, list[i]);
	put_must(dbus_message_iter_close_container(at, &array));
}

/* No length here is a weight's. */
static void put_some_octets(struct hostile *hostile, DBusMessageIter *at)
{
	static const uint8_t octets[HUGE];
	static const size_t lengths[] = { 0, 1, 600, HUGE };

	put_octets(at, octets, ONE_OF(lengths));
}

static void put_some_text(struct hostile *hostile, DBusMessageIter *at)
{
	static char name[LONG_NAME + 1];

	if (!*name)
		(void)memset(name, 'n', LONG_NAME);
	put_text(at, DBUS_TYPE_STRING, hostile_chance(hostile, 5) ? name : put_one(hostile, PUT_WORD));
}

static void put_number(struct hostile *hostile, DBusMessageIter *at, int type)
{
	uint64_t number = hostile_chance(hostile, 50) ? hostile_draw(hostile) : hostile_draw(hostile) % 101;
	dbus_bool_t flag = number & 1;

	put_must(dbus_message_iter_append_basic(at, type, type == DBUS_TYPE_BOOLEAN ? (void *)&flag : (void *)&number));
}

static void put_variant(struct hostile *hostile, DBusMessageIter *at, unsigned depth);

void put_dict(struct hostile *hostile, DBusMessageIter *at, unsigned depth)
{
	DBusMessageIter dict, entry;

	put_must(dbus_message_iter_open_container(at, DBUS_TYPE_ARRAY, "{sv}", &dict));
	for (unsigned n = hostile_below(hostile, 6); n; n--) {
		put_must(dbus_message_iter_open_container(&dict, DBUS_TYPE_DICT_ENTRY, NULL, &entry));
		put_text(&entry, DBUS_TYPE_STRING,
			 hostile_chance(hostile, 90) ? put_one(hostile, PUT_KEY) : put_one(hostile, PUT_WORD));
		put_variant(hostile, &entry, depth + 1);
		put_must(dbus_message_iter_close_container(&dict, &entry));
	}
	put_must(dbus_message_iter_close_container(at, &dict));
}

/* A value of any type, nested where there is depth left. */
static void put_variant(struct hostile *hostile, DBusMessageIter *at, unsigned depth)
{
	static const char *const kinds[] = { "b", "b", "b", "s", "s", "ay",    "as", "n",
					     "q", "y", "t", "d", "o", "a{sv}", "v" };
	const char *kind = ONE_OF(kinds), *list[4];
	DBusMessageIter variant;

	if (depth > 20 && (*kind == 'v' || strcmp(kind, "a{sv}") == 0))
		kind = "b";
	put_must(dbus_message_iter_open_container(at, DBUS_TYPE_VARIANT, kind, &variant));
	for (size_t i = 0; i < COUNT(list); i++)
		list[i] = put_one(hostile, PUT_WORD);
	if (strcmp(kind, "a{sv}") == 0)
		put_dict(hostile, &variant, depth + 1);
	else if (strcmp(kind, "ay") == 0)
		put_some_octets(hostile, &variant);
	else if (strcmp(kind, "as") == 0)
		put_texts(&variant, list, hostile_below(hostile, COUNT(list)));
	else if (*kind == 'v')
		put_variant(hostile, &variant, depth + 1);
	else if (*kind == 's')
		put_some_text(hostile, &variant);
	else if (*kind == 'o')
		put_text(&variant, DBUS_TYPE_OBJECT_PATH, put_one(hostile, PUT_PATH));
	else
		put_number(hostile, &variant, *kind);
	put_must(dbus_message_iter_close_container(at, &variant));
}

/* Interfaces and their properties. */
void put_interfaces(struct hostile *hostile, DBusMessageIter *at)
{
	DBusMessageIter dict, entry;

	put_must(dbus_message_iter_open_container(at, DBUS_TYPE_ARRAY, "{sa{sv}}", &dict));
	for (unsigned n = hostile_below(hostile, 4); n; n--) {
		put_must(dbus_message_iter_open_container(&dict, DBUS_TYPE_DICT_ENTRY, NULL, &entry));
		put_text(&entry, DBUS_TYPE_STRING, put_one(hostile, PUT_INTERFACE));
		put_dict(hostile, &entry, 0);
		put_must(dbus_message_iter_close_container(&dict, &entry));
	}
	put_must(dbus_message_iter_close_container(at, &dict));
}

void put_any(struct hostile *hostile, DBusMessageIter *at)
{
	switch (hostile_below(hostile, 6)) {
	case 0:
		put_some_text(hostile, at);
		break;
	case 1:
		put_text(at, DBUS_TYPE_OBJECT_PATH, put_one(hostile, PUT_PATH));
		break;
	case 2:
		put_number(hostile, at, DBUS_TYPE_UINT32);
		break;
	case 3:
		put_dict(hostile, at, 0);
		break;
	case 4:
		put_some_octets(hostile, at);
		break;
	default:
		put_variant(hostile, at, 0);
	}
}
