// SPDX-License-Identifier: MIT
/*
 * Scales that broadcast BTHome, and buttons that do. T1 to T15 are the vectors of facts 8.4: T1, T2 and T11 published
 * (bthome.io/format, bthome.io/encryption), the others computed from the published rules; what follows them in the same
 * form is ours.
 */
#include "daemon/desk/broadcast.h"
#include "nursery.h"
#include <ctype.h>
#include <dirent.h>
#include <sys/stat.h>
#include <unistd.h>

#define YARD "54:48:E6:8F:80:A5" /* of the published vector: its key and counters fit no other */
#define SHED "02:00:00:00:0C:02" /* locally administered: nobody's */
#define REMOTE "02:00:00:00:0C:03"
#define KEY "231d39c1d7cc1ab1aee224cd096db932"
#define OTHER_KEY "000102030405060708090a0b0c0d0e0f"

#define T1 "40065e1f"
#define T2 "40073e1d"
#define T3 "4400090161062300"
#define T4 "44000a062d003a01"
#define T6 "4006ffff"
#define T7 "40065e"
#define T8 "40065e1ff500"
#define T9 "40f500065e1f"
#define T10 "20065e1f"
#define T11 "41e445f3c9962b332211006c7c4519" /* counter 1122867, no mass */
#define T12 "450217cf1de9010000004d14f2c4"   /* counter 1, packet 9, 0.35 kg */
#define T13 "41cb2b140200000098e95f95"       /* counter 2, 80.30 kg */
#define T14 "41cb2b140200000098e95f94"
#define T15 "40"

static void say(struct rig *rig, const char *address, const char *hex)
{
	(void)rig_sim(rig, "broadcast %s fcd2 %s", address, hex);
}

/* It is in reach, says how full its battery is, and is adopted. */
static void adopt(struct rig *rig, struct client *client, const char *address, const char *name, const char *key)
{
	(void)rig_sim(rig, "scale %s %s beacon", address, name);
	say(rig, address, key ? T15 : "400164");
	(void)rig_sim(rig, "advertise %s on", address);
	(void)client_call(client, "scale.adopt", "{s:s, s:s, s:s?}", "address", address, "name", name, "key", key);
	(void)client_notice_of(client, "scale", "scale", name); /* it is listened to */
	if (!key)
		(void)client_notice_of(client, "scale", "scale", name); /* its battery */
}

static struct client *begin(struct rig *rig)
{
	struct client *client = client_open(rig);

	(void)client_call(client, "follow", "{s:[s, s, s, s, s]}", "topics", "ask", "recorded", "withdraw", "scale",
			  "container");
	nursery_litter(client);
	return client;
}

static struct client *restart(struct rig *rig, struct client *client)
{
	rig_kill_daemon(rig);
	client_close(client);
	rig_start_daemon(rig);
	client = client_open(rig);
	(void)client_call(client, "follow", "{s:[s, s, s, s]}", "topics", "ask", "recorded", "withdraw", "scale");
	return client;
}

static const json_t *expect_ask(struct client *client, int64_t net_mg)
{
	const json_t *ask = client_notice(client, "ask");

	assert_int_equal(client_mg(client, ask, "net_g"), net_mg);
	return ask;
}

static void expect_newest(struct rig *rig, const char *fate_and_why)
{
	rig_await_row(rig, fate_and_why, "SELECT fate, why FROM frame_log ORDER BY frame_id DESC");
}

/* ---- results and samples ---- */

static void test_trigger(void **state)
{
	struct rig *rig = *state;
	struct client *client = begin(rig);
	const json_t *scale;

	adopt(rig, client, YARD, "yard", NULL);
	say(rig, YARD, T3);
	(void)expect_ask(client, 350000);
	scale = client_notice(client, "scale");
	assert_int_equal(json_integer_value(json_object_get(scale, "battery")), 97);
	/* its number again, whatever else is in it: known already */
	say(rig, YARD, "4400090160062400");
	expect_newest(rig, "repeat|the packet before, again");
	/* one without a number says nothing of the numbered ones */
	say(rig, YARD, "440160");
	say(rig, YARD, T3);
	rig_await_row(rig, "2", "SELECT count(*) FROM frame_log WHERE fate = 'repeat'");
	/* another number: another weighing, were the mass the same */
	say(rig, YARD, "44000b062300");
	(void)expect_ask(client, 350000);
	say(rig, YARD, "44000c060a00061400"); /* T5's masses */
	(void)expect_ask(client, 100000);
	expect_newest(rig, "used|it holds several masses; the first counts");
	assert_int_equal(client_notices(client, "ask"), 0);
	rig_expect_row(rig, "3|radio", "SELECT count(*), max(origin) FROM unanswered");
	client_close(client);
}

