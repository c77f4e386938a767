// SPDX-License-Identifier: MIT
/* Scales that broadcast instead of being connected to. First the radio room alone, in this process, on the private bus:
 * what it makes of broadcasts, octet by octet. At the end bismard, and what it tells. */
#include "client.h"
#include "daemon/limits.h"
#include "daemon/log.h"
#include "daemon/radio/radio.h"
#include <dbus/dbus.h>
#include <systemd/sd-event.h>

#define YARD "02:00:00:00:0C:01" /* locally administered addresses: nobody's */
#define SHED "02:00:00:00:0C:02"
#define BTHOME "0000fcd2-0000-1000-8000-00805f9b34fb"
#define FRAMES_MAX 512
#define FOUND_MAX 8
#define CHANGES_MAX 64

/* As BlueZ gives it, after the UUID; the first two are the published examples (bthome.io/format; facts, 8.4). */
#define T1 "40065e1f"         /* 80.30 kg */
#define T2 "40073e1d"         /* 74.86 lb */
#define T3 "4400090161062300" /* packet 9, battery 97 %, 0.35 kg */
#define T4 "44000a062d003a01" /* packet 10, 0.45 kg, a button */
#define T5 "400164060a00061400" /* 0.10 and 0.20 kg */

struct heard {
	enum radio_kind kind;
	char address[RADIO_ADDRESS_SIZE], uuid[40], hex[2 * 31 + 1];
	uint32_t link;
};

struct change {
	char address[RADIO_ADDRESS_SIZE];
	enum link_state state;
	bool taken;
};

struct world {
	struct rig *rig;
	sd_event *event;
	struct radio *radio;
	struct heard frames[FRAMES_MAX];
	size_t n, seen; /* those after seen weren't looked at yet */
	struct change changes[CHANGES_MAX];
	size_t n_changes;
	struct radio_found found[FOUND_MAX];
	char found_address[FOUND_MAX][RADIO_ADDRESS_SIZE];
	size_t n_found;
	bool find_done, forget, may_connect;
	unsigned turns;
};

/* ---- the radio's owner ---- */

static void on_frame(void *userdata, const struct radio_frame *frame)
{
	struct world *world = userdata;
	struct heard *heard = &world->frames[world->n];

	assert_true(world->n < FRAMES_MAX && frame->n <= 31);
	assert_null(frame->description);
	assert_true(frame->received_ms > 0);
	*heard = (struct heard){ .kind = frame->kind, .link = frame->link };
	(void)snprintf(heard->address, sizeof heard->address, "%s", frame->address);
	(void)snprintf(heard->uuid, sizeof heard->uuid, "%s", frame->uuid);
	for (size_t i = 0; i < frame->n; i++)
		(void)snprintf(heard->hex + 2 * i, 3, "%02x", frame->octets[i]);
	world->n++;
	if (world->forget)
		assert_int_equal(radio_forget(world->radio, frame->address), 0);
}

static void on_link(void *userdata, const char *address, enum link_state state)
{
	struct world *world = userdata;
	struct change *change = &world->changes[world->n_changes++];

	assert_true(world->n_changes < CHANGES_MAX);
	(void)snprintf(change->address, sizeof change->address, "%s", address);
	change->state = state;
}

static bool on_wanted(void *userdata, enum radio_kind kind, const char *uuid)
{
	(void)userdata;
	return kind == RADIO_MANUFACTURER && strcmp(uuid, "0x04d2") == 0;
}

static void on_found(void *userdata, const struct radio_found *found)
{
	struct world *world = userdata;

	assert_true(world->n_found < FOUND_MAX);
	(void)snprintf(world->found_address[world->n_found], RADIO_ADDRESS_SIZE, "%s", found->address);
	world->found[world->n_found++] = *found; /* its texts are not kept */
}

static void on_find_done(void *userdata)
{
	((struct world *)userdata)->find_done = true;
}

static void start_radio(struct world *world)
{
	static const struct radio_ops ops = {
		.frame = on_frame,
		.link = on_link,
		.wanted = on_wanted,
		.found = on_found,
		.find_done = on_find_done,
	};
	char address[128];

	(void)snprintf(address, sizeof address, "unix:path=%s/bus", world->rig->dir);
	assert_int_equal(setenv("DBUS_SYSTEM_BUS_ADDRESS", address, 1), 0);
	assert_int_equal(radio_new(world->event, &ops, world, &world->radio), 0);
}

