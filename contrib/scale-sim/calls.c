// SPDX-License-Identifier: MIT
#include "calls.h"
#include "adapter.h"
#include "apps.h"
#include "chr.h"
#include "device.h"
#include "discovery.h"
#include "introspect.h"
#include "node.h"
#include "props.h"
#include "put.h"
#include "say.h"
#include "words.h"

#define MANAGER "org.freedesktop.DBus.ObjectManager"
#define GATT_MANAGER "org.bluez.GattManager1"
#define AGENT_MANAGER "org.bluez.AgentManager1"

struct method {
	const char *iface, *member, *signature;
	DBusMessage *(*call)(const struct node *node, DBusMessage *msg);
};

static void put_object(const struct node *node, void *userdata)
{
	DBusMessageIter *dict = userdata, entry;
	char path[SIM_PATH];

	put_open(dict, DBUS_TYPE_DICT_ENTRY, NULL, &entry);
	put_path(&entry, node_path(node, path));
	props_put_ifaces(&entry, node, NULL);
	put_close(dict, &entry);
}

static DBusMessage *managed_objects(const struct node *node, DBusMessage *msg)
{
	DBusMessage *reply = put_ok(msg);
	DBusMessageIter iter, dict;

	dbus_message_iter_init_append(reply, &iter);
	put_open(&iter, DBUS_TYPE_ARRAY, "{oa{sa{sv}}}", &dict);
	node_each(node->sim, put_object, &dict);
	put_close(&iter, &dict);
	return reply;
}

static DBusMessage *no_such(DBusMessage *msg, const char *what, const char *name)
{
	char text[256];

	snprintf(text, sizeof(text), "No such %s '%.160s'", what, name);
	return put_error(msg, DBUS_ERROR_INVALID_ARGS, text);
}

static DBusMessage *get(const struct node *node, DBusMessage *msg)
{
	const char *iface, *name;
	DBusMessageIter iter;

	dbus_message_get_args(msg, NULL, DBUS_TYPE_STRING, &iface, DBUS_TYPE_STRING, &name, DBUS_TYPE_INVALID);
	if (!props_has_iface(node, iface))
		return no_such(msg, "interface", iface);
	DBusMessage *reply = put_ok(msg);
	dbus_message_iter_init_append(reply, &iter);
	if (props_put_one(&iter, node, iface, name))
		return reply;
	dbus_message_unref(reply);
	return no_such(msg, "property", name);
}

static DBusMessage *get_all(const struct node *node, DBusMessage *msg)
{
	const char *iface;
	DBusMessageIter iter;

	dbus_message_get_args(msg, NULL, DBUS_TYPE_STRING, &iface, DBUS_TYPE_INVALID);
	if (!props_has_iface(node, iface))
		return no_such(msg, "interface", iface);
	DBusMessage *reply = put_ok(msg);
	dbus_message_iter_init_append(reply, &iter);
	props_put_all(&iter, node, iface);
	return reply;
}

/* The flag behind a writable boolean, or NULL. */
static bool *flag_of(const struct node *node, const char *name)
{
	if (node->kind == NODE_DEVICE)
		return !strcmp(name, "Trusted") ? &node->device->trusted : NULL;
	return !strcmp(name, "Discoverable") ? &node->adapter->discoverable
	       : !strcmp(name, "Pairable")   ? &node->adapter->pairable
					     : NULL;
}

static DBusMessage *set_power(const struct node *node, DBusMessage *msg, bool powered)
{
	if (node->adapter->busy_left) {
		node->adapter->busy_left--;
		return put_error(msg, "Busy", "");
	}
	if (powered && node->adapter->blocked) {
		say_event(node->sim, "power-refused %s", node->adapter->name);
		return put_error(msg, "Failed", "Blocked through rfkill"); /* the text is from memory */
	}
	adapter_set_power(node->adapter, powered);
	return put_ok(msg);
}

static DBusMessage *set_alias(const struct node *node, DBusMessage *msg, const char *iface, const char *text)
{
	char *alias = node->kind == NODE_DEVICE ? node->device->alias : node->adapter->alias;

	if (strlen(text) >= SIM_NAME)
		return put_error(msg, "InvalidArguments", "Invalid arguments in method call");
	if (strcmp(alias, text)) {
		words_copy(alias, SIM_NAME, text);
		props_changed(*node, iface, "Alias", NULL);
	}
	return put_ok(msg);
}

static DBusMessage *set_flag(const struct node *node, DBusMessage *msg, const char *iface, const char *name, bool value)
{
	bool *flag = flag_of(node, name);

	if (!strcmp(name, "Powered"))
		return set_power(node, msg, value);
	if (!flag)
		return put_error(msg, DBUS_ERROR_PROPERTY_READ_ONLY, "Property is not writable");
	if (*flag != value) {
		*flag = value;
		props_changed(*node, iface, name, NULL);
	}
	return put_ok(msg);
}