/* Without a number the same mass soon after is the same weighing (facts, 6). */
static void test_no_number(void **state)
{
	struct rig *rig = *state;
	struct client *client = begin(rig);

	adopt(rig, client, YARD, "yard", NULL);
	say(rig, YARD, "44062300");
	(void)expect_ask(client, 350000);
	say(rig, YARD, "440160062300"); /* the battery has changed, nothing else */
	expect_newest(rig, "repeat|the result before, again");
	say(rig, YARD, "44062400");
	(void)expect_ask(client, 360000);
	assert_int_equal(client_notices(client, "ask"), 0);
	client_close(client);
}

/* What is sent at an interval is a stream: bismard finds when it is steady, or falls silent. */
static void test_interval(void **state)
{
	struct rig *rig = *state;
	struct client *client = begin(rig);
	const json_t *ask = NULL;

	adopt(rig, client, YARD, "yard", NULL);
	say(rig, YARD, T1);
	assert_int_equal(client_notices(client, "ask"), 0);
	(void)expect_ask(client, 80300000);
	say(rig, YARD, "40060000");
	(void)rig_sim(rig, "pause 1200");
	say(rig, YARD, T2);
	ask = expect_ask(client, 33955925); /* 33955.9248182 g */
	/* once, and then silence: it could be the last one heard of a rise; so no less than 0.01 lb / sqrt(12) = 1309.4 mg */
	assert_in_range(client_mg(client, ask, "u_g"), 1310, 1310 + 33955925 / 50);
	ask = NULL;
	say(rig, YARD, "40060000");
	(void)rig_sim(rig, "pause 500");
	for (int i = 0; !ask && i < 60; i++) {
		(void)rig_sim(rig, "broadcast " YARD " fcd2 4000%02x06%02x00", (unsigned)i, (unsigned)(0x23 + i % 2));
		(void)rig_sim(rig, "pause 100");
		ask = client_look(client, "ask");
	}
	assert_in_range(client_mg(client, ask, "net_g"), 350000, 360000);
	for (int i = 60; i < 80; i++)
		(void)rig_sim(rig, "broadcast " YARD " fcd2 4000%02x062300", (unsigned)i);
	assert_int_equal(client_notices(client, "ask"), 0);
	rig_expect_row(rig, "3", "SELECT count(*) FROM unanswered");
	client_close(client);
}

static void test_odd(void **state)
{
	struct rig *rig = *state;
	struct client *client = begin(rig);

	adopt(rig, client, YARD, "yard", NULL);
	say(rig, YARD, T15);
	say(rig, YARD, T7);
	say(rig, YARD, T9);
	say(rig, YARD, T10);
	expect_newest(rig, "refused|unit or format not supported");
	say(rig, YARD, T11);
	expect_newest(rig, "refused|encrypted, and its key isn't known");
	rig_expect_row(rig, "2", "SELECT count(*) FROM frame_log");
	say(rig, YARD, T8);
	(void)expect_ask(client, 80300000);
	say(rig, YARD, T6);
	(void)expect_ask(client, 655350000); /* legal: the format has no special value */
	client_close(client);
}

