// SPDX-License-Identifier: MIT
/*
 * What a reader types. The codes have the form of ISO 11784/11785 as readers print it: three digits of country or maker
 * (900 to 998 are makers; 999 is a test transponder) and twelve more; the form is from memory. Key codes: the kernel's
 * input-event-codes.h.
 */
#include "contrib/keypad/tag.h"
#include <linux/input-event-codes.h>
#include <setjmp.h>
#include <stdarg.h>
#include <string.h>
#include <cmocka.h>

static const unsigned digits[] = { KEY_0, KEY_1, KEY_2, KEY_3, KEY_4, KEY_5, KEY_6, KEY_7, KEY_8, KEY_9 };

static void key(struct tag *tag, unsigned code, int64_t *at_ms)
{
	assert_int_equal(tag_event(tag, code, 1, *at_ms), TAG_NONE);
	assert_int_equal(tag_event(tag, code, 0, *at_ms + 2), TAG_NONE);
	*at_ms += 5;
}

static void type(struct tag *tag, const char *code, int64_t *at_ms)
{
	for (; *code; code++)
		key(tag, digits[*code - '0'], at_ms);
}

static enum tag_outcome enter(struct tag *tag, int64_t *at_ms)
{
	*at_ms += 5;
	return tag_event(tag, KEY_ENTER, 1, *at_ms);
}

static enum tag_outcome read_tag(struct tag *tag, const char *code, int64_t *at_ms)
{
	type(tag, code, at_ms);
	return enter(tag, at_ms);
}

static void test_code(void **state)
{
	struct tag tag;
	int64_t at_ms = 5000;

	(void)state;
	tag_clear(&tag);
	assert_int_equal(read_tag(&tag, "999000000000017", &at_ms), TAG_CODE);
	assert_string_equal(tag.code, "999000000000017");
	assert_int_equal(enter(&tag, &at_ms), TAG_NONE); /* CR and LF */
	assert_int_equal(read_tag(&tag, "999000000000018", &at_ms), TAG_CODE);
	assert_string_equal(tag.code, "999000000000018");
}

static void test_again(void **state)
{
	struct tag tag;
	int64_t at_ms = 5000;

	(void)state;
	tag_clear(&tag);
	assert_int_equal(read_tag(&tag, "1", &at_ms), TAG_CODE);
	for (int i = 0; i < 20; i++) { /* it lies there: each reading prolongs it */
		at_ms += TAG_AGAIN_MS / 2;
		assert_int_equal(read_tag(&tag, "1", &at_ms), TAG_AGAIN);
	}
	assert_int_equal(read_tag(&tag, "2", &at_ms), TAG_CODE);
	assert_int_equal(read_tag(&tag, "1", &at_ms), TAG_CODE);
	at_ms += TAG_AGAIN_MS + 1;
	assert_int_equal(read_tag(&tag, "1", &at_ms), TAG_CODE);
	tag_forget(&tag); /* it answered nothing */
	assert_int_equal(read_tag(&tag, "1", &at_ms), TAG_CODE);
}

/* Half a code, of a reader that was unplugged or of a person who tries the keys, is no beginning of the next. */
static void test_gap(void **state)
{
	struct tag tag;
	int64_t at_ms = 5000;

	(void)state;
	tag_clear(&tag);
	type(&tag, "99900", &at_ms);
	at_ms += TAG_GAP_MS + 1;
	assert_int_equal(read_tag(&tag, "17", &at_ms), TAG_CODE);
	assert_string_equal(tag.code, "17");
	type(&tag, "99900", &at_ms);
	at_ms += TAG_GAP_MS + 1;
	assert_int_equal(enter(&tag, &at_ms), TAG_NONE);
}

static void test_letters(void **state)
{
	struct tag tag;
	int64_t at_ms = 5000;

	(void)state;
	tag_clear(&tag);
	assert_int_equal(tag_event(&tag, KEY_LEFTSHIFT, 1, at_ms), TAG_NONE);
	key(&tag, KEY_F, &at_ms);
	assert_int_equal(tag_event(&tag, KEY_LEFTSHIFT, 0, at_ms), TAG_NONE);
	key(&tag, KEY_F, &at_ms);
	key(&tag, KEY_MINUS, &at_ms);
	key(&tag, KEY_KP7, &at_ms);
	assert_int_equal(tag_event(&tag, KEY_KP7, 2, at_ms), TAG_NONE); /* repeated */
	assert_int_equal(tag_event(&tag, KEY_KPENTER, 1, at_ms), TAG_CODE);
	assert_string_equal(tag.code, "Ff-7");
}

static void test_unfit(void **state)
{
	struct tag tag;
	int64_t at_ms = 5000;

	(void)state;
	tag_clear(&tag);
	for (size_t i = 0; i < TAG_SIZE - 1; i++)
		type(&tag, "7", &at_ms);
	assert_int_equal(enter(&tag, &at_ms), TAG_CODE);
	assert_int_equal(strlen(tag.code), TAG_SIZE - 1);
	for (size_t i = 0; i < 3 * TAG_SIZE; i++)
		type(&tag, "7", &at_ms);
	assert_int_equal(enter(&tag, &at_ms), TAG_UNFIT);
	type(&tag, "12", &at_ms);
	key(&tag, KEY_VOLUMEUP, &at_ms);
	assert_int_equal(enter(&tag, &at_ms), TAG_UNFIT);
	assert_int_equal(read_tag(&tag, "12", &at_ms), TAG_CODE);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_code),    cmocka_unit_test(test_again), cmocka_unit_test(test_gap),
		cmocka_unit_test(test_letters), cmocka_unit_test(test_unfit),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
