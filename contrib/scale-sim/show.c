// SPDX-License-Identifier: MIT
#include "show.h"
#include "device.h"
#include "discovery.h"
#include "model.h"
#include "node.h"
#include "put.h"

/* Tables are read by the row. */
// clang-format off

static void put_u16(DBusMessageIter *iter, int type, uint16_t value)
{
	if (!dbus_message_iter_append_basic(iter, type, &value))
		put_oom();
}

static void put_strings(DBusMessageIter *iter, const char *const *words, size_t n)
{
	DBusMessageIter array;

	put_open(iter, DBUS_TYPE_ARRAY, "s", &array);
	for (size_t i = 0; i < n; i++)
		put_string(&array, words[i]);
	put_close(iter, &array);
}

/* A getter of one line, for the many that are. N is the node, I the iterator. */
#define GETTER(name, expression) \
	static void name(const struct node *N, DBusMessageIter *I) \
	{ \
		expression; \
	}
#define TEST(name, expression) \
	static bool name(const struct node *N) \
	{ \
		return expression; \
	}

GETTER(adapter_address, put_string(I, N->adapter->address))
GETTER(adapter_name, put_string(I, N->adapter->name))
GETTER(adapter_alias, put_string(I, *N->adapter->alias ? N->adapter->alias : N->adapter->name))
GETTER(adapter_powered, put_bool(I, N->adapter->powered))
GETTER(adapter_state, put_string(I, N->adapter->powered ? "on" : N->adapter->blocked ? "off-blocked" : "off"))
GETTER(adapter_discoverable, put_bool(I, N->adapter->discoverable))
GETTER(adapter_pairable, put_bool(I, N->adapter->pairable))
GETTER(adapter_scans, put_bool(I, discovery_on(N->adapter)))
GETTER(public_type, put_string(I, "public"); (void)N)
GETTER(adapter_uuids, put_strings(I, (const char *const[]){ "00001800-0000-1000-8000-00805f9b34fb",
					"00001801-0000-1000-8000-00805f9b34fb" }, 2); (void)N)

static const struct prop adapter_props[] = {
	{ "Address", "s", NULL, adapter_address },
	{ "AddressType", "s", NULL, public_type },
	{ "Name", "s", NULL, adapter_name },
	{ "Alias", "s", NULL, adapter_alias },
	{ "Powered", "b", NULL, adapter_powered },
	{ "PowerState", "s", NULL, adapter_state },
	{ "Discoverable", "b", NULL, adapter_discoverable },
	{ "Pairable", "b", NULL, adapter_pairable },
	{ "Discovering", "b", NULL, adapter_scans },
	{ "UUIDs", "as", NULL, adapter_uuids },
	{ .name = NULL },
};

GETTER(device_address, put_string(I, N->device->peer->address))
GETTER(device_type, put_string(I, N->device->peer->random ? "random" : "public"))
GETTER(device_name, put_string(I, N->device->peer->name))
GETTER(device_paired, put_bool(I, N->device->paired))
GETTER(device_trusted, put_bool(I, N->device->trusted))
GETTER(device_false, put_bool(I, false); (void)N)
GETTER(device_connected, put_bool(I, N->device->link >= LINK_UP))
GETTER(device_resolved, put_bool(I, N->device->link == LINK_RESOLVED))
GETTER(device_rssi, put_u16(I, DBUS_TYPE_INT16, (uint16_t)N->device->peer->rssi_dbm))
/* 3200 "Generic: Weight Scale" of the appearance values. */
GETTER(device_appearance, put_u16(I, DBUS_TYPE_UINT16, 3200); (void)N)
GETTER(battery_percentage, uint8_t pct = (uint8_t)N->device->peer->battery_pct;
	if (!dbus_message_iter_append_basic(I, DBUS_TYPE_BYTE, &pct)) put_oom())
TEST(has_name, *N->device->peer->name != '\0')
TEST(has_rssi, N->device->heard)
TEST(has_appearance, N->device->peer->n_attrs > 0)
TEST(has_company, model_has_parts(N->device->peer, false))
TEST(has_data, model_has_parts(N->device->peer, true))
TEST(has_battery, N->device->battery_shown)

/* Without alias and name it is the address with dashes. */
static void device_alias(const struct node *node, DBusMessageIter *iter)
{
	const struct device *device = node->device;
	char dashes[SIM_ADDRESS];

	for (size_t i = 0; i < SIM_ADDRESS; i++)
		dashes[i] = device->peer->address[i] == ':' ? '-' : device->peer->address[i];
	put_string(iter, *device->alias ? device->alias : *device->peer->name ? device->peer->name : dashes);
}

static void device_uuids(const struct node *node, DBusMessageIter *iter)
{
	const char *uuids[SIM_ATTRS];

	put_strings(iter, uuids, device_services(node->device, uuids));
}

static void device_adapter(const struct node *node, DBusMessageIter *iter)
{
	struct node adapter = node_adapter(node->adapter);
	char buffer[SIM_PATH];

	put_path(iter, node_path(&adapter, buffer));
}