/* BlueZ shows the last broadcast again to who starts anew. */
static void test_restart(void **state)
{
	struct rig *rig = *state;
	struct client *client = begin(rig);

	adopt(rig, client, YARD, "yard", NULL);
	say(rig, YARD, T3);
	(void)expect_ask(client, 350000);
	client = restart(rig, client);
	(void)expect_ask(client, 350000); /* the one that is open */
	client_await_scale(client, "yard", "listening");
	say(rig, YARD, "44000a062300");
	(void)expect_ask(client, 350000);
	rig_expect_row(rig, "2", "SELECT count(*) FROM unanswered");
	/* without a number */
	say(rig, YARD, "44062d00");
	(void)expect_ask(client, 450000);
	client = restart(rig, client);
	client_await_scale(client, "yard", "listening");
	say(rig, YARD, "44000b062e00");
	for (int i = 0; i < 3; i++)
		(void)client_notice(client, "ask");
	(void)expect_ask(client, 460000);
	assert_int_equal(client_notices(client, "ask"), 0);
	rig_expect_row(rig, "4", "SELECT count(*) FROM unanswered");
	client_close(client);
}

static void test_battery(void **state)
{
	struct rig *rig = *state;
	struct client *client = begin(rig);
	const json_t *scale, *status;

	adopt(rig, client, YARD, "yard", NULL);
	say(rig, YARD, "440020" "0105" "1501");
	scale = client_notice(client, "scale");
	assert_int_equal(json_integer_value(json_object_get(scale, "battery")), 5);
	assert_true(json_is_true(json_object_get(scale, "battery_low")));
	assert_string_equal(client_text(client, scale, "state"), "listening");
	(void)rig_log(rig, "scale yard: its battery is low");
	/* that says nothing of it, so it still is */
	say(rig, YARD, "440021" "0105");
	say(rig, YARD, "440022" "0105" "1501");
	say(rig, YARD, "440023" "0105" "062300");
	(void)expect_ask(client, 350000);
	assert_int_equal(client_notices(client, "scale"), 0);
	status = json_array_get(json_object_get(client_call(client, "status", NULL), "scales"), 0);
	assert_true(json_is_true(json_object_get(status, "battery_low")));
	assert_string_equal(client_text(client, status, "state"), "listening");
	say(rig, YARD, "440024" "0164" "1500");
	scale = client_notice(client, "scale");
	assert_false(json_is_true(json_object_get(scale, "battery_low")));
	client_close(client);
}

/* ---- encrypted ---- */

static void test_encrypted(void **state)
{
	struct rig *rig = *state;
	struct client *client = begin(rig);

	adopt(rig, client, YARD, "yard", KEY);
	say(rig, YARD, T3); /* anybody could send that */
	expect_newest(rig, "refused|not encrypted, though its key is known");
	(void)rig_log(rig, "its broadcasts are refused");
	say(rig, YARD, T14);
	expect_newest(rig, "refused|doesn't fit the key");
	say(rig, YARD, T12);
	(void)expect_ask(client, 350000);
	say(rig, YARD, T13);
	(void)expect_ask(client, 80300000);
	/* what somebody has recorded */
	say(rig, YARD, T12);
	expect_newest(rig, "refused|its counter isn't above the last one");
	/* also to who has been started anew: T13's counter is in the ledger */
	client = restart(rig, client);
	client_await_scale(client, "yard", "listening");
	say(rig, YARD, T14);
	expect_newest(rig, "refused|doesn't fit the key");
	say(rig, YARD, T12);
	expect_newest(rig, "refused|its counter isn't above the last one");
	say(rig, YARD, T13);
	expect_newest(rig, "repeat|the packet before, again");
	/* a counter above it, and no mass */
	say(rig, YARD, T11);
	(void)client_call(client, "hello", NULL);
	say(rig, YARD, T13);
	expect_newest(rig, "refused|its counter isn't above the last one");
	(void)client_notice(client, "ask"); /* the two that are open */
	(void)client_notice(client, "ask");
	assert_int_equal(client_notices(client, "ask"), 0);
	rig_expect_row(rig, "2", "SELECT count(*) FROM unanswered");
	/* its key anew: whoever has reset the scale says that it may count from the start */
	(void)client_call(client, "scale.key", "{s:s, s:s}", "scale", "yard", "key", KEY);
	say(rig, YARD, T12);
	(void)expect_ask(client, 350000);
	client_close(client);
}