static void stop_radio(struct world *world)
{
	world->radio = radio_free(world->radio);
}

static int setup(void **state)
{
	struct world *world = calloc(1, sizeof *world);

	if (!world || rig_setup_bare((void **)&world->rig) != 0 || sd_event_new(&world->event) < 0)
		return -1;
	rig_start_bus(world->rig);
	rig_start_sim(world->rig);
	start_radio(world);
	*state = world;
	return 0;
}

static int teardown(void **state)
{
	struct world *world = *state;
	struct rig *rig = world->rig;
	size_t connects;

	deck_turn(rig->deck, 0);
	connects = rig_events(rig, "connect ") + rig_events(rig, "auto-connect ");
	if (connects > 0 && !world->may_connect)
		deck_fail(rig->deck, "a broadcaster was connected to");
	stop_radio(world);
	sd_event_unref(world->event);
	free(world);
	return rig_teardown((void **)&rig);
}

/* ---- waiting ---- */

static void turn(struct world *world, uint64_t wait_us)
{
	for (int r = sd_event_run(world->event, wait_us); r > 0; r = sd_event_run(world->event, 0))
		world->turns++;
	deck_turn(world->rig->deck, 0);
}

/* until: this is true. */
#define AWAIT(world, condition)                                                                                       \
	do {                                                                                                          \
		int64_t until_ms_ = deck_ms((world)->rig->deck) + TAPE_PATIENCE_MS;                                   \
		while (!(condition)) {                                                                                \
			if (deck_ms((world)->rig->deck) > until_ms_)                                                  \
				deck_fail((world)->rig->deck, "waited in vain: %s (%s:%d; %zu frames)", #condition,   \
					  __func__, __LINE__, (world)->n);                                            \
			turn((world), 5000);                                                                          \
		}                                                                                                     \
	} while (0)

static bool take_change(struct world *world, const char *address, enum link_state state)
{
	for (size_t i = 0; i < world->n_changes; i++) {
		struct change *change = &world->changes[i];

		if (change->taken || strcmp(change->address, address) != 0)
			continue;
		change->taken = true;
		if (change->state == state)
			return true;
	}
	return false;
}

/* Its next change to this state; those before it are passed over. It may have changed again since. */
static void await_state(struct world *world, const char *address, enum link_state state)
{
	AWAIT(world, take_change(world, address, state));
}

/* The next frame, and all of it; returns its link's number. */
static uint32_t expect(struct world *world, const char *address, enum radio_kind kind, const char *uuid,
		       const char *hex)
{
	const struct heard *heard;

	AWAIT(world, world->n > world->seen);
	heard = &world->frames[world->seen++];
	assert_string_equal(heard->hex, hex);
	assert_string_equal(heard->address, address);
	assert_string_equal(heard->uuid, uuid);
	assert_int_equal(heard->kind, kind);
	return heard->link;
}

static uint32_t expect_bthome(struct world *world, const char *address, const char *hex)
{
	return expect(world, address, RADIO_SERVICE_DATA, BTHOME, hex);
}

static void expect_no_more(const struct world *world)
{
	assert_int_equal(world->n, world->seen);
}

static void adopt(struct world *world, const char *address)
{
	assert_int_equal(radio_adopt(world->radio, address), 0);
}

/* Adopted, in reach and listened to, with nothing said yet. */
static void begin(struct world *world)
{
	struct rig *rig = world->rig;

	(void)rig_sim(rig, "scale " YARD " yard beacon");
	(void)rig_sim(rig, "broadcast " YARD " fcd2 " T1);
	(void)rig_sim(rig, "advertise " YARD " on");
	adopt(world, YARD);
	(void)expect_bthome(world, YARD, T1);
	await_state(world, YARD, LINK_LISTENING);
}

static void say(struct world *world, const char *hex)
{
	(void)rig_sim(world->rig, "broadcast " YARD " fcd2 %s", hex);
}

/* ---- adopted, and in reach ---- */

