// SPDX-License-Identifier: MIT
#include "broadcast.h"
#include "mirror.h"
#include "daemon/limits.h"
#include "protocols/formats.h"
#include <ctype.h>

/* Where a property was read: only a signal of change counts a repeated statement as news. */
enum source { FROM_TREE, FROM_ADDED, FROM_CHANGE };

static bool read_adapter(struct mirror *mirror, const char *path, DBusMessageIter *properties,
			 enum source source)
{
	struct mirror_adapter *adapter = mirror_adapter(mirror, path);
	DBusMessageIter dict, value;
	const char *key, *text;

	if (!adapter) {
		unsigned n = 0;

		for (struct mirror_adapter *at = mirror->adapters; at; at = at->next)
			n++;
		if (source == FROM_CHANGE || n >= LIMIT_ADAPTERS ||
		    !(adapter = mirror_object_new(offsetof(struct mirror_adapter, path), path)))
			return false;
		adapter->powered = true; /* until told otherwise */
		adapter->next = mirror->adapters;
		mirror->adapters = adapter;
		mirror->reshaped = true;
	}
	adapter->mark = mirror->mark;
	if (!dict_enter(properties, &dict))
		return false;
	while (dict_next(&dict, &key, &value)) {
		if (strcmp(key, "Powered") == 0)
			(void)dict_flag(&value, &adapter->powered); /* another type tells nothing */
		else if (strcmp(key, "Discovering") == 0)
			(void)dict_flag(&value, &adapter->discovering);
		else if (strcmp(key, "Address") == 0 && dict_text(&value, &text))
			(void)mirror_address(text, adapter->address);
	}
	return true;
}

/* listen.c has the octets; here it counts what kind of device it is. */
static void read_broadcast(struct mirror *mirror, struct mirror_device *device, const char *key,
			   DBusMessageIter *value, enum source source)
{
	struct broadcast_walk walk;
	struct broadcast_part part;

	if (!broadcast_enter(key, value, &walk))
		return;
	if (source == FROM_CHANGE)
		device->said |= SAID_HEARD;
	while (broadcast_next(&walk, &part)) {
		if (!mirror->ops->wanted(mirror->userdata, &part))
			continue;
		device->broadcasts = true;
		if (source != FROM_TREE)
			device->said |= SAID_BROADCAST;
	}
}

static void read_device_property(struct mirror *mirror, struct mirror_device *device, const char *key,
				 DBusMessageIter *value, enum source source)
{
	bool flag;

	if (strcmp(key, "Connected") == 0 && dict_flag(value, &flag)) {
		if (source == FROM_CHANGE || flag != device->connected)
			device->said |= flag ? SAID_CONNECTED : SAID_DISCONNECTED;
		/* bluetoothd signals when it has nothing else to do, and then the latest value */
		if (source == FROM_CHANGE && flag && device->connected)
			device->said |= SAID_DISCONNECTED;
		device->connected = flag;
		device->resolved = device->resolved && flag;
	} else if (strcmp(key, "ServicesResolved") == 0 && dict_flag(value, &flag)) {
		if (source == FROM_CHANGE || flag != device->resolved)
			device->said |= flag ? SAID_RESOLVED : SAID_UNRESOLVED;
		device->resolved = flag;
		device->resolves |= flag;
	} else if (strcmp(key, "Paired") == 0) {
		(void)dict_flag(value, &device->paired); /* another type tells nothing */
	} else if (strcmp(key, "Trusted") == 0) {
		(void)dict_flag(value, &device->trusted); /* another type tells nothing */
	} else if (strcmp(key, "RSSI") == 0) {
		if (dict_i16(value, &device->rssi_dbm) && source != FROM_TREE)
			device->said |= SAID_HEARD;
	} else if (strcmp(key, "UUIDs") == 0 && dict_is_list(value)) {
		device->announces = dict_lists(value, MIRROR_WEIGHT_SCALE) ||
				    dict_lists(value, MIRROR_BODY_COMPOSITION);
	} else {
		read_broadcast(mirror, device, key, value, source);
	}
}

