// SPDX-License-Identifier: MIT
#include "props.h"
#include "bus.h"
#include "node.h"
#include "put.h"
#include "show.h"
#include <stdarg.h>

/* gdbus lists these two on every object, and clients must step over them. */
static const char *const every[] = {
	"org.freedesktop.DBus.Introspectable",
	"org.freedesktop.DBus.Properties",
};

static const struct iface *find_iface(const struct node *node, const char *name)
{
	for (const struct iface *i = show_ifaces; i->name; i++)
		if (i->kind == node->kind && !strcmp(i->name, name))
			return !i->exists || i->exists(node) ? i : NULL;
	return NULL;
}

static const struct prop *find_prop(const struct node *node, const char *iface, const char *name)
{
	const struct iface *found = find_iface(node, iface);

	for (const struct prop *p = found ? found->props : NULL; p && p->name; p++)
		if (!strcmp(p->name, name))
			return p;
	return NULL;
}

static bool exists(const struct prop *prop, const struct node *node)
{
	return !prop->exists || prop->exists(node);
}

static void put_value(DBusMessageIter *iter, const struct prop *prop, const struct node *node)
{
	DBusMessageIter variant;

	put_open(iter, DBUS_TYPE_VARIANT, prop->signature, &variant);
	prop->put(node, &variant);
	put_close(iter, &variant);
}

static void put_entry(DBusMessageIter *dict, const struct prop *prop, const struct node *node)
{
	DBusMessageIter entry;

	put_open(dict, DBUS_TYPE_DICT_ENTRY, NULL, &entry);
	put_string(&entry, prop->name);
	put_value(&entry, prop, node);
	put_close(dict, &entry);
}

bool props_has_iface(const struct node *node, const char *iface)
{
	return find_iface(node, iface) != NULL;
}

const char *props_signature(const struct node *node, const char *iface, const char *name)
{
	const struct prop *prop = find_prop(node, iface, name);

	return prop ? prop->signature : NULL;
}

void props_put_all(DBusMessageIter *iter, const struct node *node, const char *iface)
{
	const struct iface *found = find_iface(node, iface);
	DBusMessageIter dict;

	put_open(iter, DBUS_TYPE_ARRAY, "{sv}", &dict);
	for (const struct prop *p = found ? found->props : NULL; p && p->name; p++)
		if (exists(p, node))
			put_entry(&dict, p, node);
	put_close(iter, &dict);
}

bool props_put_one(DBusMessageIter *iter, const struct node *node, const char *iface, const char *name)
{
	const struct prop *prop = find_prop(node, iface, name);

	if (!prop || !exists(prop, node))
		return false;
	put_value(iter, prop, node);
	return true;
}

static void put_iface(DBusMessageIter *dict, const struct node *node, const char *name)
{
	DBusMessageIter entry;

	put_open(dict, DBUS_TYPE_DICT_ENTRY, NULL, &entry);
	put_string(&entry, name);
	props_put_all(&entry, node, name);
	put_close(dict, &entry);
}

void props_put_ifaces(DBusMessageIter *iter, const struct node *node, const char *iface)
{
	DBusMessageIter dict;

	put_open(iter, DBUS_TYPE_ARRAY, "{sa{sv}}", &dict);
	for (size_t i = 0; !iface && i < 2; i++)
		put_iface(&dict, node, every[i]);
	for (const struct iface *i = show_ifaces; i->name; i++)
		if (find_iface(node, i->name) == i && (!iface || !strcmp(iface, i->name)))
			put_iface(&dict, node, i->name);
	put_close(iter, &dict);
}

static DBusMessage *signal_new(const char *path, const char *iface, const char *member, DBusMessageIter *iter)
{
	DBusMessage *msg = dbus_message_new_signal(path, iface, member);

	if (!msg)
		put_oom();
	dbus_message_iter_init_append(msg, iter);
	return msg;
}

void props_changed(struct node node, const char *iface, ...)
{
	DBusMessageIter iter, changed, invalidated;
	char path[SIM_PATH];
	const char *name;
	va_list list;

	if (!node.sim->bus)
		return;
	DBusMessage *msg = signal_new(node_path(&node, path), DBUS_INTERFACE_PROPERTIES, "PropertiesChanged", &iter);
	put_string(&iter, iface);
	put_open(&iter, DBUS_TYPE_ARRAY, "{sv}", &changed);
	va_start(list, iface);
	while ((name = va_arg(list, const char *))) {
		const struct prop *prop = find_prop(&node, iface, name);
		if (prop && exists(prop, &node))
			put_entry(&changed, prop, &node);
	}
	va_end(list);
	put_close(&iter, &changed);
	put_open(&iter, DBUS_TYPE_ARRAY, "s", &invalidated);
	va_start(list, iface);
	while ((name = va_arg(list, const char *))) {
		const struct prop *prop = find_prop(&node, iface, name);
		if (prop && !exists(prop, &node))
			put_string(&invalidated, name);
	}
	va_end(list);
	put_close(&iter, &invalidated);
	bus_send(node.sim->bus, msg);
}

void props_added(struct node node, const char *iface)
{
	DBusMessageIter iter;
	char path[SIM_PATH];

	if (!node.sim->bus)
		return;
	DBusMessage *msg = signal_new("/", "org.freedesktop.DBus.ObjectManager", "InterfacesAdded", &iter);
	put_path(&iter, node_path(&node, path));
	props_put_ifaces(&iter, &node, iface);
	bus_send(node.sim->bus, msg);
}

void props_removed(struct node node, const char *iface)
{
	DBusMessageIter iter, array;
	char path[SIM_PATH];

	if (!node.sim->bus)
		return;
	DBusMessage *msg = signal_new("/", "org.freedesktop.DBus.ObjectManager", "InterfacesRemoved", &iter);
	put_path(&iter, node_path(&node, path));
	put_open(&iter, DBUS_TYPE_ARRAY, "s", &array);
	for (size_t i = 0; !iface && i < 2; i++)
		put_string(&array, every[i]);
	for (const struct iface *i = show_ifaces; i->name; i++)
		if (find_iface(&node, i->name) == i && (!iface || !strcmp(iface, i->name)))
			put_string(&array, i->name);
	put_close(&iter, &array);
	bus_send(node.sim->bus, msg);
}