/* Another program's discovery has found it: what its object holds counts, once. */
static void test_in_reach_at_start(void **state)
{
	struct world *world = *state;
	uint32_t link;

	(void)rig_sim(world->rig, "scan hci0 on");
	(void)rig_sim(world->rig, "scale " YARD " yard beacon");
	(void)rig_sim(world->rig, "broadcast " YARD " fcd2 " T3);
	adopt(world, YARD);
	link = expect_bthome(world, YARD, T3);
	await_state(world, YARD, LINK_LISTENING);
	adopt(world, SHED); /* the tree is read again */
	for (int i = 0; i < 10; i++)
		turn(world, 10000);
	say(world, T4);
	assert_int_equal(expect_bthome(world, YARD, T4), link);
	expect_no_more(world);
}

/* BlueZ remembers it from who knows when, and hears nothing: nothing is taken, nor when it is heard without data. */
static void test_remembered_at_start(void **state)
{
	struct world *world = *state;

	(void)rig_sim(world->rig, "scale " YARD " yard beacon");
	(void)rig_sim(world->rig, "scan hci0 on");
	say(world, T3);
	(void)rig_sim(world->rig, "scan hci0 off");
	(void)rig_sim(world->rig, "fail hci0 discovery 1");
	adopt(world, YARD);
	(void)rig_sim(world->rig, "advertise " YARD " on");
	await_state(world, YARD, LINK_LISTENING);
	expect_no_more(world);
	adopt(world, SHED); /* the tree is read again */
	for (int i = 0; i < 10; i++)
		turn(world, 10000);
	expect_no_more(world);
	say(world, T4);
	(void)expect_bthome(world, YARD, T4);
	expect_no_more(world);
}

static void test_before_reach(void **state)
{
	struct world *world = *state;

	adopt(world, YARD);
	AWAIT(world, rig_events(world->rig, "discovery on") == 1);
	assert_int_equal(radio_link(world->radio, YARD), LINK_AWAY);
	(void)rig_sim(world->rig, "scale " YARD " yard beacon random");
	say(world, T3); /* a single one */
	assert_int_equal(expect_bthome(world, YARD, T3), 1);
	assert_int_equal(radio_link(world->radio, YARD), LINK_LISTENING);
	say(world, T4);
	assert_int_equal(expect_bthome(world, YARD, T4), 1);
	expect_no_more(world);
}

static void test_octets(void **state)
{
	static const char *const published[] = { T2, T3, T4, T5, "", "40", T1 };
	struct world *world = *state;
	uint32_t link = 0;

	begin(world);
	for (size_t i = 0; i < sizeof published / sizeof *published; i++) {
		say(world, *published[i] ? published[i] : "-");
		link = expect_bthome(world, YARD, published[i]);
	}
	assert_int_equal(link, 1);
	expect_no_more(world);
}

static void test_manufacturer(void **state)
{
	struct world *world = *state;

	(void)rig_sim(world->rig, "scale " YARD " yard beacon");
	(void)rig_sim(world->rig, "broadcast " YARD " company 04d2 0102");
	(void)rig_sim(world->rig, "broadcast " YARD " company 04d3 0304"); /* nobody has declared it */
	(void)rig_sim(world->rig, "scan hci0 on");
	(void)rig_sim(world->rig, "advertise " YARD " on");
	adopt(world, YARD);
	(void)expect(world, YARD, RADIO_MANUFACTURER, "0x04d2", "0102");
	(void)rig_sim(world->rig, "broadcast " YARD " company 04d3 0305");
	(void)rig_sim(world->rig, "broadcast " YARD " company 04d2 0103");
	(void)expect(world, YARD, RADIO_MANUFACTURER, "0x04d2", "0103");
	/* both kinds from one device */
	say(world, T3);
	(void)expect_bthome(world, YARD, T3);
	(void)rig_sim(world->rig, "broadcast " YARD " company 04d2 0104");
	(void)expect(world, YARD, RADIO_MANUFACTURER, "0x04d2", "0104");
	expect_no_more(world);
}

