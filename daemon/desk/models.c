// SPDX-License-Identifier: MIT
#include "daemon/desk/models.h"
#include "daemon/desk/room.h"
#include "daemon/desk/worries.h"
#include "daemon/log.h"
#include <errno.h>
#include <math.h>

/* ---- building one ---- */

struct known {
	size_t animal, order;
	struct growth_reading reading;
	struct models_row *row; /* it isn't recorded, but tried */
};

struct building {
	struct model *model;
	int64_t until_ms;
	struct known *list;
	size_t n, room;
};

static int keep(struct building *building, size_t animal, const struct growth_reading *reading, struct models_row *row)
{
	if (building->n == building->room) {
		size_t room = building->room ? building->room * 2 : 256;
		struct known *list = reallocarray(building->list, room, sizeof *list);
		if (!list)
			return -ENOMEM;
		building->list = list;
		building->room = room;
	}
	building->list[building->n] = (struct known){ .animal = animal, .order = building->n, .reading = *reading, .row = row };
	building->n++;
	return 0;
}

static int take_row(void *userdata, const struct store_reading_row *row)
{
	struct building *building = userdata;
	const struct growth_reading reading = { .at_ms = row->at_ms, .mass_mg = row->net_mg, .u_mg = row->u_mg };
	int i = model_index(building->model, row->animal_id);

	if (i < 0 || row->at_ms >= building->until_ms || row->net_mg <= 0)
		return 0;
	building->model->step_mg = row->step_mg;
	building->model->newest_ms = row->at_ms;
	return keep(building, (size_t)i, &reading, NULL);
}

/* By time; of one time births first, then as they came. */
static int compare(const void *a, const void *b)
{
	const struct known *x = a, *y = b;

	if (x->reading.at_ms != y->reading.at_ms)
		return x->reading.at_ms < y->reading.at_ms ? -1 : 1;
	if (x->reading.birth != y->reading.birth)
		return x->reading.birth ? -1 : 1;
	return x->order < y->order ? -1 : 1;
}

static int64_t born_ms(const struct desk *desk, const struct model *model)
{
	int64_t first_ms = INT64_MIN;

	for (size_t i = 0; i < desk->roster.n_animals; i++) {
		const struct roster_animal *animal = &desk->roster.animals[i];
		if (strcmp(animal->litter_id, model->litter_id) != 0 || animal->born_ms == INT64_MIN)
			continue;
		if (first_ms == INT64_MIN || animal->born_ms < first_ms)
			first_ms = animal->born_ms;
	}
	return first_ms;
}

/* One without a time counts as of the litter's birth, or not at all. The last of a litter may be born when the first has
 * been weighed a second time. */
static int take_births(struct desk *desk, struct building *building, int64_t litter_born_ms)
{
	for (size_t i = 0; i < building->model->n; i++) {
		const struct roster_animal *animal = roster_animal_by_id(&desk->roster, building->model->animals[i]);
		struct growth_reading reading = { .birth = true, .u_mg = weigh_step_u_mg(0) };
		int r;
		if (!animal || animal->birth_mg <= 0)
			continue;
		reading.mass_mg = animal->birth_mg;
		reading.at_ms = animal->born_ms != INT64_MIN ? animal->born_ms : litter_born_ms;
		if (reading.at_ms == INT64_MIN || reading.at_ms >= building->until_ms)
			continue;
		r = keep(building, i, &reading, NULL);
		if (r != 0)
			return r;
	}
	return 0;
}

/* Times over what came before that no pup gains between two weighings, whatever lies between: a digit too many or too few,
 * or another's mass. Ours, far outside the fastest growth on record (litter/fit.h). */
#define MULTIPLE 3.0
#define MULTIPLE_A_DAY 0.15 /* and so much more of ln(mass) with each day between */

/* Whether one is a multiple of the other, or a part; both of one animal, before isn't later; its mass 0: there is none. */
static bool is_multiple(const struct growth_reading *reading, const struct growth_reading *before)
{
	double days = (double)(reading->at_ms - before->at_ms) / (24 * 3600 * 1000.0);

	return before->mass_mg > 0 && fabs(log((double)reading->mass_mg / (double)before->mass_mg)) >
					      log(MULTIPLE) + MULTIPLE_A_DAY * days;
}

