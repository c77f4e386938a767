// SPDX-License-Identifier: MIT
/* Which one key was meant. Codes are arbitrary here; the events are what the kernel's input documentation (event-codes,
 * EV_KEY: 1 pressed, 0 let go, 2 repeated) says a device sends. */
#include "contrib/keypad/stroke.h"
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>

#define N_OF(array) (sizeof(array) / sizeof *(array))
#define EVENTS 12

struct event {
	unsigned code;
	int value;
	int64_t at_ms;
};

static const struct row {
	const char *what;
	struct event events[EVENTS]; /* code 0: no more */
	enum stroke_outcome outcome;
	unsigned code;
	int64_t due_ms; /* when it is told */
} table[] = {
	{ "one key", { { 2, 1, 1000 }, { 2, 0, 1080 } }, STROKE_KEY, 2, 1330 },
	{ "let go after a while", { { 2, 1, 0 }, { 2, 0, STROKE_LONG_MS } }, STROKE_KEY, 2, STROKE_LONG_MS + 250 },
	{ "held too long", { { 2, 1, 0 }, { 2, 0, STROKE_LONG_MS + 1 } }, STROKE_LONG, 0, STROKE_LONG_MS + 251 },
	{ "repeated while held", { { 2, 1, 0 }, { 2, 2, 250 }, { 2, 2, 283 }, { 2, 0, 300 } }, STROKE_KEY, 2, 550 },
	{ "a switch that bounces", { { 2, 1, 0 }, { 2, 0, 4 }, { 2, 1, 7 }, { 2, 0, 90 } }, STROKE_KEY, 2, 340 },
	{ "two at once", { { 2, 1, 0 }, { 3, 1, 10 }, { 2, 0, 80 }, { 3, 0, 90 } }, STROKE_SEVERAL, 0, 340 },
	{ "one upon another", { { 2, 1, 0 }, { 3, 1, 10 }, { 3, 0, 80 }, { 2, 0, 90 } }, STROKE_SEVERAL, 0, 340 },
	{ "12 typed fast", { { 2, 1, 0 }, { 2, 0, 60 }, { 3, 1, 140 }, { 3, 0, 200 } }, STROKE_SEVERAL, 0, 450 },
	{ "three in a row",
	  { { 2, 1, 0 }, { 2, 0, 60 }, { 3, 1, 140 }, { 3, 0, 200 }, { 2, 1, 300 }, { 2, 0, 360 } },
	  STROKE_SEVERAL,
	  0,
	  610 },
	{ "a palm",
	  { { 2, 1, 0 },
	    { 3, 1, 0 },
	    { 4, 1, 1 },
	    { 5, 1, 1 },
	    { 2, 0, 50 },
	    { 3, 0, 50 },
	    { 4, 0, 51 },
	    { 5, 0, 60 } },
	  STROKE_SEVERAL,
	  0,
	  310 },
	{ "pressed before we listened", { { 3, 0, 0 }, { 2, 1, 10 }, { 2, 0, 60 } }, STROKE_KEY, 2, 310 },
	{ "its release was lost", { { 2, 1, 0 }, { 2, 1, 100 }, { 2, 0, 160 } }, STROKE_KEY, 2, 410 },
};

static void test_table(void **state)
{
	(void)state;
	for (size_t i = 0; i < N_OF(table); i++) {
		const struct row *row = &table[i];
		struct stroke stroke;
		unsigned code = 0;

		print_message("%s\n", row->what);
		stroke_clear(&stroke);
		for (size_t j = 0; j < EVENTS && row->events[j].code; j++) {
			const struct event *event = &row->events[j];
			assert_int_equal(stroke_elapse(&stroke, event->at_ms, &code), STROKE_NONE);
			stroke_event(&stroke, event->code, event->value, event->at_ms);
		}
		assert_int_equal(stroke_due_ms(&stroke), row->due_ms);
		assert_int_equal(stroke_elapse(&stroke, row->due_ms - 1, &code), STROKE_NONE);
		assert_int_equal(code, 0);
		assert_int_equal(stroke_elapse(&stroke, row->due_ms, &code), row->outcome);
		assert_int_equal(code, row->code);
		/* told once */
		assert_int_equal(stroke_due_ms(&stroke), INT64_MAX);
		assert_int_equal(stroke_elapse(&stroke, INT64_MAX - 1, &code), STROKE_NONE);
	}
}

/* Whoever lies on a key that never comes up answers nothing, however long. */
static void test_never_let_go(void **state)
{
	struct stroke stroke;
	unsigned code = 0;

	(void)state;
	stroke_clear(&stroke);
	stroke_event(&stroke, 2, 1, 0);
	for (int64_t at_ms = 250; at_ms < 60000; at_ms += 33) {
		stroke_event(&stroke, 2, 2, at_ms);
		assert_int_equal(stroke_elapse(&stroke, at_ms, &code), STROKE_NONE);
	}
	assert_int_equal(stroke_due_ms(&stroke), INT64_MAX);
}

/* Two strokes apart are two. */
static void test_apart(void **state)
{
	struct stroke stroke;
	unsigned code = 0;

	(void)state;
	stroke_clear(&stroke);
	for (unsigned i = 1; i < 100; i++) {
		int64_t at_ms = 400 * (int64_t)i;
		stroke_event(&stroke, i, 1, at_ms);
		stroke_event(&stroke, i, 0, at_ms + 90);
		assert_int_equal(stroke_elapse(&stroke, at_ms + 400, &code), STROKE_KEY);
		assert_int_equal(code, i);
	}
}

/* The cap: more keys than a hand has fingers. They spoil it, and it ends when those that are known are up. */
static void test_many(void **state)
{
	struct stroke stroke;
	unsigned code = 0;

	(void)state;
	stroke_clear(&stroke);
	for (unsigned i = 1; i <= 10 * STROKE_HELD; i++)
		stroke_event(&stroke, i, 1, i);
	for (unsigned i = 1; i <= 10 * STROKE_HELD; i++)
		stroke_event(&stroke, i, 0, 1000 + i);
	assert_int_equal(stroke_elapse(&stroke, 5000, &code), STROKE_SEVERAL);
	stroke_event(&stroke, 7, 1, 6000);
	stroke_event(&stroke, 7, 0, 6050);
	assert_int_equal(stroke_elapse(&stroke, 7000, &code), STROKE_KEY);
	assert_int_equal(code, 7);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_table),
		cmocka_unit_test(test_never_let_go),
		cmocka_unit_test(test_apart),
		cmocka_unit_test(test_many),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
