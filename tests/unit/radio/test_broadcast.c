// SPDX-License-Identifier: MIT
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
#include <stdio.h>
#include <string.h>
#include "daemon/limits.h"
#include "daemon/radio/broadcast.h"

#define S UINT64_C(1000000)

/* ---- properties made by hand ---- */

struct property {
	DBusMessage *message;
	DBusMessageIter at, dict;
};

static void open_property(struct property *property, const char *signature)
{
	property->message = dbus_message_new_signal("/x", "x.y", "Z");
	assert_non_null(property->message);
	dbus_message_iter_init_append(property->message, &property->at);
	dbus_message_iter_open_container(&property->at, DBUS_TYPE_ARRAY, signature, &property->dict);
}

static void put(struct property *property, int key_type, const void *key, const char *signature, const void *octets,
		int n)
{
	DBusMessageIter entry, variant, array;

	dbus_message_iter_open_container(&property->dict, DBUS_TYPE_DICT_ENTRY, NULL, &entry);
	dbus_message_iter_append_basic(&entry, key_type, key);
	dbus_message_iter_open_container(&entry, DBUS_TYPE_VARIANT, signature, &variant);
	if (signature[0] == 'a') {
		dbus_message_iter_open_container(&variant, DBUS_TYPE_ARRAY, signature + 1, &array);
		dbus_message_iter_append_fixed_array(&array, signature[1], &octets, n);
		dbus_message_iter_close_container(&variant, &array);
	} else {
		dbus_message_iter_append_basic(&variant, signature[0], octets);
	}
	dbus_message_iter_close_container(&entry, &variant);
	dbus_message_iter_close_container(&property->dict, &entry);
}

static void put_service(struct property *property, const char *uuid, const void *octets, int n)
{
	put(property, DBUS_TYPE_STRING, &uuid, "ay", octets, n);
}

static bool enter(struct property *property, const char *key, struct broadcast_walk *ret)
{
	DBusMessageIter value;

	dbus_message_iter_close_container(&property->at, &property->dict);
	assert_true(dbus_message_iter_init(property->message, &value));
	return broadcast_enter(key, &value, ret);
}

static void test_service_data(void **state)
{
	/* published example of the format: 80.3 kg (bthome.io/format; facts, 8.4, T1) */
	static const uint8_t octets[] = { 0x40, 0x06, 0x5e, 0x1f };
	static const uint8_t long_ones[LIMIT_FRAME_BYTES + 1];
	static const int32_t number = 7;
	const char *text = "0000FCD2-0000-1000-8000-00805F9B34FB";
	struct property property;
	struct broadcast_walk walk;
	struct broadcast_part part;

	(void)state;
	open_property(&property, "{sv}");
	put_service(&property, "fcd2", octets, 4); /* no UUID of BlueZ's */
	put(&property, DBUS_TYPE_STRING, &text, "i", &number, 0);
	put_service(&property, text, octets, 4);
	put_service(&property, text, long_ones, LIMIT_FRAME_BYTES);
	put_service(&property, text, long_ones, LIMIT_FRAME_BYTES + 1);
	put_service(&property, text, octets, 0);
	assert_true(enter(&property, "ServiceData", &walk));
	assert_true(broadcast_next(&walk, &part));
	assert_int_equal(part.kind, RADIO_SERVICE_DATA);
	assert_string_equal(part.uuid, BROADCAST_BTHOME);
	assert_int_equal(part.n, 4);
	assert_memory_equal(part.octets, octets, 4);
	assert_true(broadcast_next(&walk, &part));
	assert_int_equal(part.n, LIMIT_FRAME_BYTES);
	assert_true(broadcast_next(&walk, &part));
	assert_int_equal(part.n, 0);
	assert_false(broadcast_next(&walk, &part));
	dbus_message_unref(property.message);
}

static void test_manufacturer_data(void **state)
{
	static const uint8_t octets[] = { 1, 2, 3 };
	static const uint16_t company = 0x04d2;
	static const uint32_t wide = 7;
	struct property property;
	struct broadcast_walk walk;
	struct broadcast_part part;

	(void)state;
	open_property(&property, "{qv}");
	put(&property, DBUS_TYPE_UINT16, &company, "ay", octets, 3);
	assert_true(enter(&property, "ManufacturerData", &walk));
	assert_true(broadcast_next(&walk, &part));
	assert_int_equal(part.kind, RADIO_MANUFACTURER);
	assert_string_equal(part.uuid, "0x04d2");
	assert_int_equal(part.n, 3);
	assert_false(broadcast_next(&walk, &part));
	dbus_message_unref(property.message);
	/* the other's keys */
	open_property(&property, "{qv}");
	put(&property, DBUS_TYPE_UINT16, &company, "ay", octets, 3);
	assert_true(enter(&property, "ServiceData", &walk));
	assert_false(broadcast_next(&walk, &part));
	dbus_message_unref(property.message);
	open_property(&property, "{uv}");
	put(&property, DBUS_TYPE_UINT32, &wide, "ay", octets, 3);
	assert_true(enter(&property, "ManufacturerData", &walk));
	assert_false(broadcast_next(&walk, &part));
	dbus_message_unref(property.message);
	/* another property; an empty one; no dictionary */
	walk.kind = RADIO_VALUE;
	open_property(&property, "{sv}");
	assert_false(enter(&property, "RSSI", &walk));
	assert_int_equal(walk.kind, RADIO_VALUE); /* untouched */
	dbus_message_unref(property.message);
	open_property(&property, "{sv}");
	assert_true(enter(&property, "ServiceData", &walk));
	assert_false(broadcast_next(&walk, &part));
	dbus_message_unref(property.message);
	open_property(&property, "s");
	assert_false(enter(&property, "ServiceData", &walk));
	dbus_message_unref(property.message);
}