/* In order: never late. Wild is kept in the model, which takes what a second one agrees with; a row that is tried is a
 * multiple until a second one agrees, too: else the first one written, if that is the wrong one, would make all others so. */
static void take_all(struct model *model, const struct building *building)
{
	struct growth_reading last[GROWTH_ANIMALS] = { 0 }, odd[GROWTH_ANIMALS] = { 0 };

	for (size_t i = 0; i < building->n; i++) {
		const struct known *known = &building->list[i];
		size_t animal = known->animal;
		bool multiple = is_multiple(&known->reading, &last[animal]) &&
				(odd[animal].mass_mg == 0 || is_multiple(&known->reading, &odd[animal]));

		if (growth_take(&model->growth, animal, &known->reading) == GROWTH_WILD || multiple) {
			if (known->row)
				known->row->wild = true;
			odd[animal] = known->reading;
		} else {
			last[animal] = known->reading;
		}
	}
}

static int build_with(struct desk *desk, struct model *model, int64_t until_ms, struct models_row *rows, size_t n)
{
	struct building building = { .model = model, .until_ms = until_ms };
	int64_t litter_born_ms = born_ms(desk, model);
	int r;

	growth_init(&model->growth, model->n, litter_born_ms);
	model->step_mg = 0;
	model->newest_ms = INT64_MIN;
	r = take_births(desk, &building, litter_born_ms);
	if (r == 0)
		r = store_each_reading(desk->store, model->litter_id, clock_now_ms() - MODELS_SPAN_MS, INT64_MAX, take_row, &building);
	for (size_t i = 0; r == 0 && i < n; i++) {
		const struct growth_reading reading = { .at_ms = rows[i].at_ms, .mass_mg = rows[i].mass_mg, .u_mg = rows[i].u_mg };
		r = keep(&building, rows[i].animal, &reading, &rows[i]);
	}
	if (r == 0 && building.n) {
		qsort(building.list, building.n, sizeof *building.list, compare);
		take_all(model, &building);
	}
	free(building.list);
	return r;
}

static int build(struct desk *desk, struct model *model, int64_t until_ms)
{
	return build_with(desk, model, until_ms, NULL, 0);
}

static struct model *begin(struct desk *desk, const char *litter_id)
{
	struct model *model = calloc(1, sizeof *model);

	if (!model)
		return NULL;
	(void)snprintf(model->litter_id, sizeof model->litter_id, "%s", litter_id);
	for (size_t i = 0; i < desk->roster.n_animals && model->n < GROWTH_ANIMALS; i++)
		if (strcmp(desk->roster.animals[i].litter_id, litter_id) == 0)
			(void)snprintf(model->animals[model->n++], UUID7_SIZE, "%s", desk->roster.animals[i].id);
	return model;
}

/* ---- all of them ---- */

static void free_list(struct model *list)
{
	while (list) {
		struct model *model = list;
		list = model->next;
		free(model);
	}
}

int models_load(struct desk *desk)
{
	struct model *list = NULL, **last = &list;
	int r = 0;

	for (size_t i = 0; r == 0 && i < desk->roster.n_litters; i++) {
		struct model *model = begin(desk, desk->roster.litters[i].id);
		if (!model) {
			r = -ENOMEM;
			break;
		}
		*last = model; /* in the roster's order */
		last = &model->next;
		r = build(desk, model, INT64_MAX);
	}
	if (r != 0) {
		free_list(list);
		return r;
	}
	free_list(desk->models);
	desk->models = list;
	return 0;
}

void models_done(struct desk *desk)
{
	free_list(desk->models);
	desk->models = NULL;
}

struct model *model_of(struct desk *desk, const char *litter_id)
{
	struct model *model = desk->models;

	while (model && strcmp(model->litter_id, litter_id) != 0)
		model = model->next;
	return model && model->n ? model : NULL;
}

int model_index(const struct model *model, const char *animal_id)
{
	for (size_t i = 0; i < model->n; i++)
		if (strcmp(model->animals[i], animal_id) == 0)
			return (int)i;
	return -1;
}

