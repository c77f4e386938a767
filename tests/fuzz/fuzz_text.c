// SPDX-License-Identifier: MIT
/*
 * What people type: masses, volumes, rates, times, signs, scores. What was understood must come back from its own
 * words: a volume that is read, shown and read again is the same one, never ten times it.
 */
#include "daemon/litter/apgar.h"
#include "daemon/litter/sign.h"
#include "daemon/litter/volume.h"
#include "daemon/weigh/quantity.h"
#include "fuzz.h"
#include "protocols/mass.h"

static void mass(const char *text)
{
	int64_t mg = 0, step_mg = 0;
	enum quantity_outcome outcome = quantity_mass(text, &mg, &step_mg);

	FUZZ_HOLDS(outcome == QUANTITY_OK || *quantity_mass_hint(outcome));
	if (outcome == QUANTITY_OK)
		FUZZ_HOLDS(mg > 0 && mg <= MASS_MAX_MG && step_mg >= 1);
}

static void when(const char *text)
{
	char back[QUANTITY_RFC3339_SIZE];
	int64_t ms = 0, again = 0;
	int offset_min = 0;

	if (quantity_rfc3339(text, &ms, &offset_min) != QUANTITY_OK)
		return;
	FUZZ_HOLDS(offset_min > -24 * 60 && offset_min < 24 * 60);
	quantity_rfc3339_utc(back, ms);
	FUZZ_HOLDS(quantity_rfc3339(back, &again, &offset_min) == QUANTITY_OK && again == ms && offset_min == 0);
}

static void volume(const char *text)
{
	struct volume_rate rate, same;
	int64_t ul = 0, again = 0;
	char back[40];

	if (volume_parse(text, &ul) == VOLUME_PARSED) {
		FUZZ_HOLDS(ul > 0);
		volume_format(ul, back, sizeof back);
		/* a third decimal is shown to nobody, and refused */
		FUZZ_HOLDS(volume_parse(back, &again) != VOLUME_PARSED ? ul % 10 != 0 : again == ul);
	}
	if (volume_parse_rate(text, &rate) == VOLUME_PARSED) {
		FUZZ_HOLDS(rate.ul > 0);
		volume_format_rate(&rate, back, sizeof back);
		FUZZ_HOLDS(volume_parse_rate(back, &same) != VOLUME_PARSED
				   ? rate.ul % 10 != 0
				   : same.ul == rate.ul && same.basis == rate.basis);
		FUZZ_HOLDS(volume_for(&rate, 300000) <= volume_for(&rate, 300001));
	}
}

static void sign(const char *text)
{
	for (int kind = 0; kind < SIGN_KINDS; kind++) {
		struct sign_value value, same;
		char hint[200] = "", back[16];
		if (sign_parse((enum sign_kind)kind, text, &value, hint, sizeof hint) != SIGN_PARSED) {
			FUZZ_HOLDS(*hint);
			continue;
		}
		sign_format(&value, back, sizeof back);
		FUZZ_HOLDS(sign_parse((enum sign_kind)kind, back, &same, hint, sizeof hint) == SIGN_PARSED);
		FUZZ_HOLDS(sign_weigh(&value, 0) == sign_weigh(&same, 0));
	}
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	char *text = fuzz_text(data, size);
	uint8_t points[APGAR_ITEMS];

	mass(text);
	when(text);
	volume(text);
	sign(text);
	(void)sign_of(text); /* any answer will do */
	if (apgar_parse(text, points) == 0)
		FUZZ_HOLDS(apgar_sum(points) >= 0 && apgar_sum(points) <= 10);
	free(text);
	return 0;
}
