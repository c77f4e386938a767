// SPDX-License-Identifier: MIT
/* The line for `systemctl status`, of desks made by hand; radio and clock are the test's. */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>

#include "daemon/desk/room.h"

static const int64_t now_ms = INT64_C(1795600000000); /* any time */
static enum radio_trouble trouble;
static int radio; /* somewhere to point to */

int64_t clock_boot_ms(void)
{
	return now_ms;
}

enum radio_trouble radio_trouble(const struct radio *of)
{
	assert_ptr_equal(of, &radio);
	return trouble;
}

/* Asks that came so many hours ago, oldest first. */
static void check(enum radio_trouble now, size_t n_scales, const int hours[], size_t n_asks, size_t n_pending,
		  const char *expected)
{
	struct ask list[8] = { 0 };
	struct desk desk = {
		.radio = (struct radio *)&radio,
		.roster.n_scales = n_scales,
		.asks = { .list = list, .n = n_asks },
		.pending.n = n_pending,
	};
	char text[256];

	for (size_t i = 0; i < n_asks; i++)
		list[i].opened_ms = now_ms - hours[i] * INT64_C(3600000);
	trouble = now;
	desk_status_text(&desk, text, sizeof text);
	assert_string_equal(text, expected);
}

static void test_counts(void **state)
{
	static const int fresh[] = { 3, 2, 1 };

	(void)state;
	check(RADIO_FINE, 0, NULL, 0, 0, "no scale, no question open");
	check(RADIO_FINE, 1, fresh, 1, 0, "1 scale, 1 question open");
	check(RADIO_FINE, 2, fresh, 3, 0, "2 scales, 3 questions open");
}

/* Closed for being late when somebody next looks; nothing may happen for days. */
static void test_late(void **state)
{
	static const int hours[] = { 30, 13, 12, 1 };

	(void)state;
	check(RADIO_FINE, 1, hours, 4, 0, "1 scale, 2 questions open"); /* the one of exactly 12 hours is open still */
	check(RADIO_FINE, 1, hours, 2, 0, "1 scale, no question open");
}

static void test_trouble(void **state)
{
	static const int fresh[] = { 1 };
	static const struct {
		enum radio_trouble trouble;
		const char *text;
	} rows[] = {
		{ RADIO_NO_BUS, "no system bus; 2 scales, 1 question open" },
		{ RADIO_DENIED, "the bus forbids talking to Bluetooth; 2 scales, 1 question open" },
		{ RADIO_NO_BLUEZ, "the Bluetooth service isn't running; 2 scales, 1 question open" },
		{ RADIO_NO_ADAPTER, "no Bluetooth adapter; 2 scales, 1 question open" },
		{ RADIO_ADAPTER_OFF, "the Bluetooth adapter is off; 2 scales, 1 question open" },
		{ RADIO_STARTING, "looking for Bluetooth; 2 scales, 1 question open" },
	};

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
		check(rows[i].trouble, 2, fresh, 1, 0, rows[i].text);
	check(RADIO_FINE, 1, fresh, 1, 5, "the database can't be written; 1 scale, 1 question open");
	check(RADIO_NO_ADAPTER, 1, fresh, 1, 1, "the database can't be written; no Bluetooth adapter; 1 scale, 1 question open");
}

static void test_bounds(void **state)
{
	struct desk desk = { .roster.n_scales = 2 }; /* no radio joined */
	char text[300];

	(void)state;
	memset(text, 'x', sizeof text);
	desk_status_text(&desk, text, 10);
	assert_string_equal(text, "no system");
	assert_int_equal(text[10], 'x');
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_counts),
		cmocka_unit_test(test_late),
		cmocka_unit_test(test_trouble),
		cmocka_unit_test(test_bounds),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
