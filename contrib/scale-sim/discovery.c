// SPDX-License-Identifier: MIT
#include "discovery.h"
#include "device.h"
#include "model.h"
#include "node.h"
#include "props.h"
#include "put.h"
#include "say.h"
#include "words.h"

#define OTHER "another program" /* no unique name is like that */

bool discovery_on(const struct adapter *adapter)
{
	for (size_t i = 0; i < adapter->n_sessions; i++)
		if (adapter->sessions[i].discovering)
			return true;
	return false;
}

static bool session_wants(const struct session *session, const struct peer *peer)
{
	const char *uuids[SIM_ATTRS];

	if (!session->discovering || session->not_le || peer->rssi_dbm < session->rssi_min_dbm)
		return false;
	/* UUIDs match the advertised service list only, never service data. */
	size_t n = device_advertised(peer, uuids);
	for (size_t i = 0; i < session->n_uuids; i++)
		for (size_t k = 0; k < n; k++)
			if (!strcmp(session->uuids[i], uuids[k]))
				return true;
	return session->n_uuids == 0;
}

/* Filters of all clients are merged. */
static bool wanted(const struct adapter *adapter, const struct peer *peer)
{
	for (size_t i = 0; i < adapter->n_sessions; i++)
		if (session_wants(&adapter->sessions[i], peer))
			return true;
	return false;
}

/* NULL: not wanted. Appearing is signalled here, with everything in it. */
static struct device *reach(struct adapter *adapter, struct peer *peer, bool *ret_appeared)
{
	if (!adapter->present || !adapter->powered || !wanted(adapter, peer))
		return NULL;
	struct device *device = model_device(adapter, peer->address);
	*ret_appeared = !device;
	if (!device)
		device = model_device_new(adapter, peer);
	device->vanish_ms = SIM_NEVER;
	if (device->heard)
		peer->rssi_dbm ^= 1; /* radio is never still, and an equal value would not be signalled */
	device->heard = true;
	if (*ret_appeared)
		props_added(node_device(device), NULL);
	return device;
}

static bool wants_duplicates(const struct adapter *adapter)
{
	for (size_t i = 0; i < adapter->n_sessions; i++)
		if (adapter->sessions[i].discovering && adapter->sessions[i].duplicates)
			return true;
	return false;
}

static void signal_heard(struct device *device, bool service, bool company)
{
	struct node node = node_device(device);

	if (service && company)
		props_changed(node, PROPS_DEVICE, "RSSI", "ManufacturerData", "ServiceData", NULL);
	else if (service || company)
		props_changed(node, PROPS_DEVICE, "RSSI", service ? "ServiceData" : "ManufacturerData", NULL);
	else
		props_changed(node, PROPS_DEVICE, "RSSI", NULL);
}

/* One advertisement of peer reaches the adapter: while discovering, the object appears or its RSSI is signalled. */
static void hear(struct adapter *adapter, struct peer *peer)
{
	bool appeared, again = wants_duplicates(adapter);
	struct device *device = model_audible(peer) ? reach(adapter, peer, &appeared) : NULL;

	if (device && !appeared)
		signal_heard(device, again && model_has_parts(peer, true), again && model_has_parts(peer, false));
}

void discovery_hear_all(struct sim *sim, struct peer *peer)
{
	for (size_t i = 0; i < SIM_ADAPTERS; i++)
		hear(&sim->adapters[i], peer);
}

void discovery_hear_data(struct sim *sim, struct peer *peer, bool service, bool changed)
{
	for (size_t i = 0; i < SIM_ADAPTERS; i++) {
		bool appeared, told = changed || wants_duplicates(&sim->adapters[i]);
		struct device *device = reach(&sim->adapters[i], peer, &appeared);

		if (!device)
			continue;
		if (!appeared)
			signal_heard(device, told && service, told && !service);
		if (device->temporary && !peer->advertising) /* that was all of it */
			device->vanish_ms = model_now_ms() + sim->settings.temporary_ms;
	}
}

