// SPDX-License-Identifier: MIT
#include "pairing.h"
#include "apps.h"
#include "bus.h"
#include "model.h"
#include "node.h"
#include "put.h"
#include "say.h"
#include "words.h"

#define AGENT "org.bluez.Agent1"

static bool six_digits(const char *word, uint32_t *ret)
{
	int64_t number;

	if (strlen(word) != 6 || !words_number(word, 0, 999999, &number))
		return false;
	*ret = (uint32_t)number;
	return true;
}

bool pairing_option(struct peer *peer, const char *word, const char *digits)
{
	static const char *const asks[] = {
		[BOND_PASSKEY] = "passkey", [BOND_DISPLAY] = "display", [BOND_CONFIRM] = "confirm"
	};

	for (int i = BOND_PASSKEY; i <= BOND_CONFIRM; i++)
		if (!strcmp(word, asks[i]) && six_digits(digits, &peer->bond.digits)) {
			peer->bond.ask = (enum bond_ask)i;
			peer->secure = true;
			return true;
		}
	return false;
}

static void answered(DBusPendingCall *pending, void *userdata)
{
	struct device *device = userdata;
	DBusMessage *reply = dbus_pending_call_steal_reply(pending);
	const struct peer *peer = device->peer;
	dbus_uint32_t digits;
	bool good = dbus_message_get_type(reply) == DBUS_MESSAGE_TYPE_METHOD_RETURN;

	dbus_pending_call_unref(device->asked.pending);
	device->asked.pending = NULL;
	say_event(device->adapter->sim, "agent-answer %s %s", peer->address, good ? "ok" : dbus_message_get_error_name(reply));
	if (!good)
		device->asked.outcome = PAIRING_REJECTED;
	else if (peer->bond.ask == BOND_PASSKEY &&
		 (!dbus_message_get_args(reply, NULL, DBUS_TYPE_UINT32, &digits, DBUS_TYPE_INVALID) ||
		  digits != peer->bond.digits))
		device->asked.outcome = PAIRING_FAILED;
	else if (peer->bond.ask != BOND_DISPLAY) /* there the scale's own user has the last word */
		device->asked.outcome = PAIRING_PASSED;
	dbus_message_unref(reply);
}

static DBusMessage *question(struct device *device, const struct agent *agent)
{
	static const char *const members[] = { [BOND_PASSKEY] = "RequestPasskey",
					       [BOND_DISPLAY] = "DisplayPasskey",
					       [BOND_CONFIRM] = "RequestConfirmation" };
	const struct peer *peer = device->peer;
	struct node node = node_device(device);
	dbus_uint32_t digits = peer->bond.digits;
	dbus_uint16_t entered = 0;
	DBusMessageIter iter;
	char path[SIM_PATH];
	DBusMessage *msg = dbus_message_new_method_call(agent->owner, agent->path, AGENT, members[peer->bond.ask]);

	if (!msg)
		put_oom();
	dbus_message_iter_init_append(msg, &iter);
	put_path(&iter, node_path(&node, path));
	if ((peer->bond.ask != BOND_PASSKEY && !dbus_message_iter_append_basic(&iter, DBUS_TYPE_UINT32, &digits)) ||
	    (peer->bond.ask == BOND_DISPLAY && !dbus_message_iter_append_basic(&iter, DBUS_TYPE_UINT16, &entered)))
		put_oom();
	return msg;
}

enum pairing_outcome pairing_step(struct device *device)
{
	struct sim *sim = device->adapter->sim;
	const struct agent *agent;

	if (device->peer->bond.ask == BOND_NOTHING)
		return PAIRING_PASSED;
	if (device->asked.yet)
		return (enum pairing_outcome)device->asked.outcome;
	agent = apps_agent(sim, dbus_message_get_sender(device->pair_call));
	if (!agent)
		return PAIRING_FAILED; /* nobody to ask: bluetoothd goes on as NoInputNoOutput, which isn't enough */
	device->asked.yet = true;
	device->asked.outcome = PAIRING_WAITS;
	words_copy(device->asked.owner, sizeof(device->asked.owner), agent->owner);
	words_copy(device->asked.path, sizeof(device->asked.path), agent->path);
	DBusMessage *msg = question(device, agent);
	device->asked.pending = bus_call(sim->bus, msg, answered, device);
	dbus_message_unref(msg);
	return PAIRING_WAITS;
}

void pairing_end(struct device *device)
{
	if (device->asked.pending) {
		DBusMessage *msg =
			dbus_message_new_method_call(device->asked.owner, device->asked.path, AGENT, "Cancel");
		if (!msg)
			put_oom();
		dbus_message_set_no_reply(msg, TRUE);
		bus_send(device->adapter->sim->bus, msg);
		dbus_pending_call_cancel(device->asked.pending);
		dbus_pending_call_unref(device->asked.pending);
	}
	memset(&device->asked, 0, sizeof(device->asked));
}

static struct peer *scale(struct sim *sim, const char *word)
{
	char address[SIM_ADDRESS];

	return words_address(word, address) ? model_peer(sim, address) : NULL;
}

enum command_outcome pairing_type(struct sim *sim, int n, char **words, char *text)
{
	struct peer *peer = scale(sim, words[1]);
	uint32_t digits;

	(void)n;
	if (!peer || !six_digits(words[2], &digits) || !peer->link || !peer->link->asked.yet) {
		words_copy(text, COMMANDS_TEXT, "no such scale, no six digits, or it shows no question");
		return COMMAND_ERROR;
	}
	peer->link->asked.outcome = digits == peer->bond.digits ? PAIRING_PASSED : PAIRING_FAILED;
	return COMMAND_DONE;
}

enum command_outcome pairing_unbond(struct sim *sim, int n, char **words, char *text)
{
	struct peer *peer = scale(sim, words[1]);

	(void)n;
	if (!peer) {
		words_copy(text, COMMANDS_TEXT, "no such scale");
		return COMMAND_ERROR;
	}
	peer->bond.lost = true;
	return COMMAND_DONE;
}
