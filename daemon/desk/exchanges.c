// SPDX-License-Identifier: MIT
#include "daemon/desk/exchanges.h"
#include "daemon/desk/models.h"
#include "daemon/desk/room.h"
#include "daemon/litter/round.h"
#include "daemon/weigh/quantity.h"
#include <math.h>

#define READINGS (2 * GROWTH_ANIMALS) /* of one round that are looked at */

struct gathering {
	const struct model *model;
	struct round_reading readings[READINGS];
	char ids[READINGS][UUID7_SIZE];
	size_t n;
	struct round_exchange found[EXCHANGES_TOLD];
};

static int gather_row(void *userdata, const struct store_reading_row *row)
{
	struct gathering *gathering = userdata;
	int i = model_index(gathering->model, row->animal_id);

	if (i < 0 || gathering->n == READINGS)
		return 0;
	(void)snprintf(gathering->ids[gathering->n], UUID7_SIZE, "%s", row->id);
	gathering->readings[gathering->n++] = (struct round_reading){
		.animal = (size_t)i,
		.reading = { .at_ms = row->at_ms, .mass_mg = row->net_mg, .u_mg = row->u_mg },
	};
	return 0;
}

static const char *name_of(struct desk *desk, const char *animal_id)
{
	const struct roster_animal *animal = roster_animal_by_id(&desk->roster, animal_id);

	return animal ? animal->name : "?";
}

/* "Acorn lost 31 g, Bramble gained 34 g: exchanged, they would both be on their curve" */
static void say(struct desk *desk, const struct model *before, const struct gathering *gathering,
		const struct round_exchange *exchange, char *to, size_t size)
{
	size_t used = 0;

	for (size_t i = 0; i < exchange->n && used + 64 < size; i++) {
		const struct round_reading *reading = &gathering->readings[exchange->readings[i]];
		struct growth_prediction expected = { 0 };
		char mass[32];
		double off_g = NAN;
		if (growth_predict(&before->growth, reading->animal, reading->reading.at_ms, &expected))
			off_g = (double)reading->reading.mass_mg / 1000 - exp(expected.ln_g);
		(void)quantity_format(mass, sizeof mass, (int64_t)(fabs(isnan(off_g) ? 0 : off_g) * 1000), 1000, QUANTITY_GRAMS);
		used += (size_t)snprintf(to + used, size - used, "%s%s is %s %s than expected", i ? ", " : "",
					 name_of(desk, before->animals[reading->animal]), mass, off_g < 0 ? "lighter" : "heavier");
	}
	if (used < size)
		(void)snprintf(to + used, size - used, ": exchanged, all would be on their curve");
}

static json_t *exchange_json(struct desk *desk, const struct model *before, const struct gathering *gathering,
			     const struct round_exchange *exchange, struct exchange *ret)
{
	json_t *corrections = json_array();
	char text[512];

	*ret = (struct exchange){ .n = exchange->n };
	for (size_t i = 0; i < exchange->n; i++) {
		const char *reading = gathering->ids[exchange->readings[i]], *to = before->animals[exchange->animals[i]];
		(void)snprintf(ret->readings[i], UUID7_SIZE, "%s", reading);
		(void)snprintf(ret->animals[i], UUID7_SIZE, "%s", to);
		(void)json_array_append_new(
			corrections,
			json_pack("{s:s, s:s, s:s, s:s}", "reading", reading, "animal", to, "name", name_of(desk, to), "was",
				  name_of(desk, before->animals[gathering->readings[exchange->readings[i]].animal])));
	}
	say(desk, before, gathering, exchange, text, sizeof text);
	return json_pack("{s:s, s:f, s:o}", "say", text, "ln_ratio", exchange->ln_ratio, "corrections", corrections);
}

json_t *exchanges_look(struct desk *desk, const char *litter_id, int64_t from_ms, int64_t until_ms, struct exchanges *ret)
{
	struct model *model = model_of(desk, litter_id);
	struct model *before = model ? model_until(desk, model, from_ms) : NULL;
	struct gathering *gathering = calloc(1, sizeof *gathering);
	json_t *list = json_array();

	*ret = (struct exchanges){ 0 };
	if (before && gathering) {
		gathering->model = before;
		if (store_each_reading(desk->store, litter_id, from_ms, until_ms, gather_row, gathering) == 0)
			ret->n = round_exchanges(&before->growth, gathering->readings, gathering->n, gathering->found,
						 EXCHANGES_TOLD);
	}
	for (size_t i = 0; i < ret->n; i++)
		(void)json_array_append_new(list, exchange_json(desk, before, gathering, &gathering->found[i], &ret->told[i]));
	free(gathering);
	free(before);
	return list;
}
