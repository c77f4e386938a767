// SPDX-License-Identifier: MIT
#include "chr.h"
#include "bus.h"
#include "cts.h"
#include "device.h"
#include "fault.h"
#include "node.h"
#include "props.h"
#include "put.h"
#include "say.h"
#include "words.h"

static bool is_cccd(const struct attr *attr)
{
	return attr->kind == ATTR_DESC && !strncmp(attr->uuid, "00002902", 8);
}

static bool any_live(const struct attr_state *state)
{
	for (size_t i = 0; i < state->n_subs; i++)
		if (state->subs[i].live)
			return true;
	return false;
}

/* Ends session i. Notifying falls when no registered session is left, as in BlueZ. */
static void end_sub(struct device *device, size_t attr, size_t i)
{
	struct attr_state *state = &device->states[attr];
	char uuid[SIM_UUID];

	if (state->subs[i].call)
		dbus_message_unref(state->subs[i].call);
	state->subs[i] = state->subs[--state->n_subs];
	if (!state->notifying || any_live(state))
		return;
	state->notifying = false;
	props_changed(node_attr(device, attr), PROPS_CHR, "Notifying", NULL);
	say_event(device->adapter->sim, "unsubscribed %s %s", device->peer->address,
		  words_short(device->peer->attrs[attr].uuid, uuid));
}

static void set_value(struct device *device, size_t attr, const uint8_t *octets, size_t n)
{
	struct attr_state *state = &device->states[attr];

	state->known = true;
	if (n)
		memcpy(state->octets, octets, n);
	state->n = n;
}

bool chr_deliver(struct device *device, size_t attr, const uint8_t *octets, size_t n)
{
	size_t times = 0;

	if (!device_ready(device) || !device->exported)
		return false;
	for (size_t i = 0; i < device->states[attr].n_subs; i++)
		times += device->states[attr].subs[i].live;
	if (!times)
		return false;
	if (!device->adapter->sim->settings.per_subscriber)
		times = 1;
	set_value(device, attr, octets, n);
	/* Equal values are signalled too: each is an indication. */
	while (times--)
		props_changed(node_attr(device, attr), PROPS_CHR, "Value", NULL);
	return true;
}

/* A scale sends what it kept as soon as it may, oldest first: before StartNotify is answered. */
static void send_stored(struct device *device, size_t attr)
{
	struct peer *peer = device->peer;
	size_t kept = 0;

	for (size_t i = 0; i < peer->n_stored; i++) {
		const struct stored *one = &peer->stored[i];
		if (one->attr != attr || !chr_deliver(device, attr, one->octets, one->n))
			peer->stored[kept++] = *one;
	}
	peer->n_stored = kept;
}

static void register_sub(struct device *device, size_t attr, struct sub *sub)
{
	struct attr_state *state = &device->states[attr];
	char uuid[SIM_UUID];

	sub->live = true;
	if (!state->notifying) {
		state->notifying = true;
		props_changed(node_attr(device, attr), PROPS_CHR, "Notifying", NULL);
	}
	say_event(device->adapter->sim, "subscribed %s %s", device->peer->address,
		  words_short(device->peer->attrs[attr].uuid, uuid));
	send_stored(device, attr);
	bus_answer(device->adapter->sim->bus, &sub->call, NULL, NULL);
}

/* false: the session has ended. */
static bool settle_sub(struct device *device, size_t attr, struct sub *sub)
{
	const struct peer *peer = device->peer;

	if (peer->secure && !device->paired) {
		bus_answer(device->adapter->sim->bus, &sub->call, "NotPermitted", "Not paired");
		return false;
	}
	const struct fault *fault = fault_take(device->peer, STEP_SUBSCRIBE);
	if (fault) {
		say_event(device->adapter->sim, "failed %s subscribe", peer->address);
		bus_answer(device->adapter->sim->bus, &sub->call, fault->name, fault->text);
		return false;
	}
	register_sub(device, attr, sub);
	return true;
}

void chr_settle(struct device *device)
{
	for (size_t attr = 0; attr < device->peer->n_attrs; attr++) {
		struct attr_state *state = &device->states[attr];
		for (size_t i = 0; i < state->n_subs;) {
			struct sub *sub = &state->subs[i];
			if (!sub->live &&
			    !fault_held(device->peer, STEP_SUBSCRIBE, &sub->said_held, device->adapter->sim) &&
			    !settle_sub(device, attr, sub))
				end_sub(device, attr, i);
			else
				i++;
		}
	}
}

