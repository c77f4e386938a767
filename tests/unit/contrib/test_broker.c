// SPDX-License-Identifier: MIT
/* The pure parts of bismar-broker. Topics: MQTT 3.1.1 (OASIS Standard), 1.5.3 and 4.7; the messages:
 * contrib/broker/MESSAGES.md. */
#include "contrib/broker/again.h"
#include "contrib/broker/message.h"
#include "contrib/broker/name.h"
#include "contrib/broker/pace.h"
#include "contrib/broker/position.h"
#include <errno.h>
#include <fcntl.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include <cmocka.h>

/* ---- names ---- */

static void names(void **state)
{
	static const char *const good[] = { "shed", "Haus 3", "\xc3\xa9table", "a.b-c_d", "\xe7\x8a\xac\xe8\x88\x8e" };
	/* 1.5.3-2: no U+0000, and no control character; non-characters; 4.7.1: + and # stand for others; 4.7.2: $ */
	static const char *const bad[] = { "",
					   "a+b",
					   "#",
					   "a/b",
					   "$SYS",
					   "a\nb",
					   "\x7f",
					   "\xc2\x80",
					   "\xff",
					   "\xed\xa0\x80",
					   "\xef\xbf\xbe",
					   "\xf0\x9f\xbf\xbf",
					   "\xef\xb7\x90",
					   " a",
					   "a " };
	char text[NAME_BRIDGE_BYTES + 2] = "";

	(void)state;
	for (size_t i = 0; i < sizeof good / sizeof *good; i++)
		assert_null(name_bridge_wrong(good[i]));
	for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
		assert_non_null(name_bridge_wrong(bad[i]));
	memset(text, 'x', NAME_BRIDGE_BYTES);
	assert_null(name_bridge_wrong(text));
	text[NAME_BRIDGE_BYTES] = 'x';
	assert_non_null(name_bridge_wrong(text));
	assert_null(name_base_wrong("kennel/weights"));
	assert_non_null(name_base_wrong("kennel//weights"));
	assert_non_null(name_base_wrong("/kennel"));
	assert_non_null(name_base_wrong("kennel/"));
	assert_non_null(name_base_wrong("kennel/#"));
}

static void topics(void **state)
{
	char topic[NAME_SIZE], one[NAME_CLIENT_SIZE], other[NAME_CLIENT_SIZE];

	(void)state;
	assert_string_equal(name_topic("bismar", "shed", NAME_READING, topic), "bismar/shed/reading");
	assert_string_equal(name_topic("a/b", "shed", NAME_CONCERN, topic), "a/b/shed/concern");
	assert_string_equal(name_topic("bismar", "shed", NAME_STATE, topic), "bismar/shed/state");
	assert_string_equal(name_topic("bismar", "shed", NAME_AGAIN, topic), "bismar/shed/again");
	/* 3.1.3.1: 1 to 23 octets of 0-9a-zA-Z must be allowed */
	assert_true(strlen(name_client("bismar", "shed", one)) <= 23);
	assert_int_equal(strspn(one, "0123456789abcdefghijklmnopqrstuvwxyz"), strlen(one));
	assert_string_equal(name_client("bismar", "shed", other), one);
	assert_string_not_equal(name_client("bismar", "barn", other), one);
	assert_string_not_equal(name_client("bismars", "hed", other), one);
}

/* ---- the window ---- */

static struct window_entry pop(struct window *window)
{
	struct window_entry entry = { .seq = -1 };

	(void)window_pop(window, &entry);
	return entry;
}

static void window_in_order(void **state)
{
	struct window window = { 0 };

	(void)state;
	for (int turn = 0; turn < 3; turn++) { /* the ring goes round */
		for (int i = 0; i < WINDOW_MAX; i++)
			window_put(&window, 1000 + i, LOG_READING, i + 1, "id");
		assert_int_equal(window_room(&window), 0);
		assert_false(window_ack(&window, 999));
		assert_true(window_ack(&window, 1001));
		assert_int_equal(pop(&window).seq, -1); /* the first isn't taken */
		assert_true(window_ack(&window, 1000));
		assert_false(window_ack(&window, 1000)); /* twice */
		assert_int_equal(pop(&window).seq, 1);
		assert_int_equal(pop(&window).seq, 2);
		assert_int_equal(pop(&window).seq, -1);
		for (int i = WINDOW_MAX - 1; i > 1; i--)
			assert_true(window_ack(&window, 1000 + i));
		for (int i = 2; i < WINDOW_MAX; i++)
			assert_int_equal(pop(&window).seq, i + 1);
		assert_int_equal(window_room(&window), WINDOW_MAX);
	}
}