struct model *model_until(struct desk *desk, const struct model *model, int64_t until_ms)
{
	struct model *ret = malloc(sizeof *ret);

	if (!ret)
		return NULL;
	*ret = *model;
	ret->next = NULL;
	if (build(desk, ret, until_ms) == 0)
		return ret;
	free(ret);
	return NULL;
}

int models_try(struct desk *desk, const struct model *model, struct models_row *rows, size_t n)
{
	struct model *tried = malloc(sizeof *tried);
	int r;

	if (!tried)
		return -ENOMEM;
	*tried = *model;
	r = build_with(desk, tried, INT64_MAX, rows, n);
	free(tried);
	return r;
}

/* ---- what follows from a change ---- */

/* A littermate's weighing moves what is believed of the others a little. What readers see of them follows when it says
 * something else, and not by each gram: the ledger would get a row for each animal with each weighing. */
static bool says_else(const struct model_kept *kept, const struct store_growth *row, enum verdict_kind kind)
{
	return !kept->is || kept->kind != kind ||
	       llabs(row->gain_mg_per_day - kept->gain_mg_per_day) > row->u_gain_mg_per_day / 2;
}

static void keep_verdict(struct desk *desk, struct model *model, size_t i, bool anyway)
{
	const struct roster_animal *animal = roster_animal_by_id(&desk->roster, model->animals[i]);
	struct store_stamp stamp = desk_stamp("bismard", NULL);
	struct verdict verdict;
	struct store_growth row;

	if (!animal || !verdict_of(&model->growth, i, stamp.at_ms, model->step_mg, animal->birth_mg, &verdict))
		return;
	row = (struct store_growth){
		.animal_id = animal->id,
		.as_of_ms = stamp.at_ms,
		.gain_mg_per_day = llround(verdict.gain_g_per_day * 1000),
		.u_gain_mg_per_day = llround(verdict.u_gain_g_per_day * 1000),
		.gain_pct_per_day = verdict.gain_pct_per_day,
		.verdict = verdict_text(verdict.kind),
		.tell_ms = verdict.tell_at_ms,
	};
	if (!anyway && !says_else(&model->kept[i], &row, verdict.kind))
		return;
	if (store_add_growth(desk->store, &stamp, &row) == 0)
		model->kept[i] = (struct model_kept){ .is = true, .kind = verdict.kind, .gain_mg_per_day = row.gain_mg_per_day };
	else
		log_debug("can't note the growth of %s in the ledger", animal->name);
}

/* newest: index of the animal that was weighed; model->n: something else has changed, and all are kept anew. */
static void keep_verdicts(struct desk *desk, struct model *model, size_t newest)
{
	for (size_t i = 0; i < model->n; i++)
		keep_verdict(desk, model, i, i == newest || newest == model->n);
}

void models_changed(struct desk *desk, const char *animal_id)
{
	const struct roster_animal *animal = animal_id ? roster_animal_by_id(&desk->roster, animal_id) : NULL;
	struct model *model = animal ? model_of(desk, animal->litter_id) : NULL;

	if (!model)
		return;
	if (build(desk, model, INT64_MAX) != 0)
		log_warning("the growth of a litter can't be read back from the ledger, ignoring");
	keep_verdicts(desk, model, model->n);
	worries_look_anew(desk, model);
}

void models_recorded(struct desk *desk, const struct roster_animal *animal, int64_t at_ms, int64_t net_mg, int64_t u_mg,
		     int64_t step_mg)
{
	struct model *model = model_of(desk, animal->litter_id);
	int i = model ? model_index(model, animal->id) : -1;
	const struct growth_reading reading = { .at_ms = at_ms, .mass_mg = net_mg, .u_mg = u_mg };

	if (i < 0 || net_mg <= 0)
		return;
	if (at_ms < model->newest_ms || growth_take(&model->growth, (size_t)i, &reading) == GROWTH_LATE) {
		models_changed(desk, animal->id);
		return;
	}
	model->step_mg = step_mg;
	model->newest_ms = at_ms;
	keep_verdicts(desk, model, (size_t)i);
	worries_look(desk, model);
}