static struct session *find_session(struct adapter *adapter, const char *owner, bool create)
{
	for (size_t i = 0; i < adapter->n_sessions; i++)
		if (!strcmp(adapter->sessions[i].owner, owner))
			return &adapter->sessions[i];
	if (!create || adapter->n_sessions == SIM_SESSIONS)
		return NULL;
	struct session *session = &adapter->sessions[adapter->n_sessions++];
	*session = (struct session){ .rssi_min_dbm = INT16_MIN };
	words_copy(session->owner, sizeof(session->owner), owner);
	return session;
}

/* After the last session: RSSI goes, random addresses go at once, other temporary devices in a while. */
static void scan_ended(struct adapter *adapter)
{
	struct device *next;

	adapter->advert_ms = SIM_NEVER;
	for (struct device *d = adapter->devices; d; d = next) {
		next = d->next;
		if (d->peer->stranger)
			continue;
		if (d->heard) {
			d->heard = false;
			props_changed(node_device(d), PROPS_DEVICE, "RSSI", NULL);
		}
		if (!d->temporary || d->link != LINK_DOWN)
			continue;
		if (d->peer->random)
			device_remove(d);
		else
			d->vanish_ms = model_now_ms() + adapter->sim->settings.temporary_ms;
	}
	props_changed(node_adapter(adapter), PROPS_ADAPTER, "Discovering", NULL);
	say_event(adapter->sim, "discovery off %s", adapter->name);
}

DBusMessage *discovery_start(const struct node *node, DBusMessage *msg)
{
	struct adapter *adapter = node->adapter;
	bool before = discovery_on(adapter);

	if (!adapter->powered)
		return put_error(msg, "NotReady", "Resource Not Ready");
	if (adapter->discovery_left) {
		adapter->discovery_left--;
		return put_error(msg, "InProgress", "Operation already in progress");
	}
	struct session *session = find_session(adapter, dbus_message_get_sender(msg), true);
	if (!session)
		return put_error(msg, "Failed", "too many clients for scale-sim");
	if (session->discovering)
		return put_error(msg, "InProgress", "Operation already in progress");
	session->discovering = true;
	/* The first advertisements are heard after this answer. */
	adapter->advert_ms = model_now_ms();
	if (!before) {
		props_changed(*node, PROPS_ADAPTER, "Discovering", NULL);
		say_event(adapter->sim, "discovery on %s", adapter->name);
	}
	return put_ok(msg);
}

static void session_end(struct adapter *adapter, struct session *session)
{
	bool was = session->discovering;

	*session = adapter->sessions[--adapter->n_sessions];
	if (was && !discovery_on(adapter))
		scan_ended(adapter);
}

DBusMessage *discovery_stop(const struct node *node, DBusMessage *msg)
{
	struct session *session = find_session(node->adapter, dbus_message_get_sender(msg), false);

	if (!node->adapter->powered)
		return put_error(msg, "NotReady", "Resource Not Ready");
	if (!session || !session->discovering)
		return put_error(msg, "Failed", "No discovery started");
	session_end(node->adapter, session);
	return put_ok(msg);
}

static bool read_uuids(DBusMessageIter *array, struct session *session)
{
	DBusMessageIter item;
	const char *word;

	dbus_message_iter_recurse(array, &item);
	for (; dbus_message_iter_get_arg_type(&item) == DBUS_TYPE_STRING; dbus_message_iter_next(&item)) {
		dbus_message_iter_get_basic(&item, &word);
		if (session->n_uuids == SIM_APP_UUIDS || !words_uuid(word, session->uuids[session->n_uuids]))
			return false;
		session->n_uuids++;
	}
	return true;
}

