// SPDX-License-Identifier: MIT
/*
 * D-Bus messages as a hostile org.bluez could send them: any types where the mirror expects its own. Octets build the
 * message by a small stack machine, or are a marshalled message themselves.
 */
#include "daemon/radio/broadcast.h"
#include "daemon/radio/mirror.h"
#include "fuzz.h"

static int the_scale; /* the mirror never looks into one */

static struct scale *adopted(void *userdata, const char *address)
{
	(void)userdata;
	return address[0] == 'A' ? (struct scale *)&the_scale : NULL;
}

static bool wanted(void *userdata, const struct broadcast_part *part)
{
	(void)userdata;
	return broadcast_wanted(&(struct radio_ops){ 0 }, NULL, part);
}

static void adapter_gone(void *userdata, struct mirror_adapter *adapter)
{
	(void)userdata;
	(void)adapter;
}

static void device_gone(void *userdata, struct mirror_device *device)
{
	(void)userdata;
	(void)device;
}

static void attribute_gone(void *userdata, struct mirror_attribute *attribute)
{
	(void)userdata;
	(void)attribute;
}

static const struct mirror_ops ops = { adopted, wanted, adapter_gone, device_gone, attribute_gone };

static const char *const texts[] = {
	"/",
	"/org/bluez",
	"/org/bluez/hci0",
	"/org/bluez/hci0/dev_AA_BB_CC_00_00_01",
	"/org/bluez/hci0/dev_AA_BB_CC_00_00_01/service0010",
	"/org/bluez/hci0/dev_AA_BB_CC_00_00_01/service0010/char0011",
	"/org/bluez/hci0/dev_AA_BB_CC_00_00_01/service0010/char0011/desc0013",
	"/org/bluez/hci1",
	MIRROR_ADAPTER,
	MIRROR_DEVICE,
	MIRROR_BATTERY,
	MIRROR_CHARACTERISTIC,
	MIRROR_DESCRIPTOR,
	"Address",
	"Adapter",
	"Powered",
	"Discovering",
	"Connected",
	"ServicesResolved",
	"Paired",
	"UUIDs",
	"UUID",
	"Flags",
	"Value",
	"RSSI",
	"Name",
	"Alias",
	"Percentage",
	"ServiceData",
	"ManufacturerData",
	"Notifying",
	"Blocked",
	"AA:BB:CC:00:00:01",
	"AA:BB:CC:00:00:0",
	"indicate",
	"notify",
	"read",
	"write",
	"00002a9d-0000-1000-8000-00805f9b34fb",
	"00002904-0000-1000-8000-00805f9b34fb",
	"0000fcd2-0000-1000-8000-00805f9b34fb",
	MIRROR_WEIGHT_SCALE,
	"",
};
#define TEXTS (sizeof texts / sizeof *texts)

struct source {
	const uint8_t *data;
	size_t size;
};

static uint8_t take(struct source *source)
{
	if (source->size == 0)
		return 0;
	source->size--;
	return *source->data++;
}

static const char *text(struct source *source)
{
	return texts[take(source) % TEXTS];
}

static bool put_properties(DBusMessageIter *at, struct source *source)
{
	DBusMessageIter dict, entry, variant;
	uint8_t n = take(source) % 6;

	if (!dbus_message_iter_open_container(at, DBUS_TYPE_ARRAY, "{sv}", &dict))
		return false;
	while (n--) {
		const char *key = text(source);
		dbus_bool_t flag = take(source) & 1;
		uint8_t octets[8], *octet = octets;
		const char *value = text(source);
		uint16_t number = (uint16_t)(take(source) << 8 | take(source));
		DBusMessageIter array;

		if (!dbus_message_iter_open_container(&dict, DBUS_TYPE_DICT_ENTRY, NULL, &entry) ||
		    !dbus_message_iter_append_basic(&entry, DBUS_TYPE_STRING, &key))
			return false;
		switch (take(source) % 7) {
		case 0:
			(void)dbus_message_iter_open_container(&entry, DBUS_TYPE_VARIANT, "b", &variant);
			(void)dbus_message_iter_append_basic(&variant, DBUS_TYPE_BOOLEAN, &flag);
			break;
		case 1:
			(void)dbus_message_iter_open_container(&entry, DBUS_TYPE_VARIANT, "s", &variant);
			(void)dbus_message_iter_append_basic(&variant, DBUS_TYPE_STRING, &value);
			break;
		case 2:
			(void)dbus_message_iter_open_container(&entry, DBUS_TYPE_VARIANT, "q", &variant);
			(void)dbus_message_iter_append_basic(&variant, DBUS_TYPE_UINT16, &number);
			break;
		case 3:
			for (size_t i = 0; i < sizeof octets; i++)
				octets[i] = take(source);
			(void)dbus_message_iter_open_container(&entry, DBUS_TYPE_VARIANT, "ay", &variant);
			(void)dbus_message_iter_open_container(&variant, DBUS_TYPE_ARRAY, "y", &array);
			(void)dbus_message_iter_append_fixed_array(&array, DBUS_TYPE_BYTE, &octet, number % 9);
			(void)dbus_message_iter_close_container(&variant, &array);
			break;
		case 4:
			(void)dbus_message_iter_open_container(&entry, DBUS_TYPE_VARIANT, "as", &variant);
			(void)dbus_message_iter_open_container(&variant, DBUS_TYPE_ARRAY, "s", &array);
			for (int i = number % 4; i > 0; i--) {
				value = text(source);
				(void)dbus_message_iter_append_basic(&array, DBUS_TYPE_STRING, &value);
			}
			(void)dbus_message_iter_close_container(&variant, &array);
			break;
		case 5:
			if (value[0] != '/')
				value = "/";
			(void)dbus_message_iter_open_container(&entry, DBUS_TYPE_VARIANT, "o", &variant);
			(void)dbus_message_iter_append_basic(&variant, DBUS_TYPE_OBJECT_PATH, &value);
			break;
		default:
			(void)dbus_message_iter_open_container(&entry, DBUS_TYPE_VARIANT, "v", &variant);
			(void)dbus_message_iter_open_container(&variant, DBUS_TYPE_VARIANT, "n", &array);
			(void)dbus_message_iter_append_basic(&array, DBUS_TYPE_INT16, &number);
			(void)dbus_message_iter_close_container(&variant, &array);
			break;
		}
		(void)dbus_message_iter_close_container(&entry, &variant);
		(void)dbus_message_iter_close_container(&dict, &entry);
	}
	return dbus_message_iter_close_container(at, &dict);
}

