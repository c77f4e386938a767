// SPDX-License-Identifier: MIT
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
#include "daemon/limits.h"
#include "daemon/radio/broadcast.h"
#include "daemon/radio/mirror.h"

#define HCI0 "/org/bluez/hci0"
#define DEVICE HCI0 "/dev_AA_BB_CC_00_00_01"
#define SERVICE DEVICE "/service0010"
#define OURS "AA:BB:CC:00:00:01"
#define WEIGHT_MEASUREMENT "00002A9D-0000-1000-8000-00805F9B34FB"

struct world {
	struct mirror mirror;
	unsigned adapters_gone, devices_gone, attributes_gone;
};

static int the_scale; /* the mirror never looks into one */

static struct scale *adopted(void *userdata, const char *address)
{
	(void)userdata;
	return strcmp(address, OURS) == 0 ? (struct scale *)&the_scale : NULL;
}

static bool wanted(void *userdata, const struct broadcast_part *part)
{
	(void)userdata;
	return broadcast_wanted(&(struct radio_ops){ 0 }, NULL, part);
}

static void adapter_gone(void *userdata, struct mirror_adapter *adapter)
{
	(void)adapter;
	((struct world *)userdata)->adapters_gone++;
}

static void device_gone(void *userdata, struct mirror_device *device)
{
	(void)device;
	((struct world *)userdata)->devices_gone++;
}

static void attribute_gone(void *userdata, struct mirror_attribute *attribute)
{
	(void)attribute;
	((struct world *)userdata)->attributes_gone++;
}

static const struct mirror_ops ops = { adopted, wanted, adapter_gone, device_gone, attribute_gone };

static struct world *world_new(void)
{
	struct world *world = calloc(1, sizeof *world);

	assert_non_null(world);
	world->mirror.ops = &ops;
	world->mirror.userdata = world;
	return world;
}

static void world_free(struct world *world)
{
	mirror_clear(&world->mirror);
	free(world);
}

/* One property; signature says how value is read: s, o, b, y, q, n, i, d; "as": one text; "ay":
 * three octets. */
struct property {
	const char *key, *signature;
	const void *value;
};

static void put_property(DBusMessageIter *dict, const struct property *property)
{
	DBusMessageIter entry, variant, array;
	const char *s = property->signature;

	dbus_message_iter_open_container(dict, DBUS_TYPE_DICT_ENTRY, NULL, &entry);
	dbus_message_iter_append_basic(&entry, DBUS_TYPE_STRING, &property->key);
	dbus_message_iter_open_container(&entry, DBUS_TYPE_VARIANT, s, &variant);
	if (s[0] == 'a') {
		dbus_message_iter_open_container(&variant, DBUS_TYPE_ARRAY, s + 1, &array);
		for (int i = 0; i < (s[1] == 'y' ? 3 : 1); i++)
			dbus_message_iter_append_basic(&array, s[1], property->value);
		dbus_message_iter_close_container(&variant, &array);
	} else {
		dbus_message_iter_append_basic(&variant, s[0], property->value);
	}
	dbus_message_iter_close_container(&entry, &variant);
	dbus_message_iter_close_container(dict, &entry);
}

static void put_properties(DBusMessageIter *at, const struct property *properties, size_t n)
{
	DBusMessageIter dict;

	dbus_message_iter_open_container(at, DBUS_TYPE_ARRAY, "{sv}", &dict);
	for (size_t i = 0; i < n; i++)
		put_property(&dict, &properties[i]);
	dbus_message_iter_close_container(at, &dict);
}

struct object {
	const char *path, *interface;
	struct property properties[4];
	size_t n;
};

static void put_interfaces(DBusMessageIter *at, const struct object *object)
{
	DBusMessageIter dict, entry;

	dbus_message_iter_open_container(at, DBUS_TYPE_ARRAY, "{sa{sv}}", &dict);
	dbus_message_iter_open_container(&dict, DBUS_TYPE_DICT_ENTRY, NULL, &entry);
	dbus_message_iter_append_basic(&entry, DBUS_TYPE_STRING, &object->interface);
	put_properties(&entry, object->properties, object->n);
	dbus_message_iter_close_container(&dict, &entry);
	dbus_message_iter_close_container(at, &dict);
}