/* Adverts of several kinds by turns: BlueZ tells of all the data whenever one has changed (facts, 7.3). */
static void test_rotating(void **state)
{
	struct world *world = *state;

	begin(world);
	for (int i = 0; i < 5; i++) {
		(void)rig_sim(world->rig, "broadcast " YARD " fe9f %02x", (unsigned)i);
		(void)rig_sim(world->rig, "broadcast " YARD " company 04d3 %02x", (unsigned)i);
	}
	say(world, T3);
	(void)rig_sim(world->rig, "broadcast " YARD " fe9f ff");
	say(world, T4);
	say(world, T3);
	(void)expect_bthome(world, YARD, T3);
	(void)expect_bthome(world, YARD, T4);
	(void)expect_bthome(world, YARD, T3); /* whether it is a repeat its packet id tells, and our caller */
	expect_no_more(world);
}

/* Another program wants every repeat. */
static void test_every_repeat(void **state)
{
	struct world *world = *state;

	(void)rig_sim(world->rig, "set advert-ms 2");
	(void)rig_sim(world->rig, "scan hci0 on duplicates");
	begin(world);
	for (int i = 0; i < 20; i++)
		say(world, T1);
	say(world, T3);
	(void)expect_bthome(world, YARD, T3);
	expect_no_more(world);
}

/* ---- out of reach, and back ---- */

static void test_vanishes(void **state)
{
	struct world *world = *state;
	uint32_t link;

	(void)rig_sim(world->rig, "set temporary-ms 50");
	(void)rig_sim(world->rig, "scale " YARD " yard beacon");
	adopt(world, YARD);
	AWAIT(world, rig_events(world->rig, "discovery on") == 1);
	say(world, T3);
	link = expect_bthome(world, YARD, T3);
	await_state(world, YARD, LINK_AWAY);
	assert_int_equal(rig_events(world->rig, "removed " YARD), 1);
	/* soon after the same: nothing new; then something new: another link */
	say(world, T3);
	await_state(world, YARD, LINK_LISTENING);
	say(world, T4);
	assert_true(expect_bthome(world, YARD, T4) > link);
	expect_no_more(world);
}

/* It ends with discovery, and BlueZ says so by taking RSSI away. */
static void test_rssi_vanishes(void **state)
{
	struct world *world = *state;
	uint32_t link;

	(void)rig_sim(world->rig, "fail hci0 discovery 2"); /* ours begins after 3 s */
	(void)rig_sim(world->rig, "scan hci0 on");
	begin(world);
	link = world->frames[0].link;
	(void)rig_sim(world->rig, "scan hci0 off");
	await_state(world, YARD, LINK_AWAY);
	say(world, T3); /* nobody listens */
	await_state(world, YARD, LINK_LISTENING);
	say(world, T4);
	assert_true(expect_bthome(world, YARD, T4) > link);
	expect_no_more(world);
}

static void test_bluetoothd_restarted(void **state)
{
	struct world *world = *state;
	uint32_t link;

	begin(world);
	link = world->frames[0].link;
	(void)rig_sim(world->rig, "restart");
	await_state(world, YARD, LINK_AWAY);
	await_state(world, YARD, LINK_LISTENING);
	say(world, T3);
	assert_true(expect_bthome(world, YARD, T3) > link); /* T1 again is nothing new */
	(void)rig_sim(world->rig, "stop");
	await_state(world, YARD, LINK_AWAY);
	say(world, T4);
	(void)rig_sim(world->rig, "start");
	(void)expect_bthome(world, YARD, T4);
	expect_no_more(world);
}

static void replug(struct world *world, const char *how)
{
	uint32_t link;

	begin(world);
	link = world->frames[0].link;
	(void)rig_sim(world->rig, "adapter remove hci0%s", how);
	await_state(world, YARD, LINK_AWAY);
	(void)rig_sim(world->rig, "adapter add hci1 02:00:00:00:00:01");
	await_state(world, YARD, LINK_LISTENING);
	say(world, T3);
	assert_true(expect_bthome(world, YARD, T3) > link);
	expect_no_more(world);
}

static void test_adapter_replugged(void **state)
{
	replug(*state, "");
}

static void test_adapter_torn_out(void **state)
{
	replug(*state, " abrupt");
}

static void test_adapter_off_and_on(void **state)
{
	struct world *world = *state;
	uint32_t link;

	begin(world);
	link = world->frames[0].link;
	(void)rig_sim(world->rig, "adapter power hci0 off");
	await_state(world, YARD, LINK_AWAY);
	(void)rig_sim(world->rig, "adapter power hci0 on");
	await_state(world, YARD, LINK_LISTENING);
	say(world, T3);
	assert_true(expect_bthome(world, YARD, T3) > link);
	expect_no_more(world);
}