static bool read_key(const char *key, DBusMessageIter *value, struct session *session)
{
	int type = dbus_message_iter_get_arg_type(value);
	const char *word;
	dbus_bool_t flag;
	int16_t rssi;

	if (!strcmp(key, "UUIDs") && type == DBUS_TYPE_ARRAY &&
	    dbus_message_iter_get_element_type(value) == DBUS_TYPE_STRING)
		return read_uuids(value, session);
	if (!strcmp(key, "RSSI") && type == DBUS_TYPE_INT16) {
		dbus_message_iter_get_basic(value, &rssi);
		session->rssi_min_dbm = rssi;
		return true;
	}
	if (!strcmp(key, "Transport") && type == DBUS_TYPE_STRING) {
		dbus_message_iter_get_basic(value, &word);
		session->not_le = !strcmp(word, "bredr");
		return session->not_le || !strcmp(word, "le") || !strcmp(word, "auto");
	}
	if (!strcmp(key, "DuplicateData") && type == DBUS_TYPE_BOOLEAN) {
		dbus_message_iter_get_basic(value, &flag);
		session->duplicates = flag;
		return true;
	}
	/* Taken, without effect here. */
	return (!strcmp(key, "Pathloss") && type == DBUS_TYPE_UINT16) ||
	       (!strcmp(key, "Discoverable") && type == DBUS_TYPE_BOOLEAN) ||
	       (!strcmp(key, "Pattern") && type == DBUS_TYPE_STRING);
}

DBusMessage *discovery_set_filter(const struct node *node, DBusMessage *msg)
{
	struct session *session = find_session(node->adapter, dbus_message_get_sender(msg), true);
	struct session fresh = { .rssi_min_dbm = INT16_MIN };
	DBusMessageIter iter, dict, entry, value;
	const char *key;

	if (!session)
		return put_error(msg, "Failed", "too many clients for scale-sim");
	dbus_message_iter_init(msg, &iter);
	dbus_message_iter_recurse(&iter, &dict);
	for (; dbus_message_iter_get_arg_type(&dict) != DBUS_TYPE_INVALID; dbus_message_iter_next(&dict)) {
		dbus_message_iter_recurse(&dict, &entry);
		dbus_message_iter_get_basic(&entry, &key);
		dbus_message_iter_next(&entry);
		dbus_message_iter_recurse(&entry, &value);
		if (!read_key(key, &value, &fresh))
			return put_error(msg, "InvalidArguments", "Invalid arguments in method call");
	}
	fresh.discovering = session->discovering;
	words_copy(fresh.owner, sizeof(fresh.owner), session->owner);
	*session = fresh;
	if (session->discovering)
		node->adapter->advert_ms = model_now_ms();
	return put_ok(msg);
}

DBusMessage *discovery_get_filters(const struct node *node, DBusMessage *msg)
{
	static const char *const keys[] = { "UUIDs",         "RSSI",         "Pathloss", "Transport",
					    "DuplicateData", "Discoverable", "Pattern" };
	DBusMessage *reply = put_ok(msg);
	DBusMessageIter iter, array;

	(void)node;
	dbus_message_iter_init_append(reply, &iter);
	put_open(&iter, DBUS_TYPE_ARRAY, "s", &array);
	for (size_t i = 0; i < sizeof(keys) / sizeof(*keys); i++)
		put_string(&array, keys[i]);
	put_close(&iter, &array);
	return reply;
}

void discovery_end_all(struct adapter *adapter)
{
	bool was = discovery_on(adapter);

	adapter->n_sessions = 0;
	if (was)
		scan_ended(adapter);
}

void discovery_owner_left(struct adapter *adapter, const char *owner)
{
	struct session *session = find_session(adapter, owner, false);

	if (session)
		session_end(adapter, session);
}

void discovery_tick(struct adapter *adapter, int64_t now_ms)
{
	int64_t every_ms = adapter->sim->settings.advert_ms;

	if (now_ms < adapter->advert_ms)
		return;
	adapter->advert_ms = every_ms ? now_ms + every_ms : SIM_NEVER;
	for (struct peer *p = adapter->sim->peers; p; p = p->next)
		hear(adapter, p);
}

bool discovery_by_other(struct adapter *adapter, bool on, bool duplicates)
{
	bool before = discovery_on(adapter);
	struct session *session;

	if (!on) {
		discovery_owner_left(adapter, OTHER);
		return true;
	}
	session = find_session(adapter, OTHER, true);
	if (!session)
		return false;
	session->discovering = true;
	session->duplicates = duplicates;
	adapter->advert_ms = model_now_ms();
	if (!before) {
		props_changed(node_adapter(adapter), PROPS_ADAPTER, "Discovering", NULL);
		say_event(adapter->sim, "discovery on %s", adapter->name);
	}
	return true;
}
