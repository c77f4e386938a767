// SPDX-License-Identifier: MIT
/* What a person asks of the radio (pairing, consent, probing) as far as no bus is needed, and what errors and octets mean. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
#include "daemon/log.h"
#include "daemon/radio/agent.h"
#include "daemon/radio/consent.h"
#include "daemon/radio/current_time.h"
#include "daemon/radio/gatt.h"
#include <errno.h>

static void test_interface(void **state)
{
	static const char address[] = "AA:BB:CC:DD:EE:01";
	static const struct radio_ops ops = { 0 };
	struct radio *radio;
	sd_event *event;

	(void)state;
	assert_int_equal(setenv("DBUS_SYSTEM_BUS_ADDRESS", "unix:path=/nowhere/at/all", 1), 0);
	assert_true(sd_event_new(&event) >= 0);
	assert_int_equal(radio_new(event, &ops, NULL, &radio), 0);
	assert_int_equal(radio_probe(radio, "AA:BB"), -EINVAL);
	assert_int_equal(radio_probe(radio, address), -ENODEV);
	assert_int_equal(radio_pair(radio, address), -ENOENT);
	assert_int_equal(radio_consent(radio, address, 1, 1), -ENOENT);
	assert_int_equal(radio_pair_answer(radio, true, 1), -ENOENT);
	assert_int_equal(radio_adopt(radio, address), 0);
	assert_int_equal(radio_pair(radio, address), -ENODEV);
	assert_int_equal(radio_consent(radio, address, 0, 9999), 0);
	assert_int_equal(radio_consent(radio, address, 254, 10000), -EINVAL);
	assert_int_equal(radio_consent(radio, "aa:bb:cc:dd:ee:01", CONSENT_NO_USER, 0), 0);
	radio_free(radio);
	sd_event_unref(event);
}

/* The errors of Device1.Pair (BlueZ, doc/device-api.txt of 5.66), each with a sentence of its own. */
static void test_errors_of_pair(void **state)
{
	static const char *const names[] = { "AuthenticationFailed", "AuthenticationRejected", "AuthenticationTimeout",
					     "AuthenticationCanceled", "ConnectionAttemptFailed", "InProgress" };
	const char *other = agent_error_text("org.bluez.Error.Whatever");
	char name[64];

	(void)state;
	assert_true(strlen(other) > 20);
	for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
		(void)snprintf(name, sizeof name, "org.bluez.Error.%s", names[i]);
		assert_true(strlen(agent_error_text(name)) > 20);
		assert_string_not_equal(agent_error_text(name), other);
		for (size_t k = 0; k < i; k++) {
			char before[64];
			(void)snprintf(before, sizeof before, "org.bluez.Error.%s", names[k]);
			assert_string_not_equal(agent_error_text(name), agent_error_text(before));
		}
	}
}

/* Facts, 7.5; the ATT error codes are of Core, Vol 3, Part F, 3.4.1.1 (from memory). */
static void test_unpaired(void **state)
{
	static const struct {
		const char *name, *text;
		bool unpaired;
	} cases[] = {
		{ "org.bluez.Error.NotPermitted", "Not paired", true },
		{ "org.bluez.Error.NotAuthorized", "Operation Not Authorized", true },
		{ "org.bluez.Error.Failed", "Insufficient Authentication", true },
		{ "org.bluez.Error.Failed", "Insufficient Encryption", true },
		{ "org.bluez.Error.Failed", "Operation failed with ATT error: 0x05", true },
		{ "org.bluez.Error.Failed", "Operation failed with ATT error: 0x0f", true },
		{ "org.bluez.Error.Failed", "Operation failed with ATT error: 0x0e", false },
		{ "org.bluez.Error.Failed", "Operation failed with ATT error: 0x80", false },
		{ "org.bluez.Error.InProgress", "In Progress", false },
		{ "org.freedesktop.DBus.Error.NoReply", "", false },
	};

	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof *cases; i++)
		assert_int_equal(gatt_is_unpaired(cases[i].name, cases[i].text), cases[i].unpaired);
}

/* The table of response values: facts, 5.5. */
static void test_consent_outcomes(void **state)
{
	uint8_t octets[] = { 0x20, 0x02, 0x01, 0x03 };
	bool accepted;

	(void)state;
	for (unsigned value = 0; value < 256; value++) {
		octets[2] = (uint8_t)value;
		accepted = value != 1;
		assert_non_null(consent_outcome((struct bytes){ octets, 3 }, &accepted));
		assert_int_equal(accepted, value == 1);
	}
	octets[2] = 1;
	assert_non_null(consent_outcome((struct bytes){ octets, 4 }, &accepted)); /* an index may follow */
	for (size_t n = 0; n < 3; n++)
		assert_null(consent_outcome((struct bytes){ octets, n }, &accepted));
	octets[1] = 0x01; /* an answer to a registration, which we never ask for */
	assert_null(consent_outcome((struct bytes){ octets, 3 }, &accepted));
	octets[0] = 0x02;
	octets[1] = 0x02;
	assert_null(consent_outcome((struct bytes){ octets, 3 }, &accepted));
}

/* Around 2026-11-25 13:45:30 of the facts, 5.2: EA 07 0B 19 0D 2D 1E 03 00 02. */
static void test_clock_is_off(void **state)
{
	const struct date_time now = { 2026, 11, 25, 13, 45, 30 };
	const int64_t at_s = date_time_seconds(&now);
	static const struct {
		int off_s;
		bool off;
	} cases[] = { { 0, false }, { 60, false }, { -60, false }, { 61, true }, { -61, true }, { 86400, true } };
	uint8_t octets[CURRENT_TIME_LENGTH] = { 0xEA, 0x07, 0x0B, 0x19, 0x0D, 0x2D, 0x1E, 0x03, 0x00, 0x02 };
	struct date_time shown;

	(void)state;
	assert_false(current_time_is_off((struct bytes){ octets, sizeof octets }, &now));
	for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
		assert_true(date_time_from_seconds(at_s + cases[i].off_s, &shown));
		current_time_write(&shown, octets);
		assert_int_equal(current_time_is_off((struct bytes){ octets, sizeof octets }, &now), cases[i].off);
		for (size_t n = 0; n < DATE_TIME_LENGTH; n++) /* no date: it wants to be set */
			assert_true(current_time_is_off((struct bytes){ octets, n }, &now));
	}
	octets[2] = 13;
	assert_true(current_time_is_off((struct bytes){ octets, sizeof octets }, &now));
	memset(octets, 0, sizeof octets);
	assert_true(current_time_is_off((struct bytes){ octets, sizeof octets }, &now));
}

int main(void)
{
	static const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_interface),        cmocka_unit_test(test_errors_of_pair),
		cmocka_unit_test(test_unpaired),         cmocka_unit_test(test_consent_outcomes),
		cmocka_unit_test(test_clock_is_off),
	};
	int failed;

	log_set_level(LOG_ERR);
	failed = cmocka_run_group_tests_name("radio/asked", tests, NULL, NULL);
	dbus_shutdown();
	return failed;
}