static void test_adapter_off_at_start(void **state)
{
	struct world *world = *state;

	(void)rig_sim(world->rig, "adapter power hci0 off");
	(void)rig_sim(world->rig, "scale " YARD " yard beacon");
	say(world, T3);
	(void)rig_sim(world->rig, "advertise " YARD " on");
	adopt(world, YARD);
	AWAIT(world, radio_trouble(world->radio) == RADIO_ADAPTER_OFF);
	assert_int_equal(radio_link(world->radio, YARD), LINK_AWAY);
	(void)rig_sim(world->rig, "adapter power hci0 on");
	(void)expect_bthome(world, YARD, T3);
	expect_no_more(world);
}

/* We can't scan; another program does. Then nobody does, and then we can. */
static void test_no_discovery(void **state)
{
	struct world *world = *state;

	(void)rig_sim(world->rig, "fail hci0 discovery 1000000");
	(void)rig_sim(world->rig, "scan hci0 on");
	begin(world);
	say(world, T3);
	(void)expect_bthome(world, YARD, T3);
	(void)rig_sim(world->rig, "scan hci0 off");
	await_state(world, YARD, LINK_AWAY);
	(void)rig_sim(world->rig, "fail hci0 discovery 0");
	await_state(world, YARD, LINK_LISTENING);
	say(world, T4);
	(void)expect_bthome(world, YARD, T4);
	expect_no_more(world);
}

/* ---- who is who ---- */

static void test_strangers(void **state)
{
	struct world *world = *state;
	struct rig *rig = world->rig;

	begin(world);
	(void)rig_sim(rig, "scale " SHED " yard beacon"); /* its name, another address */
	(void)rig_sim(rig, "advertise " SHED " on");
	(void)rig_sim(rig, "broadcast " SHED " fcd2 " T4);
	/* the one we know has got a new address: a stranger, until it is adopted */
	(void)rig_sim(rig, "advertise " YARD " off");
	(void)rig_sim(rig, "set temporary-ms 50");
	(void)rig_sim(rig, "forget " YARD);
	await_state(world, YARD, LINK_AWAY);
	(void)rig_sim(rig, "broadcast " SHED " fcd2 " T5);
	say(world, T3);
	(void)expect_bthome(world, YARD, T3);
	expect_no_more(world);
	adopt(world, SHED);
	(void)expect_bthome(world, SHED, T5);
	expect_no_more(world);
}

static void test_two_of_one_name(void **state)
{
	struct world *world = *state;
	struct rig *rig = world->rig;

	begin(world);
	(void)rig_sim(rig, "scale " SHED " yard beacon");
	adopt(world, SHED);
	(void)rig_sim(rig, "broadcast " SHED " fcd2 " T1);
	(void)expect_bthome(world, SHED, T1);
	say(world, T3);
	(void)rig_sim(rig, "broadcast " SHED " fcd2 " T3);
	(void)expect_bthome(world, YARD, T3);
	(void)expect_bthome(world, SHED, T3);
	expect_no_more(world);
}

static void test_two_adapters(void **state)
{
	struct world *world = *state;

	(void)rig_sim(world->rig, "adapter add hci1 02:00:00:00:00:02");
	begin(world);
	AWAIT(world, rig_events(world->rig, "discovery on hci1") == 1 && rig_events(world->rig, "discovery on hci0") == 1);
	for (int i = 0; i < 20; i++) { /* both hear each of them */
		char hex[32];

		(void)snprintf(hex, sizeof hex, "4400%02x062300", (unsigned)i);
		say(world, hex);
		assert_int_equal(expect_bthome(world, YARD, hex), 1);
	}
	(void)rig_sim(world->rig, "adapter remove hci0"); /* on that one or on the other */
	turn(world, 50000);
	AWAIT(world, radio_link(world->radio, YARD) == LINK_LISTENING);
	say(world, T4);
	(void)expect_bthome(world, YARD, T4);
	(void)rig_sim(world->rig, "adapter remove hci1");
	await_state(world, YARD, LINK_AWAY);
	expect_no_more(world);
}

