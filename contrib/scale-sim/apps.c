// SPDX-License-Identifier: MIT
#include "apps.h"
#include "bus.h"
#include "device.h"
#include "put.h"
#include "say.h"
#include "words.h"

bool apps_want(const struct adapter *adapter, const struct device *device)
{
	const char *uuids[SIM_ATTRS];
	size_t n = device_services(device, uuids);

	for (size_t a = 0; a < SIM_APPS; a++) {
		const struct app *app = adapter->apps[a];
		for (size_t i = 0; app && app->ready && i < app->n_uuids; i++)
			for (size_t k = 0; k < n; k++)
				if (!strcmp(app->uuids[i], uuids[k]))
					return true;
	}
	return false;
}

static void app_free(struct app *app)
{
	for (size_t i = 0; i < SIM_APPS; i++)
		if (app->adapter->apps[i] == app)
			app->adapter->apps[i] = NULL;
	if (app->pending) {
		dbus_pending_call_cancel(app->pending);
		dbus_pending_call_unref(app->pending);
	}
	if (app->call)
		dbus_message_unref(app->call);
	free(app);
}

void apps_drop(struct adapter *adapter)
{
	for (size_t i = 0; i < SIM_APPS; i++)
		if (adapter->apps[i])
			app_free(adapter->apps[i]);
}

static struct app *find_app(struct adapter *adapter, const char *owner, const char *path)
{
	for (size_t i = 0; i < SIM_APPS; i++) {
		struct app *app = adapter->apps[i];
		if (app && !strcmp(app->owner, owner) && (!path || !strcmp(app->path, path)))
			return app;
	}
	return NULL;
}

/* UUIDs of the property of that name in an a{sv}. */
static void take_uuids(struct app *app, DBusMessageIter *props)
{
	DBusMessageIter entry, value, item;
	const char *word;

	for (; dbus_message_iter_get_arg_type(props) != DBUS_TYPE_INVALID; dbus_message_iter_next(props)) {
		dbus_message_iter_recurse(props, &entry);
		dbus_message_iter_get_basic(&entry, &word);
		dbus_message_iter_next(&entry);
		dbus_message_iter_recurse(&entry, &value);
		if (strcmp(word, "UUIDs") || dbus_message_iter_get_arg_type(&value) != DBUS_TYPE_ARRAY ||
		    dbus_message_iter_get_element_type(&value) != DBUS_TYPE_STRING)
			continue;
		dbus_message_iter_recurse(&value, &item);
		for (; dbus_message_iter_get_arg_type(&item) == DBUS_TYPE_STRING; dbus_message_iter_next(&item)) {
			dbus_message_iter_get_basic(&item, &word);
			if (app->n_uuids < SIM_APP_UUIDS && words_uuid(word, app->uuids[app->n_uuids]))
				app->n_uuids++;
		}
	}
}

/* An a{oa{sa{sv}}}; returns the number of objects. */
static size_t take_objects(struct app *app, DBusMessageIter *objects)
{
	DBusMessageIter object, iface, ifaces, props;
	const char *name;
	size_t n = 0;

	for (; dbus_message_iter_get_arg_type(objects) != DBUS_TYPE_INVALID; dbus_message_iter_next(objects)) {
		n++;
		dbus_message_iter_recurse(objects, &object);
		dbus_message_iter_next(&object);
		dbus_message_iter_recurse(&object, &ifaces);
		for (; dbus_message_iter_get_arg_type(&ifaces) != DBUS_TYPE_INVALID; dbus_message_iter_next(&ifaces)) {
			dbus_message_iter_recurse(&ifaces, &iface);
			dbus_message_iter_get_basic(&iface, &name);
			dbus_message_iter_next(&iface);
			dbus_message_iter_recurse(&iface, &props);
			if (!strcmp(name, "org.bluez.GattProfile1"))
				take_uuids(app, &props);
		}
	}
	return n;
}

/* The client has told its objects; now RegisterApplication is answered. */
static void objects_told(DBusPendingCall *pending, void *userdata)
{
	struct app *app = userdata;
	struct sim *sim = app->adapter->sim;
	DBusMessage *told = dbus_pending_call_steal_reply(pending);
	DBusMessageIter iter, objects;
	size_t n = 0;

	if (dbus_message_get_type(told) == DBUS_MESSAGE_TYPE_METHOD_RETURN &&
	    dbus_message_has_signature(told, "a{oa{sa{sv}}}")) {
		dbus_message_iter_init(told, &iter);
		dbus_message_iter_recurse(&iter, &objects);
		n = take_objects(app, &objects);
	}
	dbus_message_unref(told);
	bus_answer(sim->bus, &app->call, n ? NULL : "Failed", "No object received");
	app->ready = true;
	if (n)
		say_event(sim, "application %s %zu", app->adapter->name, app->n_uuids);
	else
		app_free(app);
}