void chr_link_down(struct device *device)
{
	for (size_t attr = 0; device->exported && attr < device->peer->n_attrs; attr++) {
		struct attr_state *state = &device->states[attr];
		for (size_t i = 0; i < state->n_subs;) {
			state->subs[i].live = state->subs[i].said_held = false;
			if (state->subs[i].call) {
				bus_answer(device->adapter->sim->bus, &state->subs[i].call, "Failed", "Not connected");
				state->subs[i] = state->subs[--state->n_subs];
			} else {
				i++;
			}
		}
	}
}

void chr_owner_left(struct device *device, const char *owner)
{
	for (size_t attr = 0; attr < device->peer->n_attrs; attr++)
		for (size_t i = device->states[attr].n_subs; i > 0; i--)
			if (!strcmp(device->states[attr].subs[i - 1].owner, owner))
				end_sub(device, attr, i - 1);
}

size_t chr_live(const struct device *device)
{
	size_t n = 0;

	for (size_t attr = 0; device->exported && attr < device->peer->n_attrs; attr++)
		for (size_t i = 0; i < device->states[attr].n_subs; i++)
			n += device->states[attr].subs[i].live;
	return n;
}

/* An a{sv} of options; only "offset" is looked at. */
static uint16_t read_offset(DBusMessageIter *iter)
{
	DBusMessageIter dict, entry, value;
	uint16_t offset = 0;
	const char *key;

	dbus_message_iter_recurse(iter, &dict);
	for (; dbus_message_iter_get_arg_type(&dict) != DBUS_TYPE_INVALID; dbus_message_iter_next(&dict)) {
		dbus_message_iter_recurse(&dict, &entry);
		dbus_message_iter_get_basic(&entry, &key);
		dbus_message_iter_next(&entry);
		dbus_message_iter_recurse(&entry, &value);
		if (!strcmp(key, "offset") && dbus_message_iter_get_arg_type(&value) == DBUS_TYPE_UINT16)
			dbus_message_iter_get_basic(&value, &offset);
	}
	return offset;
}

static DBusMessage *refuse_access(const struct node *node, DBusMessage *msg)
{
	if (!device_ready(node->device))
		return put_error(msg, "Failed", "Not connected");
	if (node->device->peer->secure && !node->device->paired)
		return put_error(msg, "NotPermitted", "Not paired");
	return NULL;
}

DBusMessage *chr_read(const struct node *node, DBusMessage *msg)
{
	struct attr *attr = &node->device->peer->attrs[node->attr];
	struct attr_state *state = &node->device->states[node->attr];
	uint8_t cccd[2] = { 0, 0 };
	DBusMessageIter iter;
	char uuid[SIM_UUID];

	DBusMessage *reply = refuse_access(node, msg);
	if (reply)
		return reply;
	if (!is_cccd(attr) && !(attr->flags & ATTR_READ))
		return put_error(msg, "NotPermitted", "Read not permitted");
	dbus_message_iter_init(msg, &iter);
	size_t offset = read_offset(&iter);
	cts_refresh(node->device->peer, attr);
	if (is_cccd(attr)) {
		const struct attr *chr = &node->device->peer->attrs[attr->chr];
		if (any_live(&node->device->states[attr->chr]))
			cccd[0] = chr->flags & ATTR_NOTIFY ? 1 : 2;
		set_value(node->device, node->attr, cccd, sizeof(cccd));
	} else {
		set_value(node->device, node->attr, attr->octets, attr->n);
	}
	if (offset > state->n)
		return put_error(msg, "InvalidArguments", "Invalid offset");
	say_event(node->sim, "read %s %s", node->device->peer->address, words_short(attr->uuid, uuid));
	/* A read signals Value as well, changed or not. */
	props_changed(*node, node->kind == NODE_CHR ? PROPS_CHR : PROPS_DESC, "Value", NULL);
	reply = put_ok(msg);
	dbus_message_iter_init_append(reply, &iter);
	put_octets(&iter, state->octets + offset, state->n - offset);
	return reply;
}