static DBusMessage *set(const struct node *node, DBusMessage *msg)
{
	const char *iface, *name, *text;
	DBusMessageIter iter, value;
	dbus_bool_t flag;

	dbus_message_iter_init(msg, &iter);
	dbus_message_iter_get_basic(&iter, &iface);
	dbus_message_iter_next(&iter);
	dbus_message_iter_get_basic(&iter, &name);
	dbus_message_iter_next(&iter);
	dbus_message_iter_recurse(&iter, &value);
	if (!props_has_iface(node, iface))
		return no_such(msg, "interface", iface);
	const char *signature = props_signature(node, iface, name);
	if (!signature)
		return no_such(msg, "property", name);
	if (strcmp(iface, PROPS_ADAPTER) && strcmp(iface, PROPS_DEVICE))
		return put_error(msg, DBUS_ERROR_PROPERTY_READ_ONLY, "Property is not writable");
	if (dbus_message_iter_get_arg_type(&value) != signature[0])
		return put_error(msg, "InvalidArguments", "Invalid arguments in method call");
	if (signature[0] == DBUS_TYPE_BOOLEAN) {
		dbus_message_iter_get_basic(&value, &flag);
		return set_flag(node, msg, iface, name, flag);
	}
	if (strcmp(name, "Alias"))
		return put_error(msg, DBUS_ERROR_PROPERTY_READ_ONLY, "Property is not writable");
	dbus_message_iter_get_basic(&value, &text);
	return set_alias(node, msg, iface, text);
}

static const struct method methods[] = {
	{ PROPS_ADAPTER, "StartDiscovery", "", discovery_start },
	{ PROPS_ADAPTER, "StopDiscovery", "", discovery_stop },
	{ PROPS_ADAPTER, "SetDiscoveryFilter", "a{sv}", discovery_set_filter },
	{ PROPS_ADAPTER, "GetDiscoveryFilters", "", discovery_get_filters },
	{ PROPS_ADAPTER, "RemoveDevice", "o", adapter_remove_device },
	{ GATT_MANAGER, "RegisterApplication", "oa{sv}", apps_register },
	{ GATT_MANAGER, "UnregisterApplication", "o", apps_unregister },
	{ AGENT_MANAGER, "RegisterAgent", "os", apps_register_agent },
	{ AGENT_MANAGER, "UnregisterAgent", "o", apps_unregister_agent },
	{ AGENT_MANAGER, "RequestDefaultAgent", "o", apps_default_agent },
	{ PROPS_DEVICE, "Connect", "", device_connect },
	{ PROPS_DEVICE, "Disconnect", "", device_disconnect },
	{ PROPS_DEVICE, "Pair", "", device_pair },
	{ PROPS_DEVICE, "CancelPairing", "", device_cancel_pairing },
	{ PROPS_CHR, "ReadValue", "a{sv}", chr_read },
	{ PROPS_CHR, "WriteValue", "aya{sv}", chr_write },
	{ PROPS_CHR, "StartNotify", "", chr_start_notify },
	{ PROPS_CHR, "StopNotify", "", chr_stop_notify },
	{ PROPS_CHR, "AcquireNotify", "a{sv}", chr_acquire },
	{ PROPS_DESC, "ReadValue", "a{sv}", chr_read },
	{ PROPS_DESC, "WriteValue", "aya{sv}", chr_write },
};

/* On every object. */
static const struct method common[] = {
	{ DBUS_INTERFACE_PROPERTIES, "Get", "ss", get },
	{ DBUS_INTERFACE_PROPERTIES, "GetAll", "s", get_all },
	{ DBUS_INTERFACE_PROPERTIES, "Set", "ssv", set },
	{ DBUS_INTERFACE_INTROSPECTABLE, "Introspect", "", introspect_call },
	{ MANAGER, "GetManagedObjects", "", managed_objects },
};

/* iface may be NULL, as D-Bus allows. */
static bool fits(const struct method *method, const char *iface, DBusMessage *msg)
{
	return (!iface || !strcmp(iface, method->iface)) && !strcmp(dbus_message_get_member(msg), method->member) &&
	       dbus_message_has_signature(msg, method->signature);
}

DBusMessage *calls_handle(struct sim *sim, DBusMessage *msg)
{
	const char *iface = dbus_message_get_interface(msg), *path = dbus_message_get_path(msg);
	struct node node;
	char text[512];

	if (!strcmp(path, "/org") && dbus_message_is_method_call(msg, DBUS_INTERFACE_INTROSPECTABLE, "Introspect"))
		return introspect_org(sim, msg);
	if (!node_find(sim, path, &node)) {
		snprintf(text, sizeof(text),
			 "Method \"%.100s\" with signature \"%.60s\" on interface \"%.100s\" "
			 "doesn't exist\n",
			 dbus_message_get_member(msg), dbus_message_get_signature(msg), iface ? iface : "(null)");
		return put_error(msg, DBUS_ERROR_UNKNOWN_OBJECT, text);
	}
	for (size_t i = 0; i < sizeof(common) / sizeof(*common); i++)
		if (fits(&common[i], iface, msg) && (strcmp(common[i].iface, MANAGER) || node.kind == NODE_ROOT))
			// cppcheck-suppress returnDanglingLifetime; a message, not the node
			return common[i].call(&node, msg);
	for (size_t i = 0; i < sizeof(methods) / sizeof(*methods); i++)
		if (fits(&methods[i], iface, msg) && props_has_iface(&node, methods[i].iface))
			// cppcheck-suppress returnDanglingLifetime; a message, not the node
			return methods[i].call(&node, msg);
	snprintf(text, sizeof(text),
		 "Method \"%.100s\" with signature \"%.60s\" on interface \"%.100s\" doesn't "
		 "exist\n",
		 dbus_message_get_member(msg), dbus_message_get_signature(msg), iface ? iface : "(null)");
	return put_error(msg, DBUS_ERROR_UNKNOWN_METHOD, text);
}

void calls_owner_left(struct sim *sim, const char *name)
{
	apps_owner_left(sim, name);
	for (size_t i = 0; i < SIM_ADAPTERS; i++)
		if (sim->adapters[i].present)
			adapter_owner_left(&sim->adapters[i], name);
}