static void test_storm(void **state)
{
	struct world *world = *state;
	struct rig *rig = world->rig;
	unsigned turns;

	begin(world);
	(void)rig_sim(rig, "strangers 300 0");
	AWAIT(world, rig_events(rig, "strangers-done") == 1);
	turn(world, 50000);
	turns = world->turns;
	(void)rig_sim(rig, "set advert-ms 1000"); /* its own RSSI is told of as well */
	(void)rig_sim(rig, "strangers 300 20000");
	say(world, T3);
	(void)expect_bthome(world, YARD, T3);
	AWAIT(world, rig_events(rig, "strangers-done") == 2);
	say(world, T4);
	(void)expect_bthome(world, YARD, T4);
	expect_no_more(world);
	/* 6666 of them were BTHome; what woke us is ours */
	assert_in_range(world->turns - turns, 0, 200);
}

static void test_found(void **state)
{
	struct world *world = *state;
	struct rig *rig = world->rig;

	world->may_connect = true;
	(void)rig_sim(rig, "scale " YARD " yard beacon");
	(void)rig_sim(rig, "broadcast " YARD " fcd2 " T1);
	(void)rig_sim(rig, "scale " SHED " shed beacon");
	(void)rig_sim(rig, "broadcast " SHED " company 04d2 01");
	(void)rig_sim(rig, "scale 02:00:00:00:0C:03 lamp beacon");
	(void)rig_sim(rig, "broadcast 02:00:00:00:0C:03 company 04d3 01");
	(void)rig_sim(rig, "broadcast 02:00:00:00:0C:03 181a 01");
	(void)rig_sim(rig, "scale 02:00:00:00:0C:04 bench");
	for (int i = 1; i <= 4; i++)
		(void)rig_sim(rig, "advertise 02:00:00:00:0C:0%d on -7%d", i, i);
	AWAIT(world, radio_trouble(world->radio) == RADIO_FINE);
	assert_int_equal(radio_find(world->radio, 1), 0);
	AWAIT(world, world->find_done);
	assert_int_equal(world->n_found, 3);
	for (size_t i = 0; i < 3; i++) {
		bool bench = strcmp(world->found_address[i], "02:00:00:00:0C:04") == 0;

		assert_string_not_equal(world->found_address[i], "02:00:00:00:0C:03");
		assert_int_equal(world->found[i].weight_scale, bench);
		assert_int_equal(world->found[i].broadcast, !bench);
	}
	expect_no_more(world); /* looked at, not listened to */
}

/* ---- what it turns out to be ---- */

/* Seen without data it is tried like any other; the first broadcast ends that, for good. */
static void test_turns_out_to_broadcast(void **state)
{
	struct world *world = *state;
	struct rig *rig = world->rig;

	world->may_connect = true;
	(void)rig_sim(rig, "scale " YARD " yard beacon");
	(void)rig_sim(rig, "advertise " YARD " on");
	adopt(world, YARD);
	AWAIT(world, rig_events(rig, "connect " YARD) == 1);
	say(world, T3);
	(void)expect_bthome(world, YARD, T3);
	await_state(world, YARD, LINK_LISTENING);
	AWAIT(world, rig_events(rig, "disconnect " YARD) == 1);
	/* its object is made anew, without data at first */
	(void)rig_sim(rig, "hush " YARD);
	(void)rig_sim(rig, "forget " YARD);
	await_state(world, YARD, LINK_AWAY);
	await_state(world, YARD, LINK_LISTENING);
	(void)rig_sim(rig, "restart");
	await_state(world, YARD, LINK_AWAY);
	await_state(world, YARD, LINK_LISTENING);
	say(world, T4);
	(void)expect_bthome(world, YARD, T4);
	assert_int_equal(rig_events(rig, "connect " YARD), 1);
	expect_no_more(world);
}

