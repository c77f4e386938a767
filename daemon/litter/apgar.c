// SPDX-License-Identifier: MIT
#include "daemon/litter/apgar.h"

/*
 * Five items of 0 to 2, sum 0 to 10, classes 7-10, 4-6, 0-3: Theriogenology 72:401 (2009), as its abstract has it. What
 * gives 0, 1 and 2 is from memory: its table wasn't read. Another scale, of seven items and 14 points, isn't this one.
 */
static const struct apgar_row rows[APGAR_ITEMS] = {
	[APGAR_HEART] = { "heart",
			  "Heartbeats? Two fingers on its chest, count 15 seconds.",
			  { "below 180 a minute (below 45)", "180 to 220 a minute (45 to 55)",
			    "above 220 a minute (above 55)" } },
	[APGAR_BREATHING] = { "breathing",
			      "Breath and voice?",
			      { "silent, below 6 breaths a minute", "cries softly, 6 to 15 a minute",
				"cries clearly, above 15 a minute" } },
	[APGAR_REFLEX] = { "reflex",
			   "Press a toe lightly: what does it do?",
			   { "nothing", "grimaces, or draws back weakly", "draws back with force, or cries" } },
	[APGAR_MOTION] = { "motion",
			   "How does it move by itself?",
			   { "limp", "bends its legs a little", "moves, crawls" } },
	[APGAR_COLOUR] = { "colour", "Colour of its gums?", { "blue", "pale", "pink" } },
};

const struct apgar_row *apgar_row(enum apgar_item item)
{
	return &rows[item];
}

int apgar_sum(const uint8_t points[APGAR_ITEMS])
{
	int sum = 0;

	for (int i = 0; i < APGAR_ITEMS; i++) {
		if (points[i] > 2)
			return -1;
		sum += points[i];
	}
	return sum;
}

enum apgar_class apgar_class(int sum)
{
	if (sum < 4)
		return APGAR_LOW;
	return sum < 7 ? APGAR_MIDDLE : APGAR_HIGH;
}

static const char *skip_spaces(const char *at)
{
	while (*at == ' ' || *at == '\t')
		at++;
	return at;
}

int apgar_parse(const char *text, uint8_t ret[APGAR_ITEMS])
{
	const char *at = skip_spaces(text);
	uint8_t points[APGAR_ITEMS];

	for (int i = 0; i < APGAR_ITEMS; i++) {
		if (*at < '0' || *at > '2')
			return -1;
		points[i] = (uint8_t)(*at - '0');
		at = skip_spaces(at + 1);
		if (i + 1 < APGAR_ITEMS && (*at == ',' || *at == '+'))
			at = skip_spaces(at + 1);
	}
	if (*at != '\0')
		return -1;
	for (int i = 0; i < APGAR_ITEMS; i++)
		ret[i] = points[i];
	return 0;
}

#define SOURCE " Source: Theriogenology 72:401 (2009), the points of each item from memory. Your vet's word goes first."

/* Of 176 Chihuahuas 97, 96 and 39 % of the three classes lived a day; 4 was the best cut (Acta Vet Scand 2020,
 * s13028-020-00538-y). Healthy pups averaged 184 heartbeats (normal and caesarean births): one point of two. */
const char *apgar_text(enum apgar_class class)
{
	switch (class) {
	case APGAR_LOW:
		return "0 to 3: in danger. Call your vet now, at night too. Mouth and nose free? Breathing? Dry and "
		       "warm? Score it again in five minutes." SOURCE;
	case APGAR_MIDDLE:
		return "4 to 6: watch it. Dry and warm? Breathing? Score it again in five minutes; call your vet now "
		       "if it isn't higher. Six or less in the first 8 hours goes with more deaths on the first day "
		       "(Prev Vet Med 143:11, 2017)." SOURCE;
	case APGAR_HIGH:
		return "7 to 10: as most healthy pups. Dry, warm, at a teat? It promises nothing: look again at the "
		       "next weighing, and call your vet if it weakens." SOURCE;
	}
	return "";
}