static void test_wrong_key(void **state)
{
	struct rig *rig = *state;
	struct client *client = begin(rig);

	adopt(rig, client, YARD, "yard", OTHER_KEY);
	say(rig, YARD, T12);
	expect_newest(rig, "refused|doesn't fit the key");
	assert_int_equal(client_notices(client, "ask"), 0);
	(void)client_refused(client, "bad-value", "scale.key", "{s:s, s:s}", "scale", "yard", "key", KEY "00");
	(void)client_refused(client, "bad-value", "scale.key", "{s:s, s:s}", "scale", "yard", "key", "");
	(void)client_refused(client, "not-found", "scale.key", "{s:s, s:s}", "scale", "shed", "key", KEY);
	(void)client_call(client, "scale.key", "{s:s, s:s}", "scale", "yard", "key", "231D:39C1 d7cc1ab1aee224cd096db932");
	say(rig, YARD, T13);
	(void)expect_ask(client, 80300000);
	client_close(client);
}

/* A key that can't be read isn't "no key": else a plain broadcast would do. */
static void test_spoilt_key(void **state)
{
	struct rig *rig = *state;
	struct client *client = begin(rig);
	char path[256];
	FILE *file;

	adopt(rig, client, YARD, "yard", KEY);
	(void)client_call(client, "scale.adopt", "{s:s, s:s}", "address", SHED, "name", "shed");
	(void)snprintf(path, sizeof path, "%s/keys/%s", rig->state,
		       rig_row(rig, "SELECT id FROM scale WHERE address = '" YARD "'"));
	file = fopen(path, "we");
	assert_non_null(file);
	assert_int_equal(fclose(file), 0);
	say(rig, YARD, T3);
	expect_newest(rig, "refused|its key can't be read");
	assert_int_equal(client_notices(client, "ask"), 0);
	client_close(client);
}

/* BROADCAST_NOISE: what has no effect can't fill the disk, nor the journal. */
static void test_noise(void **state)
{
	struct rig *rig = *state;
	struct client *client = begin(rig);
	char count[16];

	adopt(rig, client, YARD, "yard", KEY);
	for (int i = 0; i < 2 * BROADCAST_NOISE; i++) {
		(void)rig_sim(rig, "broadcast " YARD " fcd2 41cb2b1402000000%02x000000", (unsigned)i);
		(void)rig_sim(rig, "broadcast " YARD " fcd2 44%02x", (unsigned)i);
	}
	(void)snprintf(count, sizeof count, "%d", BROADCAST_NOISE);
	rig_await_row(rig, count, "SELECT count(*) FROM frame_log WHERE fate = 'refused'");
	say(rig, YARD, T12); /* is heard all the same */
	(void)expect_ask(client, 350000);
	rig_expect_row(rig, count, "SELECT count(*) FROM frame_log WHERE fate = 'refused'");
	client_close(client);
}

/* ---- where the key is, and isn't ---- */

static void expect_mode(const char *path, mode_t mode)
{
	struct stat status;

	assert_return_code(stat(path, &status), 0);
	assert_int_equal(status.st_mode & 07777, mode);
}

static bool has_key(const struct tape_line *line, const void *unused)
{
	(void)unused;
	return strcasestr(line->text, "231d39c1") != NULL;
}

static bool file_has(const char *path, const void *octets, size_t n)
{
	static char all[1 << 22];
	FILE *file = fopen(path, "re");
	size_t size;

	assert_non_null(file);
	size = fread(all, 1, sizeof all, file);
	(void)fclose(file);
	assert_true(size < sizeof all);
	return memmem(all, size, octets, n) != NULL;
}

static void expect_not_in_files(struct rig *rig)
{
	static const unsigned char raw[] = { 0x23, 0x1d, 0x39, 0xc1, 0xd7, 0xcc, 0x1a, 0xb1 };
	DIR *dir = opendir(rig->state);
	unsigned n = 0;

	assert_non_null(dir);
	for (struct dirent *at; (at = readdir(dir));) {
		char path[512];
		if (at->d_type != DT_REG)
			continue;
		(void)snprintf(path, sizeof path, "%s/%s", rig->state, at->d_name);
		assert_false(file_has(path, KEY, 8));
		assert_false(file_has(path, raw, sizeof raw));
		n++;
	}
	(void)closedir(dir);
	assert_true(n > 0);
}

