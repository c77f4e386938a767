// SPDX-License-Identifier: MIT
/*
 * An org.bluez that means ill: hostile SEED GRAMS. From the seed it sends what no bluetoothd would, answers wrongly,
 * late, twice or never, and loses its name; twice in between it is a bluetoothd with one connected scale, whose
 * characteristic indicates GRAMS, then GRAMS + 5, once each. Standard error tells "sent GRAMS" of each that bismard
 * must have by then, "unheard GRAMS" where it didn't subscribe in time, and "done". What bismard may take for a reading
 * is sent by honest() alone: what else is said of values is too short or too long to be one, comes from another
 * connection, or is of nobody's device.
 */
#include "hostile.h"
#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#define STEPS 30
#define HONEST_MS 10000

static int64_t now_ms(void)
{
	struct timespec now;

	(void)clock_gettime(CLOCK_MONOTONIC, &now); /* can't fail with this clock */
	return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

/* ---- calls of bismard ---- */

static void reply_late(struct hostile *hostile)
{
	while (hostile->n_late) {
		DBusMessage *call = hostile->late[--hostile->n_late];
		hostile_answer(hostile, call, hostile_chance(hostile, 50));
		dbus_message_unref(call);
	}
}

static void drop_late(struct hostile *hostile)
{
	while (hostile->n_late)
		dbus_message_unref(hostile->late[--hostile->n_late]);
}

static void on_call(struct hostile *hostile, DBusMessage *call)
{
	const char *sender = dbus_message_get_sender(call);

	if (sender && strcmp(sender, DBUS_SERVICE_DBUS) != 0)
		(void)snprintf(hostile->bismard, sizeof hostile->bismard, "%s", sender);
	if (hostile->honest) {
		if (dbus_message_has_member(call, "StartNotify") && dbus_message_has_path(call, HOSTILE_VALUE))
			hostile->subscribed = true;
		hostile_answer(hostile, call, true);
		return;
	}
	switch (hostile_below(hostile, 6)) {
	case 0: /* never */
		break;
	case 1:
		if (hostile->n_late < HOSTILE_LATE)
			hostile->late[hostile->n_late++] = dbus_message_ref(call);
		break;
	case 2: /* twice, and not the same */
		hostile_answer(hostile, call, false);
		hostile_answer(hostile, call, true);
		break;
	case 3:
		hostile_answer(hostile, call, true);
		break;
	default:
		hostile_answer(hostile, call, false);
	}
}

/* Takes what comes for so long, or until bismard subscribes to the honest scale. */
static void serve(struct hostile *hostile, int64_t ms)
{
	int64_t until_ms = now_ms() + ms;
	bool was = hostile->subscribed;

	do {
		DBusMessage *message;
		if (!dbus_connection_read_write(hostile->connection, 1))
			exit(3); /* the bus is gone */
		while ((message = dbus_connection_pop_message(hostile->connection))) {
			if (dbus_message_get_type(message) == DBUS_MESSAGE_TYPE_METHOD_CALL)
				on_call(hostile, message);
			dbus_message_unref(message);
		}
	} while (now_ms() < until_ms && hostile->subscribed == was);
}

/* ---- an honest hour ---- */

static void honest(struct hostile *hostile, unsigned grams)
{
	/* Weight Scale Service 1.0.1, 3.2: flags, weight in 0.005 kg */
	uint8_t octets[3] = { 0, (uint8_t)(grams / 5), (uint8_t)(grams / 5 >> 8) };

	drop_late(hostile);
	hostile_come_again(hostile); /* what bismard asked the one before never comes here */
	hostile->honest = true;
	hostile->subscribed = false;
	hostile_own(hostile, true);
	serve(hostile, HONEST_MS);
	if (hostile->subscribed)
		hostile_value(hostile, hostile->connection, HOSTILE_VALUE, octets, sizeof octets);
	(void)fprintf(stderr, "%s %u\n", hostile->subscribed ? "sent" : "unheard", grams);
	hostile->honest = false;
}

/* ---- one step ---- */

static void step(struct hostile *hostile)
{
	switch (hostile_below(hostile, 12)) {
	case 0:
	case 1:
		hostile_added(hostile);
		break;
	case 2:
	case 3:
		hostile_removed(hostile);
		break;
	case 4:
	case 5:
	case 6:
		hostile_changed(hostile);
		break;
	case 7:
		hostile_reply_to_nobody(hostile);
		break;
	case 8:
		hostile_call(hostile);
		break;
	case 9:
		hostile_crowd(hostile);
		break;
	case 10:
		if (hostile_chance(hostile, 20)) { /* in mid call */
			hostile_own(hostile, false);
			hostile_own(hostile, true);
		} else {
			hostile_flap(hostile);
		}
		break;
	default: /* another connection says what only the owner may */
		hostile_value(hostile, hostile->imposter, HOSTILE_VALUE, (const uint8_t[]){ 0, 0xe8, 0x03 }, 3);
	}
	if (hostile_chance(hostile, 30))
		reply_late(hostile);
	serve(hostile, hostile_chance(hostile, 50) ? 0 : 4);
}

int main(int argc, char **argv)
{
	static struct hostile hostile;
	unsigned grams;

	if (argc != 3) {
		(void)fprintf(stderr, "usage: %s SEED GRAMS\n", argv[0]);
		return 2;
	}
	hostile.random = strtoull(argv[1], NULL, 10);
	grams = (unsigned)strtoul(argv[2], NULL, 10);
	hostile_connect(&hostile);
	hostile_own(&hostile, true);
	serve(&hostile, 20);
	for (unsigned part = 0; part < 2; part++) {
		for (int i = 0; i < STEPS; i++)
			step(&hostile);
		(void)fprintf(stderr, "honest for %u\n", grams + 5 * part);
		honest(&hostile, grams + 5 * part);
	}
	for (int i = 0; i < STEPS / 4; i++)
		step(&hostile);
	drop_late(&hostile);
	hostile_disconnect(&hostile);
	(void)fprintf(stderr, "done\n");
	return 0;
}
