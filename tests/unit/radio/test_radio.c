// SPDX-License-Identifier: MIT
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
#include <dbus/dbus.h>
#include <errno.h>
#include <systemd/sd-event.h>
#include "daemon/limits.h"
#include "daemon/log.h"
#include "daemon/radio/radio.h"

/* Without a bus: what the interface promises by itself. */
struct owner {
	sd_event *event;
	struct radio *radio;
	bool calling; /* inside a radio_*() */
	unsigned troubles, done;
};

static void on_trouble(void *userdata)
{
	struct owner *owner = userdata;

	assert_false(owner->calling);
	owner->troubles++;
}

static void on_find_done(void *userdata)
{
	struct owner *owner = userdata;

	assert_false(owner->calling);
	owner->done++;
}

static void owner_new(struct owner *owner)
{
	static const struct radio_ops ops = { .trouble = on_trouble, .find_done = on_find_done };

	*owner = (struct owner){ .calling = true };
	assert_int_equal(setenv("DBUS_SYSTEM_BUS_ADDRESS", "unix:path=/nowhere/at/all", 1), 0);
	assert_true(sd_event_new(&owner->event) >= 0);
	assert_int_equal(radio_new(owner->event, &ops, owner, &owner->radio), 0);
}

static void owner_free(struct owner *owner)
{
	owner->calling = true;
	assert_null(radio_free(owner->radio));
	sd_event_unref(owner->event);
}

/* Turns the loop until there is nothing to do at once. */
static void turn(struct owner *owner)
{
	owner->calling = false;
	while (sd_event_run(owner->event, 0) > 0)
		;
	owner->calling = true;
}

static void test_adopt(void **state)
{
	static const char *const bad[] = { "", "AA:BB:CC:DD:EE", "AA:BB:CC:DD:EE:GG",
					   "AA-BB-CC-DD-EE-FF" };
	struct owner owner;
	char address[RADIO_ADDRESS_SIZE];

	(void)state;
	owner_new(&owner);
	for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
		assert_int_equal(radio_adopt(owner.radio, bad[i]), -EINVAL);
		assert_int_equal(radio_forget(owner.radio, bad[i]), -ENOENT);
		assert_int_equal(radio_link(owner.radio, bad[i]), LINK_AWAY);
	}
	for (unsigned i = 0; i < LIMIT_SCALES; i++) {
		snprintf(address, sizeof address, "aa:bb:cc:dd:ee:%02x", i);
		assert_int_equal(radio_adopt(owner.radio, address), 0);
		assert_int_equal(radio_adopt(owner.radio, address), -EEXIST);
	}
	assert_int_equal(radio_adopt(owner.radio, "AA:BB:CC:DD:EE:00"),
			 -EEXIST); /* any case of letters */
	assert_int_equal(radio_adopt(owner.radio, "AA:BB:CC:DD:EE:FF"), -ENOSPC);
	assert_int_equal(radio_forget(owner.radio, "AA:BB:CC:DD:EE:00"), 0);
	assert_int_equal(radio_forget(owner.radio, "AA:BB:CC:DD:EE:00"), -ENOENT);
	/* room again, at once and after a turn */
	assert_int_equal(radio_adopt(owner.radio, "AA:BB:CC:DD:EE:00"), 0);
	assert_int_equal(radio_forget(owner.radio, "AA:BB:CC:DD:EE:00"), 0);
	turn(&owner);
	assert_int_equal(radio_adopt(owner.radio, "AA:BB:CC:DD:EE:FF"), 0);
	assert_int_equal(radio_link(owner.radio, "AA:BB:CC:DD:EE:FF"), LINK_AWAY);
	owner_free(&owner);
}

static void test_no_bus(void **state)
{
	struct owner owner;

	(void)state;
	owner_new(&owner);
	assert_int_equal(owner.troubles, 0);
	turn(&owner);
	assert_int_equal(owner.troubles, 1);
	assert_int_equal(radio_trouble(owner.radio), RADIO_NO_BUS);
	assert_int_equal(radio_find(owner.radio, 0), -EINVAL);
	assert_int_equal(radio_find(owner.radio, 121), -EINVAL);
	turn(&owner);
	assert_int_equal(owner.done, 0);
	assert_int_equal(radio_find(owner.radio, 120), 0);
	turn(&owner);
	assert_int_equal(owner.done, 1);     /* nothing can be found: at once */
	assert_int_equal(owner.troubles, 1); /* no news, no call */
	owner_free(&owner);
	radio_free(NULL);
}

static void test_words(void **state)
{
	(void)state;
	assert_string_equal(radio_trouble_text(RADIO_FINE), "");
	for (int i = RADIO_NO_BUS; i <= RADIO_ADAPTER_OFF; i++)
		assert_true(strlen(radio_trouble_text((enum radio_trouble)i)) > 20);
}

int main(void)
{
	static const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_adopt),
		cmocka_unit_test(test_no_bus),
		cmocka_unit_test(test_words),
	};
	int failed;

	log_set_level(LOG_ERR);
	failed = cmocka_run_group_tests(tests, NULL, NULL);
	dbus_shutdown();
	return failed;
}