static void expect_not_told(struct client *client, const char *method)
{
	char *text = json_dumps(client_call(client, method, NULL), 0);

	assert_non_null(text);
	assert_null(strcasestr(text, "231d39c1"));
	free(text);
}

static void test_key_is_kept_apart(void **state)
{
	struct rig *rig = *state;
	struct client *client = begin(rig);
	char folder[128], path[256];

	adopt(rig, client, YARD, "yard", KEY);
	(void)snprintf(folder, sizeof folder, "%s/keys", rig->state);
	(void)snprintf(path, sizeof path, "%s/%s", folder, rig_row(rig, "SELECT id FROM scale"));
	expect_mode(folder, 0700);
	expect_mode(path, 0600);
	assert_true(file_has(path, KEY, 32));
	(void)client_call(client, "scale.key", "{s:s, s:s}", "scale", "yard", "key", KEY);
	(void)client_refused(client, "bad-value", "scale.key", "{s:s, s:s}", "scale", "yard", "key", KEY "0");
	say(rig, YARD, T12);
	(void)expect_ask(client, 350000);
	expect_mode(path, 0600);
	expect_not_told(client, "status");
	expect_not_told(client, "asks");
	expect_not_told(client, "hello");
	expect_not_in_files(rig);
	assert_int_equal(tape_count(rig->log, has_key, NULL), 0);
	(void)client_call(client, "scale.forget", "{s:s}", "name", "yard");
	assert_int_equal(access(path, F_OK), -1);
	client_close(client);
}

/* ---- bismar ---- */

static void write_key(struct rig *rig, char *path, size_t size)
{
	FILE *file;

	(void)snprintf(path, size, "%s/key.txt", rig->dir);
	file = fopen(path, "we");
	assert_non_null(file);
	assert_true(fprintf(file, "%s\n", KEY) > 0);
	assert_int_equal(fclose(file), 0);
}

static void test_ctl(void **state)
{
	struct rig *rig = *state;
	struct client *client = begin(rig);
	static struct rig_ran ran;
	char path[128];

	write_key(rig, path, sizeof path);
	(void)rig_sim(rig, "scale " YARD " yard beacon");
	say(rig, YARD, "401501");
	(void)rig_sim(rig, "advertise " YARD " on");
	rig_run_ctl(rig, (const char *const[]){ "scale", "adopt", YARD, "yard", "--key", path, NULL }, &ran);
	assert_int_equal(ran.status, 0);
	assert_null(strcasestr(ran.out, "231d39c1"));
	say(rig, YARD, T12);
	(void)expect_ask(client, 350000);
	/* from standard input, which is no terminal here */
	rig->input = OTHER_KEY "\n";
	rig_run_ctl(rig, (const char *const[]){ "scale", "key", "yard", "-", NULL }, &ran);
	assert_int_equal(ran.status, 0);
	say(rig, YARD, T13);
	expect_newest(rig, "refused|doesn't fit the key");
	rig->input = "12 34\n";
	rig_run_ctl(rig, (const char *const[]){ "scale", "key", "yard", "-", NULL }, &ran);
	assert_int_equal(ran.status, 1);
	assert_non_null(strstr(ran.err, "32 hexadecimal digits"));
	rig->input = "";
	rig_run_ctl(rig, (const char *const[]){ "scale", "key", "yard", "-", NULL }, &ran);
	assert_int_equal(ran.status, 1);
	rig->input = NULL;
	rig_run_ctl(rig, (const char *const[]){ "scale", "key", "yard", "/nowhere", NULL }, &ran);
	assert_int_equal(ran.status, 1);
	assert_non_null(strstr(ran.err, "/nowhere"));
	/* never on the command line, where anybody can see it: it is taken for a file's name */
	rig_run_ctl(rig, (const char *const[]){ "scale", "key", "yard", KEY, NULL }, &ran);
	assert_int_equal(ran.status, 1);
	assert_null(strstr(ran.err, KEY));
	/* again, plain: what is heard of it */
	(void)client_call(client, "scale.forget", "{s:s}", "name", "yard");
	while (client_look(client, "scale"))
		continue;
	rig_run_ctl(rig, (const char *const[]){ "scale", "adopt", YARD, "yard", NULL }, &ran);
	(void)client_notice_of(client, "scale", "state", "listening");
	say(rig, YARD, "44000a1501062300");
	(void)expect_ask(client, 350000);
	rig_run_ctl(rig, (const char *const[]){ "status", NULL }, &ran);
	assert_non_null(strstr(ran.out, "yard (" YARD "): listening, battery low"));
	client_close(client);
}