static bool add(struct world *world, const struct object *object)
{
	DBusMessage *signal = dbus_message_new_signal("/", "org.freedesktop.DBus.ObjectManager",
						      "InterfacesAdded");
	DBusMessageIter at;
	bool ours;

	dbus_message_iter_init_append(signal, &at);
	dbus_message_iter_append_basic(&at, DBUS_TYPE_OBJECT_PATH, &object->path);
	put_interfaces(&at, object);
	ours = mirror_added(&world->mirror, signal);
	dbus_message_unref(signal);
	return ours;
}

static bool tree(struct world *world, const struct object *objects, size_t n)
{
	DBusMessage *reply = dbus_message_new(DBUS_MESSAGE_TYPE_METHOD_RETURN);
	DBusMessageIter at, dict, entry;
	bool good;

	dbus_message_iter_init_append(reply, &at);
	dbus_message_iter_open_container(&at, DBUS_TYPE_ARRAY, "{oa{sa{sv}}}", &dict);
	for (size_t i = 0; i < n; i++) {
		dbus_message_iter_open_container(&dict, DBUS_TYPE_DICT_ENTRY, NULL, &entry);
		dbus_message_iter_append_basic(&entry, DBUS_TYPE_OBJECT_PATH, &objects[i].path);
		put_interfaces(&entry, &objects[i]);
		dbus_message_iter_close_container(&dict, &entry);
	}
	dbus_message_iter_close_container(&at, &dict);
	good = mirror_tree(&world->mirror, reply);
	dbus_message_unref(reply);
	return good;
}

static bool change(struct world *world, const struct object *object, const char *invalidated)
{
	DBusMessage *signal = dbus_message_new_signal(object->path, DBUS_INTERFACE_PROPERTIES,
						      "PropertiesChanged");
	DBusMessageIter at, array;
	bool ours;

	dbus_message_iter_init_append(signal, &at);
	dbus_message_iter_append_basic(&at, DBUS_TYPE_STRING, &object->interface);
	put_properties(&at, object->properties, object->n);
	dbus_message_iter_open_container(&at, DBUS_TYPE_ARRAY, "s", &array);
	if (invalidated)
		dbus_message_iter_append_basic(&array, DBUS_TYPE_STRING, &invalidated);
	dbus_message_iter_close_container(&at, &array);
	ours = mirror_changed(&world->mirror, signal);
	dbus_message_unref(signal);
	return ours;
}

static bool take(struct world *world, const char *path, const char *interface)
{
	DBusMessage *signal = dbus_message_new_signal("/", "org.freedesktop.DBus.ObjectManager",
						      "InterfacesRemoved");
	const char *const list[] = { interface };
	const char *const *first = list;
	bool ours;

	dbus_message_append_args(signal, DBUS_TYPE_OBJECT_PATH, &path, DBUS_TYPE_ARRAY,
				 DBUS_TYPE_STRING, &first, 1, DBUS_TYPE_INVALID);
	ours = mirror_removed(&world->mirror, signal);
	dbus_message_unref(signal);
	return ours;
}

static const char *const our_address = OURS, *const other_address = "AA:BB:CC:00:00:02",
			 *const weight_uuid = WEIGHT_MEASUREMENT,
			 *const format_uuid = "00002904-0000-1000-8000-00805f9b34fb",
			 *const indicate = "indicate";
static const dbus_bool_t yes = TRUE, no = FALSE;
static const int16_t minus_60 = -60;

static const struct object an_adapter = { HCI0, MIRROR_ADAPTER, { { "Powered", "b", &yes } }, 1 };
static const struct object a_device = {
	DEVICE, MIRROR_DEVICE, { { "Address", "s", &our_address }, { "Connected", "b", &no } }, 2
};
static const struct object a_stranger = {
	HCI0 "/dev_AA_BB_CC_00_00_02", MIRROR_DEVICE, { { "Address", "s", &other_address } }, 1
};
static const struct object a_characteristic = { SERVICE "/char0011",
						MIRROR_CHARACTERISTIC,
						{ { "UUID", "s", &weight_uuid },
						  { "Flags", "as", &indicate } },
						2 };
