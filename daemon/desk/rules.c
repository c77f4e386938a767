// SPDX-License-Identifier: MIT
#include "daemon/desk/rules.h"
#include "daemon/desk/bedside.h"
#include "daemon/desk/models.h"
#include "daemon/desk/room.h"

/* The rules look at the first ten days and the newest two (concern.h): a reading every two hours fits. */
#define READINGS_OF_ONE 128
#define FIRST_MS (INT64_C(10) * 24 * 3600 * 1000)
/* The newest but one is looked for this long before the newest. */
#define BEFORE_NEWEST_MS (INT64_C(4) * 24 * 3600 * 1000)

struct gathering {
	const struct model *model;
	int64_t until_ms;
	struct concern_reading readings[GROWTH_ANIMALS][READINGS_OF_ONE];
	struct concern_animal animals[GROWTH_ANIMALS];
	struct bedside_signs signs[GROWTH_ANIMALS];
};

static int gather_row(void *userdata, const struct store_reading_row *row)
{
	struct gathering *gathering = userdata;
	int i = model_index(gathering->model, row->animal_id);
	struct concern_animal *animal = &gathering->animals[i < 0 ? 0 : i];

	if (i < 0)
		return 0;
	if (animal->n == READINGS_OF_ONE) { /* the last two places are the newest two readings' */
		gathering->readings[i][READINGS_OF_ONE - 2] = gathering->readings[i][READINGS_OF_ONE - 1];
		animal->n--;
	}
	gathering->readings[i][animal->n++] =
		(struct concern_reading){ .at_ms = row->at_ms, .mass_mg = row->net_mg, .u_mg = row->u_mg };
	return 0;
}

/* The oldest of the newest readings of all; INT64_MAX: there is none. */
static int64_t newest_of_all_ms(const struct model *model)
{
	int64_t ret = INT64_MAX;

	for (size_t i = 0; i < model->n; i++)
		if (model->growth.animals[i].known && model->growth.animals[i].newest_ms < ret)
			ret = model->growth.animals[i].newest_ms;
	return ret;
}

/* What lies between the first ten days and the newest readings is left out, so that a look costs the same at any age. */
static int gather_rows(struct desk *desk, const struct model *model, struct gathering *gathering)
{
	int64_t first_ms = model->growth.born_ms, newest_ms = newest_of_all_ms(model);
	int r;

	if (first_ms == INT64_MIN || newest_ms == INT64_MAX || newest_ms - BEFORE_NEWEST_MS <= first_ms + FIRST_MS)
		return store_each_reading(desk->store, model->litter_id, INT64_MIN, gathering->until_ms, gather_row, gathering);
	r = store_each_reading(desk->store, model->litter_id, INT64_MIN, first_ms + FIRST_MS, gather_row, gathering);
	if (r != 0)
		return r;
	return store_each_reading(desk->store, model->litter_id, newest_ms - BEFORE_NEWEST_MS, gathering->until_ms, gather_row,
				  gathering);
}

/* Readings up to a time; the rules see no later ones. */
static int gather(struct desk *desk, const struct model *model, int64_t until_ms, struct gathering *gathering)
{
	int r;

	gathering->model = model;
	gathering->until_ms = until_ms;
	for (size_t i = 0; i < model->n; i++) {
		const struct roster_animal *animal = roster_animal_by_id(&desk->roster, model->animals[i]);
		gathering->animals[i] = (struct concern_animal){
			.index = i,
			.born_ms = animal ? animal->born_ms : INT64_MIN,
			.birth_mg = animal ? animal->birth_mg : 0,
			.readings = gathering->readings[i],
			.signs = gathering->signs[i].list,
		};
		r = bedside_signs(desk, model->animals[i], until_ms, &gathering->signs[i]);
		if (r != 0)
			return r;
		gathering->animals[i].n_signs = gathering->signs[i].n;
	}
	return gather_rows(desk, model, gathering);
}

size_t rules_look(struct desk *desk, const struct model *model, int64_t at_ms, struct concern ret[RULES_MAX], bool *ret_ok)
{
	struct gathering *gathering = calloc(1, sizeof *gathering);
	const struct roster_litter *litter = roster_litter_by_id(&desk->roster, model->litter_id);
	size_t n = 0;

	*ret_ok = gathering && litter && gather(desk, model, at_ms, gathering) == 0;
	if (*ret_ok)
		n = concern_look(&(struct concern_litter){ .growth = &model->growth,
							   .adult_mg = litter->adult_mg,
							   .limits = litter->limits,
							   .animals = gathering->animals,
							   .n = model->n },
				 at_ms, ret, RULES_MAX);
	free(gathering);
	return n;
}