static void window_lost_goes_on_at_the_oldest(void **state)
{
	struct window window = { 0 };
	struct lane lanes[LOG_KINDS];

	(void)state;
	lane_begin(&lanes[LOG_READING], 10, "ten");
	lane_begin(&lanes[LOG_CONCERN], 0, "");
	for (int i = 11; i <= 20; i++) {
		window_put(&window, i, LOG_READING, i, "id");
		lane_sent(&lanes[LOG_READING], i);
	}
	window_put(&window, 99, LOG_NONE, 0, "");
	window_put(&window, 50, LOG_CONCERN, 1, "id");
	lane_sent(&lanes[LOG_CONCERN], 1);
	assert_true(window_ack(&window, 15)); /* out of order: no help */
	window_lost(&window, lanes);
	assert_int_equal(window_room(&window), WINDOW_MAX);
	assert_int_equal(lanes[LOG_READING].cursor, 10);
	assert_int_equal(lanes[LOG_CONCERN].cursor, 0);
	window_lost(&window, lanes); /* nothing is in flight: nothing changes */
	assert_int_equal(lanes[LOG_READING].cursor, 10);
}

static void lane_positions(void **state)
{
	struct lane lane;

	(void)state;
	lane_begin(&lane, 5, "five");
	assert_false(lane_repeats(&lane));
	lane_sent(&lane, 6);
	lane_sent(&lane, 7);
	assert_true(lane_acked(&lane, 6, "six"));
	assert_string_equal(lane.id, "six");
	lane_back(&lane, 3); /* asked for */
	assert_int_equal(lane.cursor, 2);
	assert_true(lane_repeats(&lane));
	assert_false(lane_acked(&lane, 3, "three")); /* an old one is no position */
	assert_int_equal(lane.acked, 6);
	lane_sent(&lane, 7);
	assert_false(lane_repeats(&lane));
	lane_back(&lane, 100); /* beyond the end */
	assert_int_equal(lane.cursor, 7);
}

static void window_forgets_another_ledger(void **state)
{
	struct window window = { 0 };
	struct window_entry entry;

	(void)state;
	window_put(&window, 1, LOG_READING, 7, "id");
	window_put(&window, 2, LOG_CONCERN, 8, "id");
	window_forget(&window, LOG_READING);
	assert_true(window_ack(&window, 1));
	assert_true(window_ack(&window, 2));
	assert_true(window_pop(&window, &entry));
	assert_int_equal(entry.log, LOG_NONE);
	assert_true(window_pop(&window, &entry));
	assert_int_equal(entry.log, LOG_CONCERN);
}

/* ---- again ---- */

static int wish(const char *text, int64_t from[LOG_KINDS])
{
	from[LOG_READING] = from[LOG_CONCERN] = -7;
	return again_read(text, strlen(text), from);
}

static void again_is_read(void **state)
{
	static const char *const bad[] = { "",
					   "{",
					   "{}",
					   "[]",
					   "17",
					   "null",
					   "{\"reading\":0}",
					   "{\"reading\":-1}",
					   "{\"reading\":1.0}",
					   "{\"reading\":\"1\"}",
					   "{\"reading\":true}",
					   "{\"reading\":null}",
					   "{\"reading\":9223372036854775808}",
					   "{\"reading\":1,\"reading\":2}",
					   "{\"reading\":1,\"concern\":0}",
					   "{\"other\":1}",
					   "{\"reading\":1}x",
					   "{\"reading\":1,\"x\":\"\xff\"}" };
	int64_t from[LOG_KINDS];
	char big[AGAIN_BYTES + 64];

	(void)state;
	assert_int_equal(wish("{\"reading\": 17}", from), 0);
	assert_int_equal(from[LOG_READING], 17);
	assert_int_equal(from[LOG_CONCERN], 0);
	assert_int_equal(wish("{\"concern\":3,\"reading\":9223372036854775807,\"later\":[]}", from), 0);
	assert_true(from[LOG_READING] == INT64_MAX && from[LOG_CONCERN] == 3);
	for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
		assert_int_equal(wish(bad[i], from), -EINVAL);
		assert_int_equal(from[LOG_READING], -7); /* untouched */
	}
	for (size_t n = 0; n < strlen("{\"reading\":17}"); n++) /* cut at every length */
		assert_int_equal(again_read("{\"reading\":17}", n, from), -EINVAL);
	memset(big, ' ', sizeof big);
	memcpy(big, "{\"reading\":1", 12);
	big[AGAIN_BYTES - 1] = '}';
	assert_int_equal(again_read(big, AGAIN_BYTES, from), 0);
	big[AGAIN_BYTES - 1] = ' ';
	big[AGAIN_BYTES] = '}';
	assert_int_equal(again_read(big, AGAIN_BYTES + 1, from), -EINVAL);
}