static const struct object a_descriptor = {
	SERVICE "/char0011/desc0013", MIRROR_DESCRIPTOR, { { "UUID", "s", &format_uuid } }, 1
};

static void test_tree_in_any_order(void **state)
{
	const struct object objects[] = { a_descriptor, a_stranger, a_characteristic, a_device,
					  an_adapter };
	struct world *world = world_new();
	struct mirror_attribute *attribute;

	(void)state;
	assert_true(tree(world, objects, sizeof objects / sizeof *objects));
	assert_non_null(mirror_adapter(&world->mirror, HCI0));
	assert_non_null(world->mirror.devices);
	assert_null(world->mirror.devices->next); /* no stranger */
	assert_ptr_equal(mirror_adapter_of(&world->mirror, world->mirror.devices),
			 world->mirror.adapters);
	attribute = mirror_attribute(&world->mirror, a_characteristic.path);
	assert_non_null(attribute);
	assert_int_equal(attribute->number, 0x2A9D);
	assert_true(attribute->notifies);
	assert_false(attribute->descriptor);
	attribute = mirror_attribute(&world->mirror, a_descriptor.path);
	assert_non_null(attribute);
	assert_true(attribute->descriptor);
	/* what the next reading doesn't tell of is gone */
	assert_true(tree(world, objects + 3, 2));
	assert_int_equal(world->attributes_gone, 2);
	assert_true(tree(world, objects + 4, 1));
	assert_int_equal(world->devices_gone, 1);
	assert_true(tree(world, NULL, 0));
	assert_int_equal(world->adapters_gone, 1);
	world_free(world);
}

/* An adapter goes without a word about its children (facts, 7.1). */
static void test_removal_by_prefix(void **state)
{
	const struct object objects[] = { an_adapter, a_device, a_characteristic, a_descriptor };
	struct world *world = world_new();

	(void)state;
	assert_true(tree(world, objects, 4));
	assert_false(take(world, "/org/bluez/hci", MIRROR_ADAPTER));
	assert_false(take(world, DEVICE, "org.bluez.Unheard1"));
	assert_true(take(world, a_descriptor.path, MIRROR_DESCRIPTOR));
	assert_int_equal(world->attributes_gone, 1);
	assert_true(take(world, HCI0, MIRROR_ADAPTER));
	assert_int_equal(world->adapters_gone, 1);
	assert_int_equal(world->devices_gone, 1);
	assert_int_equal(world->attributes_gone, 2);
	/* the next device under a name that has ours as a prefix isn't ours */
	assert_true(tree(world, objects, 4));
	assert_null(mirror_attribute(&world->mirror, DEVICE "0/service0010/char0011"));
	assert_true(take(world, DEVICE, MIRROR_DEVICE));
	assert_int_equal(world->devices_gone, 2);
	world_free(world);
}