/* Appends one value of any type. False: there is no memory. */
static bool put(DBusMessageIter *at, struct source *source)
{
	DBusMessageIter inner, entry, properties;
	const char *value = text(source);
	uint32_t number = take(source);
	uint8_t n;

	switch (take(source) % 6) {
	case 1:
		if (value[0] != '/')
			value = "/";
		return dbus_message_iter_append_basic(at, DBUS_TYPE_OBJECT_PATH, &value);
	case 2:
		return dbus_message_iter_append_basic(at, DBUS_TYPE_UINT32, &number);
	case 3:
		return put_properties(at, source);
	case 4: /* interfaces and their properties */
		if (!dbus_message_iter_open_container(at, DBUS_TYPE_ARRAY, "{sa{sv}}", &inner))
			return false;
		for (n = take(source) % 4; n > 0; n--) {
			value = text(source);
			(void)dbus_message_iter_open_container(&inner, DBUS_TYPE_DICT_ENTRY, NULL, &entry);
			(void)dbus_message_iter_append_basic(&entry, DBUS_TYPE_STRING, &value);
			(void)put_properties(&entry, source);
			(void)dbus_message_iter_close_container(&inner, &entry);
		}
		return dbus_message_iter_close_container(at, &inner);
	case 5: /* a whole tree */
		if (!dbus_message_iter_open_container(at, DBUS_TYPE_ARRAY, "{oa{sa{sv}}}", &inner))
			return false;
		for (n = take(source) % 6; n > 0; n--) {
			value = text(source);
			if (value[0] != '/')
				value = "/";
			(void)dbus_message_iter_open_container(&inner, DBUS_TYPE_DICT_ENTRY, NULL, &entry);
			(void)dbus_message_iter_append_basic(&entry, DBUS_TYPE_OBJECT_PATH, &value);
			(void)dbus_message_iter_open_container(&entry, DBUS_TYPE_ARRAY, "{sa{sv}}", &properties);
			for (uint8_t k = take(source) % 3; k > 0; k--) {
				DBusMessageIter interface;
				value = text(source);
				(void)dbus_message_iter_open_container(&properties, DBUS_TYPE_DICT_ENTRY, NULL,
								       &interface);
				(void)dbus_message_iter_append_basic(&interface, DBUS_TYPE_STRING, &value);
				(void)put_properties(&interface, source);
				(void)dbus_message_iter_close_container(&properties, &interface);
			}
			(void)dbus_message_iter_close_container(&entry, &properties);
			(void)dbus_message_iter_close_container(&inner, &entry);
		}
		return dbus_message_iter_close_container(at, &inner);
	default:
		return dbus_message_iter_append_basic(at, DBUS_TYPE_STRING, &value);
	}
}

static DBusMessage *message_of(struct source *source)
{
	const char *path = texts[take(source) % 8]; /* the first are paths */
	DBusMessage *message = dbus_message_new_signal(path, "org.freedesktop.DBus.Properties", "PropertiesChanged");
	DBusMessageIter at;

	if (!message)
		abort();
	dbus_message_iter_init_append(message, &at);
	for (uint8_t n = take(source) % 4; n > 0; n--)
		(void)put(&at, source);
	return message;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	struct mirror mirror = { .ops = &ops };
	struct source source = { data, size };

	while (source.size > 0) {
		uint8_t how = take(&source) % 5;
		DBusMessage *message =
			how < 4 ? message_of(&source)
				: dbus_message_demarshal((const char *)source.data, (int)source.size, NULL);

		if (how == 4)
			source.size = 0;
		if (!message)
			break;
		/* false: it was about nothing that concerns us */
		(void)(how == 0   ? mirror_tree(&mirror, message)
		       : how == 1 ? mirror_added(&mirror, message)
		       : how == 2 ? mirror_removed(&mirror, message)
				  : mirror_changed(&mirror, message));
		dbus_message_unref(message);
	}
	mirror_clear(&mirror);
	return 0;
}