static void again_is_followed(void **state)
{
	struct again again = { 0 };
	struct lane lanes[LOG_KINDS];
	static const int64_t forty[LOG_KINDS] = { 40, 0 }, fifty[LOG_KINDS] = { 50, 2 }, beyond[LOG_KINDS] = { 101, 0 },
			     sixty[LOG_KINDS] = { 60, 0 }, thirty[LOG_KINDS] = { 30, 0 };

	(void)state;
	lane_begin(&lanes[LOG_READING], 100, "id");
	lane_begin(&lanes[LOG_CONCERN], 5, "id");
	assert_false(again_follow(&again, 0, lanes));
	again_wish(&again, beyond, lanes);
	assert_false(again_waits(&again)); /* that comes anyhow */
	again_wish(&again, fifty, lanes);
	again_wish(&again, forty, lanes);
	assert_true(again_follow(&again, 0, lanes));
	assert_int_equal(lanes[LOG_READING].cursor, 39);
	assert_int_equal(lanes[LOG_CONCERN].cursor, 1);
	lane_sent(&lanes[LOG_CONCERN], 5);
	again_wish(&again, sixty, lanes); /* that is still to come */
	assert_false(again_waits(&again));
	again_wish(&again, thirty, lanes);
	assert_false(again_follow(&again, AGAIN_EVERY_MS, lanes)); /* the one before isn't done */
	lane_sent(&lanes[LOG_READING], 100);
	assert_false(again_follow(&again, AGAIN_EVERY_MS - 1, lanes)); /* too soon */
	assert_true(again_follow(&again, AGAIN_EVERY_MS, lanes));
	assert_int_equal(lanes[LOG_READING].cursor, 29);
	assert_int_equal(lanes[LOG_CONCERN].cursor, 5);
	assert_false(again_waits(&again));
}

static void again_is_refused(void **state)
{
	struct again again = { 0 };

	(void)state;
	assert_int_equal(again_refuse(&again, 0), 1);
	for (int i = 0; i < 999; i++)
		assert_int_equal(again_refuse(&again, AGAIN_EVERY_MS - 1), 0);
	assert_int_equal(again_refuse(&again, AGAIN_EVERY_MS), 1000);
}

/* ---- pace ---- */

static void paced(void **state)
{
	struct pace pace;
	size_t sent = 0;

	(void)state;
	pace_init(&pace, 100, 5000);
	for (int64_t ms = 5000; ms <= 15000; ms += 7)
		for (size_t n = pace_most(&pace, ms); n > 0; n--, sent++)
			pace_take(&pace);
	assert_in_range(sent, 1015, 1020);                        /* ten seconds' and a fifth of one in hand */
	assert_int_equal(pace_most(&pace, INT64_C(1) << 40), 20); /* a pause saves no more */
	pace_init(&pace, 0, 0);
	for (int i = 0; i < 1000; i++)
		pace_take(&pace);
	assert_true(pace_most(&pace, 0) == SIZE_MAX);
	pace_init(&pace, 1, 0);
	assert_int_equal(pace_most(&pace, 0), 1);
	pace_take(&pace);
	assert_int_equal(pace_most(&pace, 999), 0);
	assert_int_equal(pace_most(&pace, 1000), 1);
}

/* ---- the position ---- */

static const char to[] = "127.0.0.1:1883/bismar/shed";