static void test_what_counts_as_news(void **state)
{
	const struct object connected = {
		DEVICE, MIRROR_DEVICE, { { "Connected", "b", &yes } }, 1
	};
	const struct object disconnected = {
		DEVICE, MIRROR_DEVICE, { { "Connected", "b", &no } }, 1
	};
	const struct object rssi = { DEVICE, MIRROR_DEVICE, { { "RSSI", "n", &minus_60 } }, 1 };
	const struct object nothing = { DEVICE, MIRROR_DEVICE, { { 0 } }, 0 };
	const struct object strange = {
		a_stranger.path, MIRROR_DEVICE, { { "RSSI", "n", &minus_60 } }, 1
	};
	struct world *world = world_new();
	struct mirror_device *device;

	(void)state;
	assert_true(tree(world, &an_adapter, 1));
	assert_false(add(world, &a_stranger));
	assert_false(change(world, &strange, NULL));
	assert_false(change(world, &rssi, NULL)); /* not known yet */
	assert_true(add(world, &a_device));
	device = world->mirror.devices;
	assert_int_equal(device->said, SAID_HEARD);
	device->said = 0;
	assert_true(change(world, &rssi, NULL));
	assert_int_equal(device->said, SAID_HEARD);
	assert_int_equal(device->rssi_dbm, -60);
	device->said = 0;
	assert_true(change(world, &nothing, "RSSI"));
	assert_int_equal(device->said, SAID_UNHEARD);
	device->said = 0;
	assert_int_equal(device->rssi_dbm, MIRROR_NO_RSSI);
	/* nor when the tree doesn't show it any more */
	assert_true(change(world, &rssi, NULL));
	device->said = 0;
	const struct object without[] = { an_adapter, a_device };
	assert_true(tree(world, without, 2));
	assert_int_equal(device->said, SAID_UNHEARD);
	assert_int_equal(device->rssi_dbm, MIRROR_NO_RSSI);
	device->said = 0;
	assert_true(tree(world, without, 2));
	assert_int_equal(device->said, 0);
	/* a repeated statement counts in a signal, not in a reading of the tree */
	for (int i = 0; i < 2; i++) {
		assert_true(change(world, &disconnected, NULL));
		assert_int_equal(device->said, SAID_DISCONNECTED);
		device->said = 0;
	}
	assert_true(change(world, &connected, NULL));
	assert_int_equal(device->said, SAID_CONNECTED);
	device->said = 0;
	/* connected, and again: it was disconnected in between */
	assert_true(change(world, &connected, NULL));
	assert_int_equal(device->said, SAID_CONNECTED | SAID_DISCONNECTED);
	device->said = 0;
	const struct object objects[] = { an_adapter, connected };
	assert_true(tree(world, objects, 2));
	assert_int_equal(device->said, 0);
	world_free(world);
}

static void test_caps(void **state)
{
	struct world *world = world_new();
	char path[128];
	unsigned n;

	(void)state;
	for (n = 0; n < LIMIT_ADAPTERS + 1; n++) {
		struct object adapter = an_adapter;

		snprintf(path, sizeof path, "/org/bluez/hci%u", n);
		adapter.path = path;
		assert_int_equal(add(world, &adapter), n < LIMIT_ADAPTERS);
	}
	assert_true(add(world, &a_device));
	for (n = 0; n < LIMIT_ATTRIBUTES + 1; n++) {
		struct object characteristic = a_characteristic;

		snprintf(path, sizeof path, SERVICE "/char%04x", n);
		characteristic.path = path;
		assert_int_equal(add(world, &characteristic), n < LIMIT_ATTRIBUTES);
	}
	assert_int_equal(world->mirror.devices->n_attributes, LIMIT_ATTRIBUTES);
	world_free(world);
}

/* Every property that is looked at, in every type that it hasn't: nothing is believed, nothing
 * breaks. */
