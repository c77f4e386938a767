// SPDX-License-Identifier: MIT
#include "agent.h"
#include "wake.h"
#include "daemon/log.h"
#include <errno.h>

#define AGENT "org.bluez.Agent1"
#define AGENT_MANAGER "org.bluez.AgentManager1"
#define AGENT_MANAGER_PATH "/org/bluez"
#define AGENT_PATH "/bismar/agent"
/* It can show six digits and ask for them, yes and no: what a person at a terminal can. */
#define AGENT_CAPABILITY "KeyboardDisplay"
#define PASSKEY_MAX 999999

const char *agent_error_text(const char *name)
{
	static const char *const texts[][2] = {
		{ "org.bluez.Error.AuthenticationFailed",
		  "the digits did not match, or the scale refused; switch the scale off and on, and try again" },
		{ "org.bluez.Error.AuthenticationRejected",
		  "the scale or its user refused; many scales pair only in a mode of their own: see its manual, and try again" },
		{ "org.bluez.Error.AuthenticationTimeout", "the scale did not answer in time; wake it, and try again" },
		{ "org.bluez.Error.AuthenticationCanceled",
		  "it was cancelled, or the scale went out of reach; bring it near, wake it, and try again" },
		{ "org.bluez.Error.ConnectionAttemptFailed",
		  "the scale could not be reached; bring it near, wake it, and try again" },
		{ "org.bluez.Error.InProgress", "another pairing with it is under way; wait a minute, and try again" },
		{ "org.bluez.Error.NotReady", "the Bluetooth adapter is off; switch it on: bluetoothctl power on" },
		{ "org.bluez.Error.DoesNotExist", "the scale went out of reach; wake it, and try again" },
	};

	for (size_t i = 0; i < sizeof texts / sizeof *texts; i++)
		if (strcmp(texts[i][0], name) == 0)
			return texts[i][1];
	return "the Bluetooth service could not do it (its log tells more: journalctl -u bluetooth); try again";
}

static DBusMessage *manager(struct agent *agent, const char *member)
{
	const char *path = AGENT_PATH;
	DBusMessage *call = bus_method(agent->host->bus, AGENT_MANAGER_PATH, AGENT_MANAGER, member);

	if (call && !dbus_message_append_args(call, DBUS_TYPE_OBJECT_PATH, &path, DBUS_TYPE_INVALID)) {
		dbus_message_unref(call);
		return NULL;
	}
	return call;
}

static void reject(struct agent *agent, DBusMessage *question, const char *why)
{
	bus_send(agent->host->bus, dbus_message_new_error(question, "org.bluez.Error.Rejected", why));
}

static void drop_question(struct agent *agent)
{
	if (agent->question)
		dbus_message_unref(agent->question);
	agent->question = NULL;
}

/* All of it is over; returns the scale it was about. */
static struct scale *forget(struct agent *agent)
{
	struct scale *scale = agent->scale;

	wake_at(agent->timer, UINT64_MAX);
	bus_cancel(&agent->call);
	if (agent->question)
		reject(agent, agent->question, "it is over");
	drop_question(agent);
	if (agent->step == AGENT_REGISTERING || agent->step == AGENT_PAIRING)
		bus_send(agent->host->bus, manager(agent, "UnregisterAgent"));
	agent->step = AGENT_IDLE;
	agent->shown = false;
	agent->scale = NULL;
	free(agent->path);
	agent->path = NULL;
	return scale;
}

static void tell(struct agent *agent, const struct scale *scale, enum radio_pairing what, uint32_t passkey,
		 const char *text)
{
	const struct radio_ops *ops = agent->host->ops;

	if (ops->pairing && !scale->forgotten)
		ops->pairing(agent->host->userdata, scale->address, what, passkey, text);
}

static void fail(struct agent *agent, const char *text)
{
	struct scale *scale = forget(agent);

	log_info("scale %s: pairing failed: %s", scale->address, text);
	tell(agent, scale, RADIO_PAIRING_FAILED, 0, text);
	scale_pairing(scale, false); /* last: the link goes on, and perhaps tells that it needs a bond */
}