static bool wants_company(void *userdata, enum radio_kind kind, const char *uuid)
{
	return kind == RADIO_MANUFACTURER && strcmp(uuid, userdata) == 0;
}

static struct broadcast_part part_of(enum radio_kind kind, const char *uuid, const void *octets, size_t n)
{
	struct broadcast_part part = { .kind = kind, .octets = octets, .n = n };

	(void)snprintf(part.uuid, sizeof part.uuid, "%s", uuid);
	return part;
}

static void test_wanted(void **state)
{
	const struct radio_ops none = { 0 }, ops = { .wanted = wants_company };
	struct broadcast_part bthome = part_of(RADIO_SERVICE_DATA, BROADCAST_BTHOME, "", 0),
			      company = part_of(RADIO_MANUFACTURER, "0x04d2", "", 0),
			      other = part_of(RADIO_MANUFACTURER, "0x04d3", "", 0);

	(void)state;
	assert_true(broadcast_wanted(&none, NULL, &bthome));
	assert_false(broadcast_wanted(&none, NULL, &company));
	assert_true(broadcast_wanted(&ops, "0x04d2", &company));
	assert_false(broadcast_wanted(&ops, "0x04d2", &other));
}

static void test_memory(void **state)
{
	static struct broadcast_memory memory;
	static const uint8_t long_ones[BROADCAST_KEPT_BYTES + 1];
	struct broadcast_part a = part_of(RADIO_SERVICE_DATA, BROADCAST_BTHOME, "ab", 2), b = a, c = a, part;
	char uuid[8];

	(void)state;
	b.octets = (const uint8_t *)"ac";
	c.n = 1;
	assert_false(broadcast_known(&memory, &a));
	broadcast_keep(&memory, &a);
	assert_true(broadcast_known(&memory, &a));
	assert_false(broadcast_known(&memory, &b));
	assert_false(broadcast_known(&memory, &c));
	a.kind = RADIO_MANUFACTURER;
	assert_false(broadcast_known(&memory, &a));
	broadcast_keep(&memory, &b);
	assert_true(broadcast_known(&memory, &b));
	assert_int_equal(memory.n, 1);
	/* the oldest of too many is forgotten; what is too long isn't kept */
	for (unsigned i = 0; i < BROADCAST_KEPT; i++) {
		(void)snprintf(uuid, sizeof uuid, "0x%04x", i);
		part = part_of(RADIO_MANUFACTURER, uuid, long_ones, BROADCAST_KEPT_BYTES);
		broadcast_keep(&memory, &part);
		assert_true(broadcast_known(&memory, &part));
	}
	assert_int_equal(memory.n, BROADCAST_KEPT);
	assert_false(broadcast_known(&memory, &b));
	part.n++;
	broadcast_keep(&memory, &part);
	assert_false(broadcast_known(&memory, &part));
	part.n--;
	assert_true(broadcast_known(&memory, &part));
	/* another object: soon after, or after a gap */
	broadcast_meet(&memory, 1000 * S, 1000 * S + BROADCAST_AGAIN_US - 1);
	assert_true(broadcast_known(&memory, &part));
	broadcast_meet(&memory, 1000 * S, 1000 * S + BROADCAST_AGAIN_US);
	assert_false(broadcast_known(&memory, &part));
}

/* n evenly in a second from second_s on; returns how many were taken, and how often that changed in *ret_news. */
static unsigned second(struct broadcast_rate *rate, unsigned second_s, unsigned n, unsigned *ret_news)
{
	unsigned taken = 0;

	*ret_news = 0;
	for (unsigned i = 0; i < n; i++)
		switch (broadcast_count(rate, (1000 + second_s) * S + i * S / n)) {
		case BROADCAST_TAKE_AGAIN:
			++*ret_news;
			taken++;
			break;
		case BROADCAST_TAKE:
			taken++;
			break;
		case BROADCAST_DROP_FIRST:
			++*ret_news;
			break;
		case BROADCAST_DROP:
			break;
		}
	return taken;
}

static void test_rate(void **state)
{
	struct broadcast_rate rate = { 0 };
	unsigned news;

	(void)state;
	assert_int_equal(second(&rate, 0, LIMIT_BROADCASTS_PER_S, &news), LIMIT_BROADCASTS_PER_S);
	assert_int_equal(news, 0);
	assert_int_equal(second(&rate, 1, LIMIT_BROADCASTS_PER_S + 1, &news), LIMIT_BROADCASTS_PER_S);
	assert_int_equal(news, 1);
	/* it goes on: no news */
	for (unsigned i = 2; i < 6; i++) {
		assert_int_equal(second(&rate, i, 100000, &news), LIMIT_BROADCASTS_PER_S);
		assert_int_equal(news, 0);
	}
	/* a second with fewer, and the next one begins with the news of it */
	assert_int_equal(second(&rate, 6, 1, &news), 1);
	assert_int_equal(news, 0);
	assert_int_equal(second(&rate, 7, 1, &news), 1);
	assert_int_equal(news, 1);
	/* silence after too many */
	assert_int_equal(second(&rate, 8, 1000, &news), LIMIT_BROADCASTS_PER_S);
	assert_int_equal(news, 1);
	assert_int_equal(second(&rate, 100, 3, &news), 3);
	assert_int_equal(news, 1);
	assert_int_equal(second(&rate, 101, 3, &news), 3);
	assert_int_equal(news, 0);
}

int main(void)
{
	static const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_service_data), cmocka_unit_test(test_manufacturer_data), cmocka_unit_test(test_wanted),
		cmocka_unit_test(test_memory),       cmocka_unit_test(test_rate),
	};
	int failed = cmocka_run_group_tests(tests, NULL, NULL);

	dbus_shutdown();
	return failed;
}
