// SPDX-License-Identifier: MIT
#include "daemon/ctl/report_model.h"
#include "daemon/ctl/field.h"
#include "daemon/weigh/weigh.h"
#include <math.h>

static enum ctl_status no_memory(void)
{
	ctl_error("Out of memory.");
	return CTL_REFUSED;
}

static double number_or_nan(const json_t *row, const char *key)
{
	double value;

	return field_number(row, key, &value) ? value : NAN;
}

static void take_pups(const struct report_rows *rows, struct report_model *model)
{
	json_t *row;
	size_t i;

	model->born_ms = INT64_MIN;
	json_array_foreach (rows->animals, i, row) {
		struct report_pup *pup = &model->pups[i];
		*pup = (struct report_pup){ .row = row,
					    .id = field_text(row, "animal_id"),
					    .name = field_text(row, "animal"),
					    .born_ms = INT64_MIN,
					    .birth_g = number_or_nan(row, "birth_g") };
		(void)field_whole(row, "born_at_ms", &pup->born_ms);
		if (pup->born_ms != INT64_MIN && (model->born_ms == INT64_MIN || pup->born_ms < model->born_ms))
			model->born_ms = pup->born_ms;
	}
	model->n_pups = json_array_size(rows->animals);
	if (model->born_ms == INT64_MIN)
		(void)field_whole(rows->litter, "born_at_ms", &model->born_ms);
}

static void take_births(struct report_model *model)
{
	for (size_t i = 0; i < model->n_pups; i++) {
		const struct report_pup *pup = &model->pups[i];
		if (!(pup->birth_g > 0) || pup->born_ms == INT64_MIN)
			continue;
		model->points[model->n++] = (struct report_point){ .pup = i,
								   .at_ms = pup->born_ms,
								   .mass_g = pup->birth_g,
								   .u_g = (double)weigh_step_u_mg(0) / 1000 };
	}
}

static void take_readings(const struct report_rows *rows, struct report_model *model)
{
	json_t *row;
	size_t i;

	json_array_foreach (rows->readings, i, row) {
		struct report_point point = { .row = row,
					      .mass_g = number_or_nan(row, "net_g"),
					      .u_g = number_or_nan(row, "u_g") };
		(void)field_whole(row, "at_ms", &point.at_ms);
		while (point.pup < model->n_pups &&
		       strcmp(model->pups[point.pup].id, field_text(row, "animal_id")) != 0)
			point.pup++;
		if (point.pup < model->n_pups)
			model->points[model->n++] = point;
	}
}

/* By time; of one time births first, then as the rows have it: qsort() keeps no order by itself. */
static int compare(const void *a, const void *b)
{
	const struct report_point *x = a, *y = b;

	if (x->at_ms != y->at_ms)
		return x->at_ms < y->at_ms ? -1 : 1;
	if (!x->row != !y->row)
		return x->row ? 1 : -1;
	if (!x->row)
		return x->pup < y->pup ? -1 : x->pup > y->pup;
	return strcmp(field_text(x->row, "reading_id"), field_text(y->row, "reading_id"));
}

static void gains(struct report_model *model)
{
	for (size_t i = 0; i < model->n; i++) {
		struct report_point *now = &model->points[i];
		int64_t best = INT64_MAX;
		now->pct_a_day = NAN;
		for (size_t k = i; k-- > 0 && now->at_ms - model->points[k].at_ms <= REPORT_FAR_MS;) {
			const struct report_point *was = &model->points[k];
			int64_t apart = now->at_ms - was->at_ms, off = llabs(apart - REPORT_DAY_MS);
			if (was->pup != now->pup || apart < REPORT_NEAR_MS || off >= best || !(was->mass_g > 0) ||
			    !(now->mass_g > 0))
				continue;
			best = off;
			now->pct_a_day = 100 * (pow(now->mass_g / was->mass_g, (double)REPORT_DAY_MS / (double)apart) - 1);
		}
	}
}

static void no_curves(struct report_model *model)
{
	for (size_t i = 0; i < model->n; i++)
		model->points[i].curve = (struct smooth_point){ .mass_g = NAN, .low_g = NAN, .high_g = NAN, .rate = NAN,
								.u_rate = NAN };
}

static int64_t to_mg(double g)
{
	return isfinite(g) && fabs(g) < 1e9 ? llround(g * 1000) : 0;
}

static enum ctl_status smooth(struct report_model *model)
{
	struct smooth_reading *readings = calloc(model->n, sizeof *readings);
	struct smooth_room *room = calloc(model->n, sizeof *room);
	struct smooth_point *curve = calloc(model->n, sizeof *curve);
	struct growth *growth = calloc(1, sizeof *growth);
	bool fits = readings && room && curve && growth;

	for (size_t i = 0; fits && i < model->n; i++) {
		const struct report_point *point = &model->points[i];
		readings[i] = (struct smooth_reading){ .animal = point->pup,
						       .reading = { .at_ms = point->at_ms,
								    .mass_mg = to_mg(point->mass_g),
								    .u_mg = to_mg(point->u_g),
								    .birth = !point->row } };
	}
	model->curves = fits && smooth_litter(readings, model->n, model->n_pups, model->born_ms, growth, room, curve) ==
					SMOOTH_DONE;
	for (size_t i = 0; model->curves && i < model->n; i++)
		model->points[i].curve = curve[i];
	free(readings);
	free(room);
	free(curve);
	free(growth);
	return fits ? CTL_DONE : no_memory();
}

enum ctl_status report_model_make(const struct report_rows *rows, struct report_model *ret)
{
	size_t most = json_array_size(rows->readings) + json_array_size(rows->animals);
	struct report_model model = { .pups = calloc(json_array_size(rows->animals) + 1, sizeof *model.pups),
				      .points = calloc(most + 1, sizeof *model.points) };
	enum ctl_status status = CTL_DONE;

	if (!model.pups || !model.points) {
		report_model_free(&model);
		return no_memory();
	}
	take_pups(rows, &model);
	take_births(&model);
	take_readings(rows, &model);
	qsort(model.points, model.n, sizeof *model.points, compare);
	for (size_t i = 0; i < model.n; i++)
		model.pups[model.points[i].pup].n++;
	model.zero_ms = model.born_ms != INT64_MIN ? model.born_ms : model.n ? model.points[0].at_ms : 0;
	gains(&model);
	no_curves(&model);
	if (model.n > 0 && model.n_pups <= GROWTH_ANIMALS)
		status = smooth(&model);
	if (status == CTL_DONE)
		*ret = model;
	else
		report_model_free(&model);
	return status;
}

void report_model_free(struct report_model *model)
{
	free(model->pups);
	free(model->points);
	*model = (struct report_model){ 0 };
}

size_t report_model_next(const struct report_model *model, size_t pup, size_t i)
{
	while (i < model->n && model->points[i].pup != pup)
		i++;
	return i;
}

double report_model_age(const struct report_model *model, size_t pup, int64_t at_ms)
{
	int64_t from_ms = model->pups[pup].born_ms != INT64_MIN ? model->pups[pup].born_ms : model->zero_ms;

	return (double)(at_ms - from_ms) / (double)REPORT_DAY_MS;
}