static struct mirror_device *device_get(struct mirror *mirror, const char *path,
					DBusMessageIter *properties, enum source source)
{
	char address[RADIO_ADDRESS_SIZE];
	struct mirror_device *device;
	struct scale *scale;

	for (device = mirror->devices; device; device = device->next)
		if (strcmp(device->path, path) == 0)
			return device;
	if (source == FROM_CHANGE || !mirror_address_of(path, properties, address))
		return NULL;
	scale = mirror->ops->adopted(mirror->userdata, address);
	if (!scale || !(device = mirror_object_new(offsetof(struct mirror_device, path), path)))
		return NULL;
	device->scale = scale;
	memcpy(device->address, address, sizeof address);
	device->rssi_dbm = MIRROR_NO_RSSI;
	device->battery = UINT8_MAX;
	device->next = mirror->devices;
	mirror->devices = device;
	mirror->reshaped = true;
	return device;
}

static bool read_device(struct mirror *mirror, const char *path, DBusMessageIter *properties,
			enum source source)
{
	struct mirror_device *device = device_get(mirror, path, properties, source);
	DBusMessageIter dict, value;
	const char *key;

	if (!device)
		return false;
	device->mark = mirror->mark;
	if (source == FROM_ADDED)
		device->said |= SAID_HEARD; /* BlueZ makes an object when it hears a device */
	if (!dict_enter(properties, &dict))
		return false;
	if (source == FROM_TREE && device->rssi_dbm != MIRROR_NO_RSSI && !dict_find(properties, "RSSI", &value)) {
		device->rssi_dbm = MIRROR_NO_RSSI; /* it went before the rule for its signals held */
		device->said |= SAID_UNHEARD;
	}
	while (dict_next(&dict, &key, &value))
		read_device_property(mirror, device, key, &value, source);
	if (source != FROM_CHANGE && !device->connected) { /* left over from the link before */
		device->resolved = false;
		device->said &= ~(unsigned)SAID_RESOLVED;
	}
	return true;
}

static bool read_battery(struct mirror *mirror, const char *path, DBusMessageIter *properties)
{
	struct mirror_device *device = mirror_device_over(mirror, path);
	DBusMessageIter value;
	uint8_t percent;

	if (!device || strcmp(device->path, path) != 0 ||
	    !dict_find(properties, "Percentage", &value) || !dict_u8(&value, &percent) ||
	    percent > 100 || percent == device->battery)
		return false;
	device->battery = percent;
	device->said |= SAID_BATTERY;
	return true;
}

static void read_attribute_properties(struct mirror_attribute *attribute,
				      DBusMessageIter *properties)
{
	DBusMessageIter dict, value;
	const char *key, *text;
	bool flag;

	if (!dict_enter(properties, &dict))
		return;
	while (dict_next(&dict, &key, &value)) {
		if (strcmp(key, "UUID") == 0 && dict_text(&value, &text) &&
		    strlen(text) == MIRROR_UUID_SIZE - 1) {
			for (size_t i = 0; i < MIRROR_UUID_SIZE; i++)
				attribute->uuid[i] = (char)tolower((unsigned char)text[i]);
			attribute->number = format_assigned_number(attribute->uuid);
		} else if (strcmp(key, "Flags") == 0 && dict_is_list(&value)) {
			attribute->notifies =
				dict_lists(&value, "notify") || dict_lists(&value, "indicate");
			attribute->writes = dict_lists(&value, "write");
		} else if (strcmp(key, "Notifying") == 0 && dict_flag(&value, &flag)) {
			attribute->not_notifying = !flag;
		}
	}
}

static bool read_attribute(struct mirror *mirror, const char *path, bool descriptor,
			   DBusMessageIter *properties, enum source source)
{
	struct mirror_device *device = mirror_device_over(mirror, path);
	struct mirror_attribute *attribute;

	if (!device)
		return false;
	attribute = mirror_attribute_in(device, path);
	if (!attribute) {
		if (source == FROM_CHANGE || device->n_attributes >= LIMIT_ATTRIBUTES ||
		    !(attribute = mirror_object_new(offsetof(struct mirror_attribute, path), path)))
			return false;
		attribute->device = device;
		attribute->descriptor = descriptor;
		attribute->next = device->attributes;
		device->attributes = attribute;
		device->n_attributes++;
		device->said |= SAID_ATTRIBUTE;
	}
	attribute->mark = mirror->mark;
	read_attribute_properties(attribute, properties);
	return source != FROM_CHANGE;
}

