// SPDX-License-Identifier: MIT
#pragma once
/*
 * For tests of decoders: one row a value, with what must come out of it, at its full length and at
 * each shorter one.
 */
#include "protocols/formats.h"
#include "protocols/presentation.h"
#include "tests/unit/protocols/octets.h"
#include <stdbool.h>
#include <stdio.h>

struct decoding {
	const char *source; /* where the value is published, and its number there */
	const char *hex;
	enum payload_refusal refusal;
	size_t trailing; /* octets at the end that no field claims */
	int64_t mass_mg, step_mg;
	enum mass_unit unit;
	const char *stamp; /* "2026-11-25 13:45:30" as sent, or NULL without one */
	int user;          /* or NO_USER */
	unsigned notes;
	const char *description; /* the 0x2904, for described values */
};

#define NO_USER (-1)
#define KG .unit = MASS_KILOGRAM, .step_mg = 5000
#define LB .unit = MASS_POUND, .step_mg = 4536 /* 4535.9237, facts 1.3 */
#define NOBODY .user = NO_USER

typedef enum payload_refusal decode_function(struct bytes, const struct presentation *,
					     struct payload *);

static inline enum payload_refusal decoding_run(decode_function *decode, const struct decoding *d,
						size_t n, struct payload *ret)
{
	struct octets value = octets_first(d->hex, n);
	struct presentation description;
	enum payload_refusal refusal;

	if (d->description) {
		struct octets o = octets_of(d->description);

		assert_true(presentation_read(o.value, &description));
		octets_free(&o);
	}
	refusal = decode(value.value, d->description ? &description : NULL, ret);
	octets_free(&value);
	return refusal;
}

static inline void decoding_check_payload(const struct decoding *d, const struct payload *p)
{
	char stamp[32];

	assert_int_equal(p->mass_mg, d->mass_mg);
	assert_int_equal(p->step_mg, d->step_mg);
	assert_int_equal(p->unit, d->unit);
	assert_int_equal(p->has_stamp, d->stamp != NULL);
	if (d->stamp) {
		(void)snprintf(stamp, sizeof stamp, "%04d-%02d-%02d %02d:%02d:%02d", p->stamp.year,
			       p->stamp.month, p->stamp.day, p->stamp.hour, p->stamp.minute,
			       p->stamp.second);
		assert_string_equal(stamp, d->stamp);
	}
	assert_int_equal(p->has_user, d->user != NO_USER);
	if (d->user != NO_USER)
		assert_int_equal(p->user, d->user);
}

/* A refusal must leave what the caller had. */
static inline void decoding_check_refused(decode_function *decode, const struct decoding *d,
					  size_t n, enum payload_refusal refusal)
{
	struct payload before, after;

	memset(&before, 0xA5, sizeof before);
	memset(&after, 0xA5, sizeof after);
	assert_int_equal(decoding_run(decode, d, n, &after), refusal);
	assert_memory_equal(&before, &after, sizeof before);
}

static inline void decoding_check(decode_function *decode, const struct decoding *d)
{
	size_t length = (strlen(d->hex) + 1) / 3;
	size_t needed = length - d->trailing;
	struct payload p;

	print_message("  %s: %s\n", d->source, d->hex);
	if (d->refusal != PAYLOAD_OK) {
		decoding_check_refused(decode, d, length, d->refusal);
	} else {
		assert_int_equal(decoding_run(decode, d, length, &p), PAYLOAD_OK);
		decoding_check_payload(d, &p);
		assert_int_equal(p.notes, d->notes);
	}
	/* An unsupported description is refused without a look at the value. */
	for (size_t n = 0; n < needed && d->refusal != PAYLOAD_UNSUPPORTED; n++)
		decoding_check_refused(decode, d, n, PAYLOAD_TRUNCATED);
	for (size_t n = needed; n < length && d->refusal == PAYLOAD_OK; n++) {
		assert_int_equal(decoding_run(decode, d, n, &p), PAYLOAD_OK);
		decoding_check_payload(d, &p);
		assert_int_equal(p.notes & PAYLOAD_NOTE_TRAILING,
				 n > needed ? PAYLOAD_NOTE_TRAILING : 0);
	}
}