DBusMessage *apps_register(const struct node *node, DBusMessage *msg)
{
	const char *owner = dbus_message_get_sender(msg), *path;
	size_t slot = 0;

	dbus_message_get_args(msg, NULL, DBUS_TYPE_OBJECT_PATH, &path, DBUS_TYPE_INVALID);
	if (find_app(node->adapter, owner, path))
		return put_error(msg, "AlreadyExists", "Already Exists");
	while (slot < SIM_APPS && node->adapter->apps[slot])
		slot++;
	if (slot == SIM_APPS || strlen(path) >= SIM_PATH)
		return put_error(msg, "Failed", "too many clients for scale-sim, or too long a path");
	DBusMessage *ask =
		dbus_message_new_method_call(owner, path, "org.freedesktop.DBus.ObjectManager", "GetManagedObjects");
	if (!ask)
		put_oom();
	struct app *app = put_alloc(1, sizeof(*app));
	words_copy(app->owner, sizeof(app->owner), owner);
	words_copy(app->path, sizeof(app->path), path);
	app->adapter = node->adapter;
	app->call = dbus_message_ref(msg);
	node->adapter->apps[slot] = app;
	app->pending = bus_call(node->sim->bus, ask, objects_told, app);
	dbus_message_unref(ask);
	return NULL;
}

DBusMessage *apps_unregister(const struct node *node, DBusMessage *msg)
{
	const char *path;

	dbus_message_get_args(msg, NULL, DBUS_TYPE_OBJECT_PATH, &path, DBUS_TYPE_INVALID);
	struct app *app = find_app(node->adapter, dbus_message_get_sender(msg), path);
	if (!app)
		return put_error(msg, "DoesNotExist", "Does Not Exist");
	app_free(app);
	return put_ok(msg);
}

static struct agent *find_agent(struct sim *sim, const char *owner)
{
	for (size_t i = 0; i < sim->n_agents; i++)
		if (!strcmp(sim->agents[i].owner, owner))
			return &sim->agents[i];
	return NULL;
}

const struct agent *apps_agent(struct sim *sim, const char *owner)
{
	return find_agent(sim, owner);
}

void apps_owner_left(struct sim *sim, const char *owner)
{
	struct agent *agent = find_agent(sim, owner);
	struct app *app;

	if (agent)
		*agent = sim->agents[--sim->n_agents];
	for (size_t i = 0; i < SIM_ADAPTERS; i++)
		while ((app = find_app(&sim->adapters[i], owner, NULL)))
			app_free(app);
}

DBusMessage *apps_register_agent(const struct node *node, DBusMessage *msg)
{
	struct sim *sim = node->sim;
	const char *path, *capability;

	dbus_message_get_args(msg, NULL, DBUS_TYPE_OBJECT_PATH, &path, DBUS_TYPE_STRING, &capability,
			      DBUS_TYPE_INVALID);
	if (find_agent(sim, dbus_message_get_sender(msg)))
		return put_error(msg, "AlreadyExists", "Already Exists");
	if (sim->n_agents == SIM_APPS)
		return put_error(msg, "Failed", "too many clients for scale-sim");
	struct agent *agent = &sim->agents[sim->n_agents++];
	words_copy(agent->owner, sizeof(agent->owner), dbus_message_get_sender(msg));
	words_copy(agent->path, sizeof(agent->path), path);
	say_event(sim, "agent %s", *capability ? capability : "KeyboardDisplay");
	return put_ok(msg);
}

DBusMessage *apps_unregister_agent(const struct node *node, DBusMessage *msg)
{
	struct agent *agent = find_agent(node->sim, dbus_message_get_sender(msg));

	if (!agent)
		return put_error(msg, "DoesNotExist", "Does Not Exist");
	*agent = node->sim->agents[--node->sim->n_agents];
	say_event(node->sim, "agent off");
	return put_ok(msg);
}

DBusMessage *apps_default_agent(const struct node *node, DBusMessage *msg)
{
	if (!find_agent(node->sim, dbus_message_get_sender(msg)))
		return put_error(msg, "DoesNotExist", "Does Not Exist");
	return put_ok(msg);
}