/* Data first, and later that it is a scale to connect to: its broadcasts aren't taken then. */
static void test_turns_out_to_connect(void **state)
{
	struct world *world = *state;
	struct rig *rig = world->rig;

	world->may_connect = true;
	(void)rig_sim(rig, "scale " YARD " yard hidden");
	say(world, T3);
	(void)rig_sim(rig, "advertise " YARD " on");
	adopt(world, YARD);
	(void)expect_bthome(world, YARD, T3);
	assert_int_equal(rig_events(rig, "connect " YARD), 0);
	(void)rig_sim(rig, "announce " YARD " on");
	await_state(world, YARD, LINK_SUBSCRIBED);
	(void)rig_sim(rig, "indicate " YARD " 2a9d 003d00");
	(void)expect(world, YARD, RADIO_VALUE, "00002a9d-0000-1000-8000-00805f9b34fb", "003d00");
	(void)rig_sim(rig, "set auto-connect off");
	(void)rig_sim(rig, "hold " YARD " connect");
	(void)rig_sim(rig, "drop " YARD);
	(void)rig_sim(rig, "broadcast " YARD " fcd2 " T4);
	(void)rig_sim(rig, "release " YARD);
	await_state(world, YARD, LINK_LOST);
	await_state(world, YARD, LINK_SUBSCRIBED);
	(void)rig_sim(rig, "indicate " YARD " 2a9d 003e00");
	(void)expect(world, YARD, RADIO_VALUE, "00002a9d-0000-1000-8000-00805f9b34fb", "003e00");
	expect_no_more(world);
}

/* One that has been subscribed to is more than its broadcasts, whatever it announces. */
static void test_subscribed_once(void **state)
{
	struct world *world = *state;
	struct rig *rig = world->rig;

	world->may_connect = true;
	(void)rig_sim(rig, "set auto-connect off");
	(void)rig_sim(rig, "scale " YARD " yard hidden");
	(void)rig_sim(rig, "advertise " YARD " on");
	adopt(world, YARD);
	await_state(world, YARD, LINK_SUBSCRIBED);
	(void)rig_sim(rig, "hold " YARD " connect");
	(void)rig_sim(rig, "drop " YARD);
	say(world, T3);
	(void)rig_sim(rig, "release " YARD);
	await_state(world, YARD, LINK_LOST);
	await_state(world, YARD, LINK_SUBSCRIBED);
	expect_no_more(world);
}

/* A scale with a link beside it: discovery goes on for the one that broadcasts. */
static void test_beside_a_link(void **state)
{
	struct world *world = *state;
	struct rig *rig = world->rig;

	world->may_connect = true;
	begin(world);
	(void)rig_sim(rig, "scale " SHED " shed");
	(void)rig_sim(rig, "advertise " SHED " on");
	adopt(world, SHED);
	await_state(world, SHED, LINK_SUBSCRIBED);
	for (int i = 0; i < 10; i++) {
		say(world, i % 2 ? T4 : T3);
		(void)expect_bthome(world, YARD, i % 2 ? T4 : T3);
	}
	assert_int_equal(rig_events(rig, "discovery off"), 0);
	assert_int_equal(rig_events(rig, "connect " YARD), 0);
	/* without it there is no need */
	assert_int_equal(radio_forget(world->radio, YARD), 0);
	AWAIT(world, rig_events(rig, "discovery off") == 1);
}

static void test_forgotten_while_told(void **state)
{
	struct world *world = *state;

	begin(world);
	(void)rig_sim(world->rig, "broadcast " YARD " company 04d2 01");
	(void)expect(world, YARD, RADIO_MANUFACTURER, "0x04d2", "01");
	world->forget = true;
	say(world, T3);
	(void)expect_bthome(world, YARD, T3);
	assert_int_equal(radio_link(world->radio, YARD), LINK_AWAY);
	say(world, T4);
	world->forget = false;
	turn(world, 50000);
	expect_no_more(world);
	adopt(world, YARD);
	await_state(world, YARD, LINK_LISTENING);
	say(world, T5);
	(void)expect_bthome(world, YARD, T5);
	expect_no_more(world);
	stop_radio(world); /* and it goes with all that it holds */
	start_radio(world);
}

static void burst(struct rig *rig, unsigned n)
{
	for (unsigned i = 0; i < n; i++)
		rig_sim_send(rig, "broadcast " YARD " fcd2 4400%02x06%02x01", i & 0xff, i & 0xff);
	for (unsigned i = 0; i < n; i++)
		(void)rig_sim_answer(rig);
}