/* One pass reads adapters, the next devices, the next what belongs to them: the order of the
 * message is any. */
enum { PASS_ADAPTERS, PASS_DEVICES, PASS_REST, N_PASSES };

static bool read_object(struct mirror *mirror, const char *path, DBusMessageIter *interfaces,
			int pass, enum source source)
{
	DBusMessageIter dict, properties;
	const char *interface;
	bool ours = false;

	if (!dict_enter(interfaces, &dict))
		return false;
	while (dict_next(&dict, &interface, &properties)) {
		if (pass == PASS_ADAPTERS && strcmp(interface, MIRROR_ADAPTER) == 0)
			ours |= read_adapter(mirror, path, &properties, source);
		else if (pass == PASS_DEVICES && strcmp(interface, MIRROR_DEVICE) == 0)
			ours |= read_device(mirror, path, &properties, source);
		else if (pass == PASS_REST && strcmp(interface, MIRROR_BATTERY) == 0)
			ours |= read_battery(mirror, path, &properties);
		else if (pass == PASS_REST && strcmp(interface, MIRROR_CHARACTERISTIC) == 0)
			ours |= read_attribute(mirror, path, false, &properties, source);
		else if (pass == PASS_REST && strcmp(interface, MIRROR_DESCRIPTOR) == 0)
			ours |= read_attribute(mirror, path, true, &properties, source);
	}
	return ours;
}

bool mirror_tree(struct mirror *mirror, DBusMessage *reply)
{
	DBusMessageIter at, objects, interfaces;
	const char *path;

	mirror->mark++;
	for (int pass = 0; pass < N_PASSES; pass++) {
		if (!dbus_message_iter_init(reply, &at) || !dict_enter(&at, &objects))
			return false;
		while (dict_next(&objects, &path, &interfaces))
			if (dbus_validate_path(path, NULL)) /* the key may have been any text */
				(void)read_object(mirror, path, &interfaces, pass,
						  FROM_TREE); /* all is looked at */
	}
	mirror_sweep(mirror);
	return true;
}

bool mirror_added(struct mirror *mirror, DBusMessage *signal)
{
	DBusMessageIter at;
	const char *path;
	bool ours = false;

	if (!dbus_message_iter_init(signal, &at) || !dict_path(&at, &path) ||
	    !dbus_message_iter_next(&at))
		return false;
	for (int pass = 0; pass < N_PASSES; pass++) {
		DBusMessageIter interfaces = at;

		ours |= read_object(mirror, path, &interfaces, pass, FROM_ADDED);
	}
	return ours;
}

static void read_invalidated(struct mirror *mirror, const char *path, DBusMessageIter *names)
{
	struct mirror_device *device = mirror_device_over(mirror, path);

	if (!device || strcmp(device->path, path) != 0 || !dict_lists(names, "RSSI"))
		return;
	device->rssi_dbm = MIRROR_NO_RSSI;
	device->said |= SAID_UNHEARD;
}

bool mirror_changed(struct mirror *mirror, DBusMessage *signal)
{
	const char *path = dbus_message_get_path(signal), *interface;
	DBusMessageIter at;
	bool ours = false;

	if (!path || !dbus_message_iter_init(signal, &at) || !dict_text(&at, &interface) ||
	    !dbus_message_iter_next(&at))
		return false;
	if (strcmp(interface, MIRROR_ADAPTER) == 0)
		ours = read_adapter(mirror, path, &at, FROM_CHANGE);
	else if (strcmp(interface, MIRROR_DEVICE) == 0)
		ours = read_device(mirror, path, &at, FROM_CHANGE);
	else if (strcmp(interface, MIRROR_BATTERY) == 0)
		ours = read_battery(mirror, path, &at);
	else if (strcmp(interface, MIRROR_CHARACTERISTIC) == 0)
		ours = read_attribute(mirror, path, false, &at, FROM_CHANGE);
	if (strcmp(interface, MIRROR_DEVICE) == 0 && dbus_message_iter_next(&at))
		read_invalidated(mirror, path, &at);
	return ours;
}