static void test_wrong_types(void **state)
{
	static const struct {
		const char *interface, *key, *path;
	} looked_at[] = {
		{ MIRROR_ADAPTER, "Powered", HCI0 },
		{ MIRROR_ADAPTER, "Discovering", HCI0 },
		{ MIRROR_ADAPTER, "Address", HCI0 },
		{ MIRROR_DEVICE, "Connected", DEVICE },
		{ MIRROR_DEVICE, "ServicesResolved", DEVICE },
		{ MIRROR_DEVICE, "Trusted", DEVICE },
		{ MIRROR_DEVICE, "RSSI", DEVICE },
		{ MIRROR_DEVICE, "Address", DEVICE },
		{ MIRROR_DEVICE, "UUIDs", DEVICE },
		{ MIRROR_DEVICE, "ServiceData", DEVICE },
		{ MIRROR_DEVICE, "ManufacturerData", DEVICE },
		{ MIRROR_BATTERY, "Percentage", DEVICE },
		{ MIRROR_CHARACTERISTIC, "UUID", SERVICE "/char0011" },
		{ MIRROR_CHARACTERISTIC, "Flags", SERVICE "/char0011" },
		{ MIRROR_CHARACTERISTIC, "Notifying", SERVICE "/char0011" },
	};
	static const char *const text = "x";
	static const char *const path = "/x";
	static const double number = 1;
	static const int32_t integer = 7;
	const struct property wrong[] = { { NULL, "o", &path },    { NULL, "d", &number },
					  { NULL, "i", &integer }, { NULL, "ay", &yes },
					  { NULL, "as", &text },   { NULL, "s", &text },
					  { NULL, "u", &integer } };
	const struct object objects[] = { an_adapter, a_device, a_characteristic };
	struct world *world = world_new();
	struct mirror_device *device;
	struct mirror_attribute *attribute;

	(void)state;
	assert_true(tree(world, objects, 3));
	device = world->mirror.devices;
	attribute = device->attributes;
	device->said = 0;
	for (size_t i = 0; i < sizeof looked_at / sizeof *looked_at; i++)
		for (size_t j = 0; j < sizeof wrong / sizeof *wrong; j++) {
			struct object object = {
				looked_at[i].path, looked_at[i].interface, { wrong[j] }, 1
			};

			if (strcmp(looked_at[i].key, "Flags") == 0 &&
			    strcmp(wrong[j].signature, "as") == 0)
				continue; /* that is what it should be */
			object.properties[0].key = looked_at[i].key;
			(void)change(world, &object, "x");
			assert_true(attribute->notifies);
		}
	assert_int_equal(device->said, 0);
	assert_false(device->announces);
	assert_false(device->broadcasts);
	assert_int_equal(device->rssi_dbm, MIRROR_NO_RSSI);
	assert_int_equal(device->battery, UINT8_MAX);
	assert_string_equal(device->address, OURS);
	assert_int_equal(attribute->number, 0x2A9D);
	assert_true(world->mirror.adapters->powered);
	assert_string_equal(world->mirror.adapters->address, "");
	world_free(world);
}

static void test_wrong_messages(void **state)
{
	DBusMessage *signal =
		dbus_message_new_signal(DEVICE, DBUS_INTERFACE_PROPERTIES, "PropertiesChanged");
	const char *interface = MIRROR_DEVICE;
	struct world *world = world_new();
	int32_t number = 3;

	(void)state;
	assert_true(tree(world, &a_device, 1));
	for (int i = 0; i < 2; i++) { /* nothing in it; then an interface and a number */
		assert_false(mirror_added(&world->mirror, signal));
		assert_false(mirror_removed(&world->mirror, signal));
		assert_false(mirror_tree(&world->mirror, signal));
		(void)mirror_changed(&world->mirror, signal);
		assert_int_equal(world->mirror.devices->said, 0);
		dbus_message_append_args(signal, DBUS_TYPE_STRING, &interface, DBUS_TYPE_INT32,
					 &number, DBUS_TYPE_INVALID);
	}
	dbus_message_unref(signal);
	world_free(world);
}

static void test_addresses(void **state)
{
	static const char *const bad[] = { "",
					   "AA:BB:CC:DD:EE:F",
					   "AA:BB:CC:DD:EE:FFF",
					   "AA-BB-CC-DD-EE-FF",
					   "AA:BB:CC:DD:EE:FG",
					   "AA:BB:CC:DD:EE:FF " };
	char address[RADIO_ADDRESS_SIZE] = "untouched";

	(void)state;
	for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
		assert_false(mirror_address(bad[i], address));
	assert_string_equal(address, "untouched");
	assert_true(mirror_address("aa:bB:0c:dd:ee:ff", address));
	assert_string_equal(address, "AA:BB:0C:DD:EE:FF");
}

int main(void)
{
	static const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_tree_in_any_order),
		cmocka_unit_test(test_removal_by_prefix),
		cmocka_unit_test(test_what_counts_as_news),
		cmocka_unit_test(test_caps),
		cmocka_unit_test(test_wrong_types),
		cmocka_unit_test(test_wrong_messages),
		cmocka_unit_test(test_addresses),
	};
	int failed = cmocka_run_group_tests(tests, NULL, NULL);

	dbus_shutdown();
	return failed;
}