static void test_cap(void **state)
{
	struct world *world = *state;
	int64_t began_ms, until_ms;
	size_t most;

	begin(world);
	(void)rig_sim(world->rig, "scale " SHED " shed beacon");
	adopt(world, SHED);
	until_ms = deck_ms(world->rig->deck) + 1100; /* what came so far has had its second */
	while (deck_ms(world->rig->deck) < until_ms)
		turn(world, 10000);
	began_ms = deck_ms(world->rig->deck);
	burst(world->rig, 400);
	(void)rig_sim(world->rig, "broadcast " SHED " fcd2 " T1); /* another's are counted apart */
	AWAIT(world, world->n > 0 && strcmp(world->frames[world->n - 1].address, SHED) == 0);
	most = LIMIT_BROADCASTS_PER_S * (size_t)((deck_ms(world->rig->deck) - began_ms) / 1000 + 2);
	assert_in_range(world->n - world->seen - 1, LIMIT_BROADCASTS_PER_S, most);
	assert_in_range(most, LIMIT_BROADCASTS_PER_S, 399); /* or the burst was none */
	world->seen = world->n;
	/* the one that would have been the last comes through when it is said again */
	until_ms = deck_ms(world->rig->deck) + 1100;
	while (deck_ms(world->rig->deck) < until_ms)
		turn(world, 10000);
	say(world, T3);
	(void)expect_bthome(world, YARD, T3);
	expect_no_more(world);
}

/* ---- bismard ---- */

static void test_daemon_listens(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);

	(void)client_call(client, "follow", "{s:[s, s]}", "topics", "scale", "found");
	(void)rig_sim(rig, "scale " YARD " yard beacon");
	(void)rig_sim(rig, "broadcast " YARD " fcd2 " T3);
	(void)rig_sim(rig, "advertise " YARD " on");
	(void)client_call(client, "scale.adopt", "{s:s, s:s}", "address", YARD, "name", "yard");
	(void)client_notice_of(client, "scale", "state", "listening");
	assert_string_equal(client_scale_state(client, "yard"), "listening");
	(void)rig_event(rig, "discovery on hci0");
	(void)rig_sim(rig, "adapter power hci0 off");
	(void)client_notice_of(client, "scale", "state", "away");
	(void)rig_sim(rig, "adapter power hci0 on");
	(void)rig_event(rig, "discovery on hci0");
	(void)client_call(client, "status", NULL); /* by now it has heard it again */
	/* many wait for their turn in the journal, too */
	burst(rig, 400);
	(void)rig_log(rig, "broadcasts more than 50 times a second");
	(void)rig_sim(rig, "pause 2100");
	(void)rig_sim(rig, "broadcast " YARD " fcd2 " T4);
	(void)rig_log(rig, "broadcasts are all taken again");
	client_close(client);
	assert_int_equal(rig_events(rig, "connect "), 0);
}

#define CASE(name) cmocka_unit_test_setup_teardown(name, setup, teardown)

int main(int argc, char **argv)
{
	const struct CMUnitTest tests[] = {
		CASE(test_in_reach_at_start),
		CASE(test_remembered_at_start),
		CASE(test_before_reach),
		CASE(test_octets),
		CASE(test_manufacturer),
		CASE(test_rotating),
		CASE(test_every_repeat),
		CASE(test_vanishes),
		CASE(test_rssi_vanishes),
		CASE(test_bluetoothd_restarted),
		CASE(test_adapter_replugged),
		CASE(test_adapter_torn_out),
		CASE(test_adapter_off_and_on),
		CASE(test_adapter_off_at_start),
		CASE(test_no_discovery),
		CASE(test_strangers),
		CASE(test_two_of_one_name),
		CASE(test_two_adapters),
		CASE(test_storm),
		CASE(test_found),
		CASE(test_turns_out_to_broadcast),
		CASE(test_turns_out_to_connect),
		CASE(test_subscribed_once),
		CASE(test_beside_a_link),
		CASE(test_forgotten_while_told),
		CASE(test_cap),
		cmocka_unit_test_setup_teardown(test_daemon_listens, rig_setup, rig_teardown),
	};

	rig_programs(argc, argv);
	log_set_level(getenv("BISMAR_SEEN") ? LOG_DEBUG : LOG_ERR);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