/* Some characteristics do something. */
static DBusMessage *written(const struct node *node, DBusMessage *msg)
{
	struct peer *peer = node->device->peer;
	DBusMessage *call = dbus_message_ref(msg);
	uint8_t told[3];

	switch (cts_written(peer, &peer->attrs[node->attr], any_live(&node->device->states[node->attr]), told)) {
	case CTS_TAKEN:
		break;
	case CTS_IGNORED:
		dbus_message_unref(call);
		return put_error(msg, "Failed", "Operation failed with ATT error: 0x80");
	case CTS_UNREADY:
		dbus_message_unref(call);
		return put_error(msg, "Failed", "Operation failed with ATT error: 0xfd");
	case CTS_INDICATE:
		bus_answer(node->sim->bus, &call, NULL, NULL);
		chr_deliver(node->device, node->attr, told, sizeof(told));
		return NULL;
	}
	dbus_message_unref(call);
	return put_ok(msg);
}

DBusMessage *chr_write(const struct node *node, DBusMessage *msg)
{
	struct attr *attr = &node->device->peer->attrs[node->attr];
	DBusMessageIter iter, array;
	const uint8_t *octets;
	char uuid[SIM_UUID], text[3 * 32 + 1] = "";
	int n;

	if (is_cccd(attr))
		return put_error(msg, "NotPermitted", "Write not permitted");
	DBusMessage *reply = refuse_access(node, msg);
	if (reply)
		return reply;
	if (!(attr->flags & ATTR_WRITE))
		return put_error(msg, "NotSupported", "Operation is not supported");
	dbus_message_iter_init(msg, &iter);
	dbus_message_iter_recurse(&iter, &array);
	dbus_message_iter_get_fixed_array(&array, &octets, &n);
	if (n > SIM_VALUE)
		return put_error(msg, "InvalidArguments", "Invalid Length");
	if (n)
		memcpy(attr->octets, octets, (size_t)n);
	attr->n = (size_t)n;
	for (int i = 0; i < n && i < 32; i++)
		snprintf(text + 2 * i, 3, "%02x", octets[i]);
	say_event(node->sim, "write %s %s %s", node->device->peer->address, words_short(attr->uuid, uuid), text);
	return written(node, msg);
}

DBusMessage *chr_start_notify(const struct node *node, DBusMessage *msg)
{
	const struct attr *attr = &node->device->peer->attrs[node->attr];
	struct attr_state *state = &node->device->states[node->attr];
	const char *owner = dbus_message_get_sender(msg);

	if (!(attr->flags & (ATTR_NOTIFY | ATTR_INDICATE)))
		return put_error(msg, "NotSupported", "Operation is not supported");
	for (size_t i = 0; i < state->n_subs; i++) {
		if (strcmp(state->subs[i].owner, owner))
			continue;
		if (state->subs[i].live || node->device->mistaken)
			return put_ok(msg);
		return put_error(msg, "InProgress", "In Progress");
	}
	if (state->n_subs == SIM_SUBS)
		return put_error(msg, "Failed", "too many clients for scale-sim");
	struct sub *sub = &state->subs[state->n_subs++];
	*sub = (struct sub){ 0 };
	words_copy(sub->owner, sizeof(sub->owner), owner);
	/* Success at once without a link; registered when there is one. */
	if (node->device->link < LINK_UP)
		return put_ok(msg);
	sub->call = dbus_message_ref(msg);
	return NULL; /* chr_settle() answers, in this turn if nothing is in the way */
}

DBusMessage *chr_stop_notify(const struct node *node, DBusMessage *msg)
{
	struct attr_state *state = &node->device->states[node->attr];

	for (size_t i = 0; i < state->n_subs; i++) {
		if (strcmp(state->subs[i].owner, dbus_message_get_sender(msg)))
			continue;
		bus_answer(node->sim->bus, &state->subs[i].call, "Failed", "Operation was cancelled");
		end_sub(node->device, node->attr, i);
		return put_ok(msg);
	}
	return put_error(msg, "Failed", "No notify session started");
}

/* 5.66 refuses it for what only indicates. For the rest scale-sim refuses it too: see README.md. */
DBusMessage *chr_acquire(const struct node *node, DBusMessage *msg)
{
	(void)node;
	return put_error(msg, "NotSupported", "Operation is not supported");
}