static void succeed(struct agent *agent)
{
	struct scale *scale = forget(agent);

	log_info("scale %s: paired", scale->address);
	scale->bond_lost = false;
	scale->pairing_told = false;
	tell(agent, scale, RADIO_PAIRING_DONE, 0, "");
	scale_pairing(scale, false);
}

static void on_pair(void *userdata, DBusMessage *reply)
{
	struct agent *agent = userdata;
	const char *name, *text;
	char quoted[128];

	if (!bus_failed(reply, &name, &text) || strcmp(name, "org.bluez.Error.AlreadyExists") == 0) {
		succeed(agent);
		return;
	}
	log_debug("scale %s: Pair: %s: %s", agent->scale->address, name, log_quote(text, quoted, sizeof quoted));
	fail(agent, agent_error_text(name));
}

/* There is a link that isn't about to end, and no call for one under way: bluetoothd does one thing at a time with a
 * device. */
static bool is_linked(const struct scale *scale)
{
	return scale->device && scale->device->connected && !scale->connect &&
	       (scale->link.state == LINK_RESOLVING || scale->link.state == LINK_SUBSCRIBED);
}

static void pair(struct agent *agent)
{
	struct bus *bus = agent->host->bus;
	const struct mirror_device *device = agent->scale->device;

	if (!is_linked(agent->scale)) { /* lost meanwhile: with the next link */
		bus_send(bus, manager(agent, "UnregisterAgent"));
		agent->step = AGENT_WAITING;
		return;
	}
	agent->step = AGENT_PAIRING;
	agent->path = strdup(device->path);
	/* our own limit comes before this one */
	if (!agent->path || bus_call(bus, bus_method(bus, device->path, MIRROR_DEVICE, "Pair"),
				     (int)(AGENT_LIMIT_US / 1000) + 5000, on_pair, agent, &agent->call) < 0)
		fail(agent, agent_error_text(""));
}

static void on_registered(void *userdata, DBusMessage *reply)
{
	struct agent *agent = userdata;
	const char *name, *text;

	/* AlreadyExists: ours, of a pairing just before */
	if (!bus_failed(reply, &name, &text) || strcmp(name, "org.bluez.Error.AlreadyExists") == 0) {
		pair(agent);
		return;
	}
	log_debug("radio: RegisterAgent: %s", name);
	fail(agent, agent_error_text(name));
}

static void begin_pairing(struct agent *agent)
{
	const char *path = AGENT_PATH, *capability = AGENT_CAPABILITY;
	struct bus *bus = agent->host->bus;
	DBusMessage *call = bus_method(bus, AGENT_MANAGER_PATH, AGENT_MANAGER, "RegisterAgent");

	if (call && !dbus_message_append_args(call, DBUS_TYPE_OBJECT_PATH, &path, DBUS_TYPE_STRING, &capability,
					      DBUS_TYPE_INVALID)) {
		dbus_message_unref(call);
		call = NULL;
	}
	agent->step = AGENT_REGISTERING;
	if (bus_call(bus, call, -1, on_registered, agent, &agent->call) < 0)
		fail(agent, agent_error_text(""));
}

/* bluetoothd holds keys that the scale has thrown away; with them no link will ever do. Only because a person asked for
 * it: the device is forgotten there, and heard as a new one. */
static void remove_bond(struct agent *agent)
{
	struct scale *scale = agent->scale;
	const char *device = scale->device->path;
	struct mirror_adapter *adapter = mirror_adapter_of(agent->host->mirror, scale->device);
	DBusMessage *call = adapter ? bus_method(agent->host->bus, adapter->path, MIRROR_ADAPTER, "RemoveDevice") : NULL;

	if (call && !dbus_message_append_args(call, DBUS_TYPE_OBJECT_PATH, &device, DBUS_TYPE_INVALID)) {
		dbus_message_unref(call);
		call = NULL;
	}
	if (!call)
		return; /* the next look tries again */
	log_info("scale %s lost its bond; the old one is removed", scale->address);
	scale->bond_lost = false;
	bus_send(agent->host->bus, call);
	scale->device->paired = false; /* until the object is seen to go, it isn't to be used */
	scale->device->connected = false;
}

