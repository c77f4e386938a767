// SPDX-License-Identifier: MIT
#include "daemon/ctl/report_view.h"
#include "daemon/litter/curve.h"
#include <math.h>

#define BAND_STEP 0.25 /* days; the band bends at whole ones */

double report_view_days(const struct report_view *view, int64_t at_ms)
{
	const struct report_model *model = view->report->model;

	return view->pup == SIZE_MAX ? (double)(at_ms - model->zero_ms) / (double)REPORT_DAY_MS
				     : report_model_age(model, view->pup, at_ms);
}

int64_t report_view_zero_ms(const struct report_view *view)
{
	const struct report_model *model = view->report->model;

	return view->pup != SIZE_MAX && model->pups[view->pup].born_ms != INT64_MIN ? model->pups[view->pup].born_ms
										    : model->zero_ms;
}

void report_view_widen(double *low, double *high, double value)
{
	if (!isfinite(value))
		return;
	*low = fmin(*low, value);
	*high = fmax(*high, value);
}

struct report_view report_view_of(const struct report *report, size_t pup)
{
	return (struct report_view){
		.report = report, .pup = pup, .from = INFINITY, .to = -INFINITY, .low = INFINITY, .high = -INFINITY
	};
}

bool report_view_is_empty(const struct report_view *view)
{
	return !(view->from <= view->to) || !(view->low <= view->high);
}

const char *report_view_days_title(const struct report_view *view)
{
	return view->report->model->born_ms != INT64_MIN ? "age in days, and the date"
							 : "days since the first weighing, and the date";
}

void report_view_none(FILE *to, const char *what)
{
	(void)fprintf(to, "<p class=\"none\">%s</p>\n", what);
}

void report_view_draw_curve(struct report_svg *svg, const struct report_view *view, size_t pup, double each,
			    const char *class)
{
	const struct report_model *model = view->report->model;

	report_svg_path_begin(svg);
	for (size_t i = report_model_next(model, pup, 0); i < model->n; i = report_model_next(model, pup, i + 1))
		if (report_shown(view->report, model->points[i].at_ms))
			report_svg_path_to(svg, report_view_days(view, model->points[i].at_ms),
					   model->points[i].curve.mass_g / each);
	report_svg_path_end(svg, class, false);
}

/* Out along the high end, back along the low one. */
void report_view_draw_doubt(struct report_svg *svg, const struct report_view *view, size_t pup, double each,
			    const char *class)
{
	const struct report_model *model = view->report->model;

	report_svg_path_begin(svg);
	for (size_t i = 0; i < model->n; i++) {
		const struct report_point *point = &model->points[i];
		if (point->pup == pup && report_shown(view->report, point->at_ms) && isfinite(point->curve.high_g))
			report_svg_path_to(svg, report_view_days(view, point->at_ms), point->curve.high_g / each);
	}
	for (size_t i = model->n; i-- > 0;) {
		const struct report_point *point = &model->points[i];
		if (point->pup == pup && report_shown(view->report, point->at_ms) && isfinite(point->curve.low_g))
			report_svg_path_to(svg, report_view_days(view, point->at_ms), point->curve.low_g / each);
	}
	report_svg_path_end(svg, class, true);
}

void report_view_draw_band(struct report_svg *svg, double birth)
{
	double until = fmin(svg->x.hi, CURVE_BAND_DAYS), low, high;
	int n = (int)floor(until / BAND_STEP + 1e-9);

	report_svg_path_begin(svg);
	for (int i = 0; i <= n; i++)
		if (curve_band(i * BAND_STEP, &low, &high))
			report_svg_path_to(svg, i * BAND_STEP, birth * high);
	for (int i = n; i >= 0; i--)
		if (curve_band(i * BAND_STEP, &low, &high))
			report_svg_path_to(svg, i * BAND_STEP, birth * low);
	report_svg_path_end(svg, "band", true);
	for (int end = 0; end < 2; end++) {
		report_svg_path_begin(svg);
		for (int i = 0; i <= n; i++)
			if (curve_band(i * BAND_STEP, &low, &high))
				report_svg_path_to(svg, i * BAND_STEP, birth * (end ? high : low));
		report_svg_path_end(svg, "edge", false);
	}
}

void report_view_begin(FILE *to, struct report_svg *svg, char id[24], unsigned number)
{
	(void)snprintf(id, 24, "fig-%u", number);
	svg->id = id;
	svg->to = to;
	(void)fputs("<figure>\n", to);
}