/* ---- buttons ---- */

/* Two that differ, so that there is a first suggestion. */
static struct client *with_masses(struct rig *rig)
{
	struct client *client = begin(rig);

	(void)client_call(client, "weigh", "{s:s, s:i}", "animal", "Ash", "mass_g", 350);
	(void)client_call(client, "weigh", "{s:s, s:i}", "animal", "Birch", "mass_g", 450);
	(void)client_notice(client, "recorded");
	(void)client_notice(client, "recorded");
	return client;
}

static const char *first_of(struct client *client, const json_t *ask)
{
	return client_text(client, json_array_get(json_object_get(ask, "candidates"), 0), "name");
}

static void test_press(void **state)
{
	struct rig *rig = *state;
	struct client *client = with_masses(rig);
	const json_t *older, *newer, *recorded, *withdrawn;

	adopt(rig, client, YARD, "yard", NULL);
	say(rig, YARD, "4400083a01"); /* no question: nothing */
	expect_newest(rig, "used|its button was pressed, and no question was open");
	say(rig, YARD, T3);
	older = expect_ask(client, 350000);
	say(rig, YARD, T4); /* the press that weighed */
	newer = expect_ask(client, 450000);
	assert_int_equal(client_notices(client, "recorded"), 0);
	/* what could be meant by accident */
	say(rig, YARD, "44000b3a00");
	say(rig, YARD, "44000c3a03");
	say(rig, YARD, "44000d3a04");
	say(rig, YARD, "44000e3a80");
	assert_int_equal(client_notices(client, "recorded"), 0);
	say(rig, YARD, "44000f3a01");
	recorded = client_notice(client, "recorded");
	assert_string_equal(client_text(client, recorded, "ask"), client_text(client, newer, "ask"));
	assert_string_equal(client_text(client, recorded, "name"), first_of(client, newer));
	assert_string_equal(client_text(client, recorded, "by"), "button");
	expect_newest(rig, "used|its button answered a question");
	/* the packet again is no other press */
	say(rig, YARD, "44000f0163" "3a01");
	expect_newest(rig, "repeat|the packet before, again");
	say(rig, YARD, "4400103a02"); /* twice: none of them */
	withdrawn = client_notice(client, "withdraw");
	assert_string_equal(client_text(client, withdrawn, "ask"), client_text(client, older, "ask"));
	say(rig, YARD, "440011062400");
	newer = expect_ask(client, 360000);
	say(rig, YARD, "4400123a003a01"); /* the second button */
	withdrawn = client_notice(client, "withdraw");
	assert_string_equal(client_text(client, withdrawn, "ask"), client_text(client, newer, "ask"));
	rig_expect_row(rig, "0", "SELECT count(*) FROM unanswered");
	rig_expect_row(rig, "button", "SELECT answered_by FROM reading WHERE origin = 'radio'");
	assert_int_equal(client_notices(client, "recorded"), 0);
	client_close(client);
}

/* Nobody in the list: the question stays. */
static void test_press_without_suggestion(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);

	(void)client_call(client, "follow", "{s:[s, s, s]}", "topics", "ask", "recorded", "scale");
	adopt(rig, client, YARD, "yard", NULL);
	say(rig, YARD, T3);
	(void)expect_ask(client, 350000);
	say(rig, YARD, "44000a3a01");
	(void)rig_log(rig, "nothing is suggested");
	rig_expect_row(rig, "1", "SELECT count(*) FROM unanswered");
	client_close(client);
}