void agent_update(struct agent *agent)
{
	struct scale *scale = agent->scale;

	if (!scale)
		return;
	if (scale->forgotten) {
		(void)forget(agent); /* nobody wants to know any more */
		return;
	}
	if (agent->step != AGENT_WAITING || !scale->device)
		return;
	if (scale->bond_lost)
		remove_bond(agent);
	else if (is_linked(scale))
		begin_pairing(agent);
}

static int on_timer(sd_event_source *source, uint64_t at_us, void *userdata)
{
	struct agent *agent = userdata;
	struct bus *bus = agent->host->bus;

	(void)source, (void)at_us;
	if (!agent->scale)
		return 0;
	if (agent->step == AGENT_WAITING) {
		fail(agent, "the scale was not heard within a minute; wake it (press or load it), and try again");
	} else {
		if (agent->path)
			bus_send(bus, bus_method(bus, agent->path, MIRROR_DEVICE, "CancelPairing"));
		fail(agent, "it was not finished within a minute; try again");
	}
	return 0;
}

int agent_init(struct agent *agent, struct scale_host *host)
{
	*agent = (struct agent){ .host = host };
	return wake_new(host->event, on_timer, agent, &agent->timer);
}

void agent_done(struct agent *agent)
{
	if (agent->scale)
		(void)forget(agent);
	agent->timer = sd_event_source_disable_unref(agent->timer);
}

int agent_begin(struct agent *agent, struct scale *scale)
{
	if (agent->scale)
		return -EBUSY;
	agent->scale = scale;
	agent->step = AGENT_WAITING;
	wake_in(agent->timer, AGENT_LIMIT_US);
	scale_pairing(scale, true);
	return 0;
}

void agent_lost(struct agent *agent)
{
	if (agent->scale && agent->step != AGENT_WAITING)
		fail(agent, "the Bluetooth service ended meanwhile; try again");
}

/* ---- the person ---- */

int agent_answer(struct agent *agent, bool yes, uint32_t passkey)
{
	DBusMessage *question = agent->question, *reply;
	dbus_uint32_t digits = passkey;
	bool numeric;

	if (!question)
		return -ENOENT;
	numeric = dbus_message_has_member(question, "RequestPasskey");
	if (yes && numeric && passkey > PASSKEY_MAX)
		return -EINVAL;
	agent->question = NULL;
	reply = yes ? dbus_message_new_method_return(question) : NULL;
	if (!yes)
		reject(agent, question, "the user said no");
	else if (reply && numeric && !dbus_message_append_args(reply, DBUS_TYPE_UINT32, &digits, DBUS_TYPE_INVALID))
		dbus_message_unref(reply); /* no memory: bluetoothd runs into its time-out */
	else
		bus_send(agent->host->bus, reply);
	dbus_message_unref(question);
	return 0;
}

/* ---- what bluetoothd asks ---- */

static void ask(struct agent *agent, DBusMessage *message, enum radio_pairing what, uint32_t passkey)
{
	if (agent->question) { /* one that was given up without Cancel */
		reject(agent, agent->question, "another question came");
		drop_question(agent);
	}
	agent->question = dbus_message_ref(message);
	tell(agent, agent->scale, what, passkey, "");
}

/* Digits that the person types on the scale; bluetoothd repeats them at each key. */
static void show(struct agent *agent, DBusMessage *message, uint32_t passkey, const char *text)
{
	bool news = !agent->shown || agent->passkey_shown != passkey;

	bus_send(agent->host->bus, dbus_message_new_method_return(message));
	agent->shown = true;
	agent->passkey_shown = passkey;
	if (news)
		tell(agent, agent->scale, RADIO_PAIRING_SHOW, passkey, text);
}

