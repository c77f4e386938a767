// SPDX-License-Identifier: MIT
#include "daemon/ctl/scale_fit.h"
#include "daemon/ctl/show.h"
#include "daemon/litter/fit.h"
#include <stdio.h>
#include <string.h>

#define ABSURD_MG 100000000 /* 100 kg: no scale's step */

const char *scale_fit_offer(const char *word)
{
	static const char *const words[][2] = {
		{ "weight-scale", "Weight Scale Service" },
		{ "body-composition", "Body Composition Service" },
		{ "bthome", "broadcasts (BTHome)" },
		{ "broadcast", "broadcasts (BTHome or declared)" },
	};

	for (size_t i = 0; i < sizeof words / sizeof *words; i++)
		if (strcmp(words[i][0], word) == 0)
			return words[i][1];
	return word;
}

void scale_fit_offers(const json_t *words, char *buffer, size_t size)
{
	size_t n = 0, i;
	json_t *word;

	(void)snprintf(buffer, size, "-");
	json_array_foreach(words, i, word)
	{
		int r;
		if (!json_is_string(word))
			continue;
		r = snprintf(buffer + n, size - n, "%s%s", n ? ", " : "", scale_fit_offer(json_string_value(word)));
		if (r < 0 || (size_t)r >= size - n)
			return;
		n += (size_t)r;
	}
}

const char *scale_fit_words(char buffer[SCALE_FIT_SIZE], int64_t step_mg, enum quantity_unit unit)
{
	char step[SHOW_SIZE], from[SHOW_SIZE], pup[SHOW_SIZE];
	int64_t smallest_mg = fit_smallest_pup_mg(step_mg);
	int n;

	if (step_mg <= 0 || step_mg > ABSURD_MG) {
		(void)snprintf(buffer, SCALE_FIT_SIZE, "its step isn't known yet: weigh once.");
		return buffer;
	}
	n = snprintf(buffer, SCALE_FIT_SIZE, "steps of %s: enough for pups from %s on", show_mass(step, step_mg, unit),
		     show_about(from, smallest_mg, unit));
	if (smallest_mg > FIT_PUP_MG && n > 0 && n < SCALE_FIT_SIZE)
		n += snprintf(buffer + n, (size_t)(SCALE_FIT_SIZE - n),
			      "; a %s pup must be weighed %u hours apart for a stall to show",
			      show_about(pup, FIT_PUP_MG, unit), fit_stall_hours(step_mg, FIT_PUP_MG));
	if (n > 0 && n < SCALE_FIT_SIZE)
		(void)snprintf(buffer + n, (size_t)(SCALE_FIT_SIZE - n), ".");
	return buffer;
}