static void put_parts(const struct peer *peer, DBusMessageIter *iter, bool service)
{
	DBusMessageIter dict, entry;

	put_open(iter, DBUS_TYPE_ARRAY, service ? "{sv}" : "{qv}", &dict);
	for (size_t i = 0; i < peer->n_parts; i++) {
		const struct part *part = &peer->parts[i];
		if ((*part->uuid != '\0') != service)
			continue;
		put_open(&dict, DBUS_TYPE_DICT_ENTRY, NULL, &entry);
		if (service)
			put_string(&entry, part->uuid);
		else
			put_u16(&entry, DBUS_TYPE_UINT16, part->company);
		put_octets_variant(&entry, part->octets, part->n);
		put_close(&dict, &entry);
	}
	put_close(iter, &dict);
}

GETTER(device_company, put_parts(N->device->peer, I, false))
GETTER(device_data, put_parts(N->device->peer, I, true))

static const struct prop device_props[] = {
	{ "Address", "s", NULL, device_address },
	{ "AddressType", "s", NULL, device_type },
	{ "Name", "s", has_name, device_name },
	{ "Alias", "s", NULL, device_alias },
	{ "Appearance", "q", has_appearance, device_appearance },
	{ "Paired", "b", NULL, device_paired },
	{ "Trusted", "b", NULL, device_trusted },
	{ "Blocked", "b", NULL, device_false },
	{ "LegacyPairing", "b", NULL, device_false },
	{ "RSSI", "n", has_rssi, device_rssi },
	{ "Connected", "b", NULL, device_connected },
	{ "UUIDs", "as", NULL, device_uuids },
	{ "Adapter", "o", NULL, device_adapter },
	{ "ManufacturerData", "a{qv}", has_company, device_company },
	{ "ServiceData", "a{sv}", has_data, device_data },
	{ "ServicesResolved", "b", NULL, device_resolved },
	{ .name = NULL },
};

static const struct prop battery_props[] = {
	{ "Percentage", "y", NULL, battery_percentage },
	{ .name = NULL },
};

static const struct attr *attr_of(const struct node *node)
{
	return &node->device->peer->attrs[node->attr];
}

static const struct attr_state *state_of(const struct node *node)
{
	return &node->device->states[node->attr];
}

static void put_parent(const struct node *node, DBusMessageIter *iter, struct node parent)
{
	char buffer[SIM_PATH];

	(void)node;
	put_path(iter, node_path(&parent, buffer));
}

GETTER(attr_uuid, put_string(I, attr_of(N)->uuid))
GETTER(service_device, put_parent(N, I, node_device(N->device)))
GETTER(service_primary, put_bool(I, true); (void)N)
GETTER(chr_service, put_parent(N, I, node_attr(N->device, attr_of(N)->service)))
GETTER(desc_chr, put_parent(N, I, node_attr(N->device, attr_of(N)->chr)))
GETTER(attr_value, put_octets(I, state_of(N)->octets, state_of(N)->n))
GETTER(chr_notifying, put_bool(I, state_of(N)->notifying))
GETTER(chr_mtu, put_u16(I, DBUS_TYPE_UINT16, 23); (void)N)
TEST(has_value, state_of(N)->known)
TEST(can_notify, attr_of(N)->flags & (ATTR_NOTIFY | ATTR_INDICATE))
TEST(has_mtu, N->device->link == LINK_RESOLVED)

static void chr_flags(const struct node *node, DBusMessageIter *iter)
{
	static const char *const names[] = { "read", "write", "notify", "indicate" };
	const char *words[4];
	size_t n = 0;

	for (size_t i = 0; i < 4; i++)
		if (attr_of(node)->flags & 1u << i)
			words[n++] = names[i];
	put_strings(iter, words, n);
}

static const struct prop service_props[] = {
	{ "UUID", "s", NULL, attr_uuid },
	{ "Device", "o", NULL, service_device },
	{ "Primary", "b", NULL, service_primary },
	{ .name = NULL },
};

static const struct prop chr_props[] = {
	{ "UUID", "s", NULL, attr_uuid },
	{ "Service", "o", NULL, chr_service },
	{ "Value", "ay", has_value, attr_value },
	{ "Notifying", "b", can_notify, chr_notifying },
	{ "Flags", "as", NULL, chr_flags },
	{ "MTU", "q", has_mtu, chr_mtu },
	{ .name = NULL },
};

static const struct prop desc_props[] = {
	{ "UUID", "s", NULL, attr_uuid },
	{ "Characteristic", "o", NULL, desc_chr },
	{ "Value", "ay", has_value, attr_value },
	{ .name = NULL },
};

static const struct prop no_props[] = { { .name = NULL } };

const struct iface show_ifaces[] = {
	{ NODE_BLUEZ, "org.bluez.AgentManager1", NULL, no_props },
	{ NODE_ADAPTER, "org.bluez.Adapter1", NULL, adapter_props },
	{ NODE_ADAPTER, "org.bluez.GattManager1", NULL, no_props },
	{ NODE_DEVICE, "org.bluez.Device1", NULL, device_props },
	{ NODE_DEVICE, "org.bluez.Battery1", has_battery, battery_props },
	{ NODE_SERVICE, "org.bluez.GattService1", NULL, service_props },
	{ NODE_CHR, "org.bluez.GattCharacteristic1", NULL, chr_props },
	{ NODE_DESC, "org.bluez.GattDescriptor1", NULL, desc_props },
	{ .name = NULL },
};