static void show_passkey(struct agent *agent, DBusMessage *message)
{
	dbus_uint32_t passkey;
	dbus_uint16_t entered;
	const char *device;

	if (dbus_message_get_args(message, NULL, DBUS_TYPE_OBJECT_PATH, &device, DBUS_TYPE_UINT32, &passkey,
				  DBUS_TYPE_UINT16, &entered, DBUS_TYPE_INVALID) &&
	    passkey <= PASSKEY_MAX)
		show(agent, message, passkey, "");
	else
		reject(agent, message, "not six digits");
}

/* The same by classic Bluetooth's word. */
static void show_pin(struct agent *agent, DBusMessage *message)
{
	const char *device, *pin;
	uint32_t passkey = 0;
	size_t n = 0;

	if (!dbus_message_get_args(message, NULL, DBUS_TYPE_OBJECT_PATH, &device, DBUS_TYPE_STRING, &pin,
				   DBUS_TYPE_INVALID)) {
		reject(agent, message, "no digits");
		return;
	}
	for (; pin[n] >= '0' && pin[n] <= '9' && n < 6; n++)
		passkey = passkey * 10 + (uint32_t)(pin[n] - '0');
	if (n == 0 || pin[n] != '\0')
		reject(agent, message, "not six digits at most");
	else
		show(agent, message, passkey, pin);
}

static void confirm(struct agent *agent, DBusMessage *message)
{
	dbus_uint32_t passkey;
	const char *device;

	if (dbus_message_get_args(message, NULL, DBUS_TYPE_OBJECT_PATH, &device, DBUS_TYPE_UINT32, &passkey,
				  DBUS_TYPE_INVALID) &&
	    passkey <= PASSKEY_MAX)
		ask(agent, message, RADIO_PAIRING_CONFIRM, passkey);
	else
		reject(agent, message, "not six digits");
}

/* Whether it is about the device that Pair was called on. */
static bool concerns(const struct agent *agent, DBusMessage *message)
{
	DBusMessageIter at;
	const char *path;

	return agent->step == AGENT_PAIRING && !agent->scale->forgotten && dbus_message_iter_init(message, &at) &&
	       dict_path(&at, &path) && strcmp(path, agent->path) == 0;
}

static void ask_about(struct agent *agent, DBusMessage *message)
{
	const char *member = dbus_message_get_member(message);

	if (!concerns(agent, message))
		reject(agent, message, "not asked for");
	else if (strcmp(member, "RequestPasskey") == 0)
		ask(agent, message, RADIO_PAIRING_PASSKEY, 0);
	else if (strcmp(member, "RequestConfirmation") == 0)
		confirm(agent, message);
	else if (strcmp(member, "DisplayPasskey") == 0)
		show_passkey(agent, message);
	else if (strcmp(member, "DisplayPinCode") == 0)
		show_pin(agent, message);
	else if (strcmp(member, "RequestPinCode") == 0) /* a word of classic Bluetooth, which no scale of ours is */
		reject(agent, message, "only Bluetooth Low Energy");
	else /* RequestAuthorization, AuthorizeService: asking for the pairing was the yes to it */
		bus_send(agent->host->bus, dbus_message_new_method_return(message));
}

bool agent_method(struct agent *agent, DBusMessage *message)
{
	static const char *const about[] = { "RequestPasskey",  "RequestConfirmation",  "DisplayPasskey",  "DisplayPinCode",
					     "RequestPinCode",  "RequestAuthorization", "AuthorizeService" };
	const char *member = dbus_message_get_member(message);

	if (!agent->scale || !dbus_message_has_path(message, AGENT_PATH) || !dbus_message_has_interface(message, AGENT))
		return false;
	if (!bus_from_owner(agent->host->bus, message)) {
		log_debug("radio: a stranger calls the pairing agent, ignoring");
		return false;
	}
	for (size_t i = 0; i < sizeof about / sizeof *about; i++)
		if (strcmp(member, about[i]) == 0) {
			ask_about(agent, message);
			return true;
		}
	if (strcmp(member, "Cancel") == 0) /* Pair will tell why */
		drop_question(agent);
	else if (strcmp(member, "Release") != 0) /* that comes when bluetoothd ends; so does its name */
		return false;
	bus_send(agent->host->bus, dbus_message_new_method_return(message));
	return true;
}
