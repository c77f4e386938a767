// SPDX-License-Identifier: MIT
#pragma once
/* For the tests of signs: ages around every limit, chance with a fixed seed, and words that no sentence for people may
 * have. */
#include <stdint.h>

#define LENGTH(array) (sizeof(array) / sizeof((array)[0]))
#define DAY_MS INT64_C(86400000)

/* Not known; then both sides of each limit of age. */
static const int64_t signs_ages[] = {
	-1,
	INT64_MIN,
	0,
	1,
	DAY_MS,
	7 * DAY_MS - 1,
	7 * DAY_MS,
	10 * DAY_MS,
	21 * DAY_MS - 1,
	21 * DAY_MS,
	28 * DAY_MS - 1,
	28 * DAY_MS,
	30 * DAY_MS,
	42 * DAY_MS - 1,
	42 * DAY_MS,
	400 * DAY_MS,
	INT64_MAX,
};

/* Treatments and illnesses: the tool orders none and names none. */
static const char *const signs_never_said[] = {
	" ml",        "dose",     "inject", "dilut",     "glucose", "sugar",       "honey",  "syringe",
	"antibiotic", "medicine", "drug",   "formula",   "ringer",  "electrolyte", "infect", "sepsis",
	"herpes",     "parvo",    "worm",   "pneumonia", "tube",    " thin ",
};

/* xorshift64* (Vigna 2016, ACM TOMS 42:30). */
struct signs_chance {
	uint64_t state;
};

static inline unsigned signs_below(struct signs_chance *chance, unsigned n)
{
	chance->state ^= chance->state >> 12;
	chance->state ^= chance->state << 25;
	chance->state ^= chance->state >> 27;
	return (unsigned)((chance->state * UINT64_C(2685821657736338717)) >> 33) % n;
}
