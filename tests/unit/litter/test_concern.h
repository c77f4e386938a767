// SPDX-License-Identifier: MIT
#pragma once
/* Litters for the tests of the concerns, made by hand or raised by sim.h. After cmocka.h. */
#include "daemon/litter/concern.h"
#include "tests/unit/litter/sim.h"

#define LENGTH(array) (sizeof(array) / sizeof((array)[0]))
#define PUPS 8
#define FOUND 64
#define NEVER (-1)

struct made {
	struct growth growth;
	struct concern_reading readings[PUPS][SIM_READINGS];
	struct concern_animal animals[PUPS];
	struct concern_litter litter;
};

static inline int64_t hour(double hours)
{
	return SIM_BORN_MS + (int64_t)llround(hours * (double)SIM_HOUR_MS);
}

static inline void weigh(struct made *made, size_t i, double hours, int64_t mass_mg, int64_t u_mg)
{
	struct growth_reading reading = { hour(hours), mass_mg, u_mg, false };

	made->readings[i][made->animals[i].n++] = (struct concern_reading){ hour(hours), mass_mg, u_mg };
	(void)growth_take(&made->growth, i, &reading); /* wild ones are part of it */
}

/* A litter at birth; 0: not known. */
static inline void born(struct made *made, const int64_t *births_mg, size_t n, int64_t adult_mg)
{
	memset(made, 0, sizeof *made);
	growth_init(&made->growth, n, SIM_BORN_MS);
	for (size_t i = 0; i < n; i++) {
		struct growth_reading reading = { SIM_BORN_MS, births_mg[i], 289, true };
		made->animals[i] = (struct concern_animal){ i, SIM_BORN_MS, births_mg[i], made->readings[i], 0, NULL, 0 };
		if (births_mg[i] > 0)
			(void)growth_take(&made->growth, i, &reading);
	}
	made->litter = (struct concern_litter){
		.growth = &made->growth, .adult_mg = adult_mg, .animals = made->animals, .n = n
	};
}

static inline void one(struct made *made, int64_t birth_mg)
{
	born(made, &birth_mg, 1, 0);
}

/* The level with which a rule holds for an animal (SIZE_MAX: the litter), or NEVER. */
static inline int level_of(const struct made *made, double hours, enum concern_rule rule, size_t animal)
{
	struct concern found[FOUND];
	size_t n = concern_look(&made->litter, hour(hours), found, FOUND);

	for (size_t i = 0; i < n; i++)
		if (found[i].rule == rule && found[i].animal == animal) {
			assert_true(found[i].level >= concern_row(rule)->least &&
				    found[i].level <= concern_row(rule)->worst);
			assert_true(strlen(found[i].text) > 10 && strlen(found[i].text) < sizeof found[i].text - 1);
			return (int)found[i].level;
		}
	return NEVER;
}

/* Weighs all pups every 12 hours up to a day. */
static inline void raise_to(struct made *made, enum sim_curve curve, const struct sim_pup *pups, size_t n,
			    double from_day, double to_day)
{
	for (double day = from_day; day <= to_day + 1e-9; day += 0.5)
		for (size_t i = 0; i < n; i++) {
			double at = day + 0.002 * (double)i;
			weigh(made, i, 24 * at, sim_show(sim_mass(curve, &pups[i], at), 1), 289);
		}
}

static inline void bear(struct made *made, const struct sim_pup *pups, size_t n, int64_t adult_mg)
{
	int64_t births[PUPS];

	for (size_t i = 0; i < n; i++)
		births[i] = sim_show(pups[i].birth_g, 1);
	born(made, births, n, adult_mg);
}

/* Born alike, growing at their own pace. */
static inline void five(struct sim_pup *pups, double birth_g, double pace)
{
	static const double size[] = { 0.9, 0.95, 1, 1.06, 1.1 }, own[] = { 1.03, 1, 0.97, 1.02, 0.98 };

	for (size_t i = 0; i < 5; i++)
		pups[i] = (struct sim_pup){ birth_g * size[i], pace * own[i], 0, INFINITY, 0 };
}