static void folder(char dir[64])
{
	(void)snprintf(dir, 64, "/tmp/bismar-position-XXXXXX");
	assert_non_null(mkdtemp(dir));
}

static void empty(const char *dir, int fd)
{
	(void)unlinkat(fd, POSITION_FILE, 0); /* some tests have none */
	(void)unlinkat(fd, POSITION_FILE ".new", 0);
	assert_int_equal(close(fd), 0);
	assert_int_equal(rmdir(dir), 0);
}

static void put(int fd, const char *octets, size_t n)
{
	int file = openat(fd, POSITION_FILE, O_WRONLY | O_CREAT | O_TRUNC, 0600);

	assert_true(file >= 0);
	assert_int_equal(write(file, octets, n), n);
	assert_int_equal(close(file), 0);
}

static void position_is_kept(void **state)
{
	const struct position written = { { 42, 3 }, { "019abc65-3f10-7cc2-9c1e-5b2f0d3e7a1c", "c" } }, none = { 0 };
	struct position found = { 0 };
	struct stat status;
	char dir[64];
	int fd, second;

	(void)state;
	folder(dir);
	assert_int_equal(position_open(dir, &fd), 0);
	assert_int_equal(position_open(dir, &second), -EAGAIN); /* one of us alone */
	assert_int_equal(position_load(fd, to, &found), POSITION_NONE);
	assert_int_equal(position_save(fd, to, &written), 0);
	assert_int_equal(position_load(fd, to, &found), POSITION_FOUND);
	assert_memory_equal(&found.seq, &written.seq, sizeof found.seq);
	assert_string_equal(found.id[LOG_READING], written.id[LOG_READING]);
	assert_string_equal(found.id[LOG_CONCERN], "c");
	assert_int_equal(fstatat(fd, POSITION_FILE, &status, 0), 0);
	assert_int_equal(status.st_mode & 0777, 0600);
	assert_int_equal(faccessat(fd, POSITION_FILE ".new", F_OK, 0), -1);
	found = none;
	assert_int_equal(position_load(fd, "127.0.0.1:1884/bismar/shed", &found), POSITION_OTHER);
	assert_memory_equal(&found, &none, sizeof found);
	assert_int_equal(position_save(fd, to, &none), 0);
	assert_int_equal(position_load(fd, to, &found), POSITION_FOUND);
	assert_int_equal(found.seq[LOG_READING], 0);
	empty(dir, fd);
}

static void position_cut_and_foreign(void **state)
{
	static const char *const foreign[] = {
		"{}",
		"[1]",
		"{\"to\":1}",
		"{\"to\":\"x\",\"reading\":{\"seq\":1,\"id\":\"a\"}}",
		"{\"to\":\"127.0.0.1:1883/bismar/shed\",\"reading\":{\"seq\":-1,\"id\":\"a\"},"
		"\"concern\":{\"seq\":0,\"id\":\"\"}}",
		"{\"to\":\"127.0.0.1:1883/bismar/shed\",\"reading\":{\"seq\":1,\"id\":\"\"},"
		"\"concern\":{\"seq\":0,\"id\":\"\"}}"
	};
	const struct position written = { { 42, 0 }, { "a", "" } };
	struct position found = { 0 };
	json_t *object = position_pack(&written, to);
	char *text = json_dumps(object, JSON_COMPACT), dir[64];
	int fd;

	(void)state;
	folder(dir);
	assert_int_equal(position_open(dir, &fd), 0);
	for (size_t n = 0; n < strlen(text); n++) {
		put(fd, text, n);
		assert_int_equal(position_load(fd, to, &found), POSITION_BROKEN);
	}
	for (size_t i = 0; i < sizeof foreign / sizeof *foreign; i++) {
		put(fd, foreign[i], strlen(foreign[i]));
		assert_int_equal(position_load(fd, to, &found), POSITION_BROKEN);
	}
	put(fd, text, strlen(text));
	assert_int_equal(position_load(fd, to, &found), POSITION_FOUND);
	free(text);
	json_decref(object);
	empty(dir, fd);
}