static void test_whose_button(void **state)
{
	struct rig *rig = *state;
	struct client *client = with_masses(rig);
	const json_t *yard, *shed, *recorded;

	adopt(rig, client, YARD, "yard", NULL);
	adopt(rig, client, SHED, "shed", NULL);
	adopt(rig, client, REMOTE, "remote", NULL);
	say(rig, YARD, T3);
	yard = expect_ask(client, 350000);
	say(rig, SHED, "440001062d00");
	shed = expect_ask(client, 450000);
	/* a scale's own button, though its question isn't the newest; also to who has been started anew */
	client = restart(rig, client);
	(void)expect_ask(client, 350000);
	(void)expect_ask(client, 450000);
	client_await_scale(client, "yard", "listening");
	client_await_scale(client, "shed", "listening");
	client_await_scale(client, "remote", "listening");
	say(rig, YARD, "44000a3a01");
	recorded = client_notice(client, "recorded");
	assert_string_equal(client_text(client, recorded, "ask"), client_text(client, yard, "ask"));
	say(rig, YARD, "44000b3a01"); /* none of its own is open any more */
	(void)client_call(client, "hello", NULL);
	assert_int_equal(client_notices(client, "recorded"), 0);
	/* one that never weighs answers for any */
	say(rig, REMOTE, "4400013a01");
	recorded = client_notice(client, "recorded");
	assert_string_equal(client_text(client, recorded, "ask"), client_text(client, shed, "ask"));
	client_close(client);
}

/* A press that found no question mustn't answer a later one when BlueZ shows it again. */
static void test_press_and_restart(void **state)
{
	struct rig *rig = *state;
	struct client *client = with_masses(rig);

	adopt(rig, client, YARD, "yard", NULL);
	adopt(rig, client, REMOTE, "remote", NULL);
	say(rig, REMOTE, "4400013a01");
	expect_newest(rig, "used|its button was pressed, and no question was open");
	say(rig, YARD, T3);
	(void)expect_ask(client, 350000);
	client = restart(rig, client);
	(void)expect_ask(client, 350000);
	client_await_scale(client, "remote", "listening");
	client_await_scale(client, "yard", "listening");
	assert_int_equal(client_notices(client, "recorded"), 0);
	rig_expect_row(rig, "1", "SELECT count(*) FROM unanswered");
	say(rig, REMOTE, "4400023a01");
	(void)client_notice(client, "recorded");
	client_close(client);
}

/* Without a number one press may come several times, and means one question. */
static void test_press_sent_again(void **state)
{
	struct rig *rig = *state;
	struct client *client = with_masses(rig);

	adopt(rig, client, YARD, "yard", NULL);
	adopt(rig, client, REMOTE, "remote", NULL);
	say(rig, YARD, T3);
	(void)expect_ask(client, 350000);
	say(rig, YARD, T4);
	(void)expect_ask(client, 450000);
	say(rig, REMOTE, "4401613a01");
	(void)client_notice(client, "recorded");
	say(rig, REMOTE, "4401603a01");
	(void)rig_sim(rig, "pause 50");
	assert_int_equal(client_notices(client, "recorded"), 0);
	rig_expect_row(rig, "1", "SELECT count(*) FROM unanswered");
	client_close(client);
}

#define CASE(name) cmocka_unit_test_setup_teardown(name, rig_setup, rig_teardown)

int main(int argc, char **argv)
{
	const struct CMUnitTest tests[] = {
		CASE(test_trigger),
		CASE(test_no_number),
		CASE(test_interval),
		CASE(test_odd),
		CASE(test_restart),
		CASE(test_battery),
		CASE(test_encrypted),
		CASE(test_wrong_key),
		CASE(test_spoilt_key),
		CASE(test_noise),
		CASE(test_key_is_kept_apart),
		CASE(test_ctl),
		CASE(test_press),
		CASE(test_press_without_suggestion),
		CASE(test_whose_button),
		CASE(test_press_and_restart),
		CASE(test_press_sent_again),
	};

	rig_programs(argc, argv);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