static void position_where_it_cannot_be(void **state)
{
	const struct position position = { 0 };
	struct position found = { 0 };
	char dir[64];
	int fd;

	(void)state;
	assert_int_equal(position_open("/proc/nowhere/x", &fd), -ENOENT);
	assert_int_equal(position_open("/dev/null", &fd), -ENOTDIR);
	folder(dir);
	assert_int_equal(position_open(dir, &fd), 0);
	assert_int_equal(symlinkat("/dev/full", fd, POSITION_FILE ".new"), 0); /* a link isn't followed */
	assert_int_equal(position_save(fd, to, &position), -ELOOP);
	assert_int_equal(position_load(fd, to, &found), POSITION_NONE);
	empty(dir, fd);
}

/* ---- messages ---- */

static void message_of_a_row(void **state)
{
	json_t *row = json_pack("{s:i, s:s, s:s, s:f, s:f, s:n, s:I}", "seq", 7, "id", "one", "animal",
				"\"M\xc3\xb6hre\"\n\x01", "net_g", 304.123, "u_g", 0.41, "collar", "at_ms",
				(json_int_t)INT64_C(1795705177000));
	char *text;
	size_t n;

	(void)state;
	assert_int_equal(message_row(row, "she\"d", &text, &n), 0);
	/* RFC 8259, 7: quotation mark and control characters are escaped */
	assert_string_equal(
		text, "{\"id\":\"one\",\"bridge\":\"she\\\"d\",\"seq\":7,\"animal\":\"\\\"M\xc3\xb6hre\\\"\\n\\u0001\","
		      "\"net_g\":304.123,\"u_g\":0.41,\"collar\":null,\"at_ms\":1795705177000}");
	assert_int_equal(n, strlen(text));
	free(text);
	json_decref(row);
}

static void message_is_cut(void **state)
{
	json_t *row = json_pack("{s:s}", "id", "one"), *parsed;
	char many[2001], *text;
	size_t n;

	(void)state;
	for (size_t i = 0; i < 2000; i += 2)
		memcpy(many + i, "\xc3\xa9", 3);
	assert_int_equal(json_object_set_new(row, "text", json_string(many)), 0);
	assert_int_equal(message_row(row, "shed", &text, &n), 0);
	parsed = json_loadb(text, n, 0, NULL); /* and so it is well-formed */
	assert_int_equal(json_string_length(json_object_get(parsed, "text")), MESSAGE_TEXT_BYTES);
	json_decref(parsed);
	free(text);
	memset(many, 1, 2000); /* six octets each */
	for (int i = 0; i < 30; i++) {
		char key[16];
		(void)snprintf(key, sizeof key, "k%d", i);
		assert_int_equal(json_object_set_new(row, key, json_string(many)), 0);
	}
	assert_int_equal(message_row(row, "shed", &text, &n), -EMSGSIZE);
	json_decref(row);
}

static void message_of_the_state(void **state)
{
	static const int64_t seq[LOG_KINDS] = { 17, 3 };
	char text[MESSAGE_STATE_SIZE], longest[NAME_BRIDGE_BYTES + 1];
	size_t n = message_state("shed", seq, text);

	(void)state;
	assert_int_equal(n, strlen("{\"state\":\"here\",\"bridge\":\"shed\",\"reading\":17,\"concern\":3}"));
	assert_memory_equal(text, "{\"state\":\"here\",\"bridge\":\"shed\",\"reading\":17,\"concern\":3}", n);
	n = message_state("shed", NULL, text);
	assert_memory_equal(text, "{\"state\":\"gone\",\"bridge\":\"shed\"}", n);
	memset(longest, '"', NAME_BRIDGE_BYTES);
	longest[NAME_BRIDGE_BYTES] = '\0';
	assert_true(message_state(longest, seq, text) < sizeof text);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(names),
		cmocka_unit_test(topics),
		cmocka_unit_test(window_in_order),
		cmocka_unit_test(window_lost_goes_on_at_the_oldest),
		cmocka_unit_test(lane_positions),
		cmocka_unit_test(window_forgets_another_ledger),
		cmocka_unit_test(again_is_read),
		cmocka_unit_test(again_is_followed),
		cmocka_unit_test(again_is_refused),
		cmocka_unit_test(paced),
		cmocka_unit_test(position_is_kept),
		cmocka_unit_test(position_cut_and_foreign),
		cmocka_unit_test(position_where_it_cannot_be),
		cmocka_unit_test(message_of_a_row),
		cmocka_unit_test(message_is_cut),
		cmocka_unit_test(message_of_the_state),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
