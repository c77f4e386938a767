// SPDX-License-Identifier: MIT
#include "daemon/ctl/report_figures.h"
#include "daemon/ctl/report_view.h"
#include "daemon/ctl/text.h"
#include "daemon/litter/curve.h"
#include <math.h>

#define LITTER_NAMES 124 /* right of the frame */
#define LABEL_COLUMNS 16
#define LABEL_GAP 12.5
#define STYLES 12 /* of lines: report_style.h */

/* ---- names at the ends of curves ---- */

static void draw_names(struct report_svg *svg, const struct report_view *view, bool by_birth)
{
	const struct report_model *model = view->report->model;
	double at[GROWTH_ANIMALS], own[GROWTH_ANIMALS], end[GROWTH_ANIMALS];
	int order[GROWTH_ANIMALS], n = 0;
	size_t pups[GROWTH_ANIMALS];

	for (size_t pup = 0; pup < model->n_pups && n < GROWTH_ANIMALS; pup++) {
		double each = by_birth ? model->pups[pup].birth_g : view->report->unit_g, y = NAN;
		for (size_t i = 0; i < model->n; i++)
			if (model->points[i].pup == pup && isfinite(model->points[i].curve.mass_g / each) &&
			    report_shown(view->report, model->points[i].at_ms)) {
				y = model->points[i].curve.mass_g / each;
				end[n] = report_view_days(view, model->points[i].at_ms);
			}
		if (!isfinite(y))
			continue;
		pups[n] = pup;
		at[n] = own[n] = plot_at(&svg->y, y);
		n++;
	}
	plot_spread(at, order, n, REPORT_SVG_TOP + 4, svg->height - REPORT_SVG_BOTTOM, LABEL_GAP);
	for (int i = 0; i < n; i++) {
		char name[96], label[128];
		(void)text_fit(name, sizeof name, model->pups[pups[i]].name, LABEL_COLUMNS, true);
		(void)snprintf(label, sizeof label, "%zu %s", pups[i] + 1, name);
		report_svg_line(svg, "leader", plot_at(&svg->x, end[i]), own[i], REPORT_SVG_WIDTH - svg->right + 10,
				at[i]);
		report_svg_words(svg, "label", REPORT_SVG_WIDTH - svg->right + 13, at[i] + 4, label);
	}
}

static void style(char buffer[16], size_t pup)
{
	(void)snprintf(buffer, 16, "curve s%zu", pup % STYLES);
}

static struct report_view view_litter(const struct report *report, bool by_birth)
{
	const struct report_model *model = report->model;
	struct report_view view = report_view_of(report, SIZE_MAX);

	for (size_t i = 0; i < model->n; i++) {
		const struct report_point *point = &model->points[i];
		double each = by_birth ? model->pups[point->pup].birth_g : report->unit_g;
		if (!report_shown(report, point->at_ms) || !isfinite(point->curve.mass_g / each))
			continue;
		report_view_widen(&view.from, &view.to, report_view_days(&view, point->at_ms));
		report_view_widen(&view.low, &view.high, (by_birth ? point->curve.mass_g : point->curve.low_g) / each);
		report_view_widen(&view.low, &view.high, (by_birth ? point->curve.mass_g : point->curve.high_g) / each);
	}
	if (by_birth && model->born_ms != INT64_MIN && report->since_ms == INT64_MIN)
		view.from = fmin(view.from, 0);
	return view;
}

void report_figure_litter(FILE *to, const struct report *report, unsigned number)
{
	const struct report_model *model = report->model;
	struct report_view view = view_litter(report, false);
	struct report_svg svg = { .height = REPORT_VIEW_BIG, .right = LITTER_NAMES };
	char id[24], desc[256], title[48], class[16];

	if (report_view_is_empty(&view)) {
		report_view_none(to, "There is no curve of this litter: nothing was weighed.");
		return;
	}
	report_view_begin(to, &svg, id, number);
	(void)snprintf(desc, sizeof desc,
		       "A curve for each of %zu pups, from day %.1f to day %.1f, between %.0f and %.0f %s; the same "
		       "numbers stand in the tables of weights.",
		       model->n_pups, view.from, view.to, view.low, view.high, report->unit);
	report_svg_begin(&svg, "Masses of all pups by age", desc);
	(void)snprintf(title, sizeof title, "mass in %s", report->unit);
	report_svg_axes(
		&svg,
		&(struct report_svg_axis){ report_view_days_title(&view), view.from, view.to, REPORT_VIEW_DAY_TICKS },
		&(struct report_svg_axis){ title, view.low, view.high, REPORT_VIEW_TICKS }, report_view_zero_ms(&view));
	for (size_t pup = 0; pup < model->n_pups; pup++)
		report_view_draw_doubt(&svg, &view, pup, report->unit_g, "doubt");
	for (size_t pup = 0; pup < model->n_pups; pup++) {
		style(class, pup);
		report_view_draw_curve(&svg, &view, pup, report->unit_g, class);
	}
	draw_names(&svg, &view, false);
	report_svg_end(&svg);
	(void)fprintf(to,
		      "<figcaption>Figure %u. Each pup\xe2\x80\x99s mass without gut fill, as all its weighings tell "
		      "it (line), and where it lies with 95 %% certainty (grey).</figcaption>\n</figure>\n",
		      number);
}

void report_figure_times_birth(FILE *to, const struct report *report, unsigned number)
{
	const struct report_model *model = report->model;
	struct report_view view = view_litter(report, true);
	struct report_svg svg = { .height = REPORT_VIEW_BIG, .right = LITTER_NAMES };
	char id[24], class[16];
	size_t without = 0;

	for (size_t pup = 0; pup < model->n_pups; pup++)
		without += !(model->pups[pup].birth_g > 0);
	if (report_view_is_empty(&view) || model->born_ms == INT64_MIN) {
		report_view_none(to, "Against the published band a pup is compared by its birth weight and age; "
				     "neither is known here.");
		return;
	}
	report_view_begin(to, &svg, id, number);
	report_svg_begin(&svg, "Masses of all pups as multiples of their birth weights, against the published band",
			 "A curve for each pup with a birth weight. The hatched band is what the published daily gain "
			 "comes to.");
	report_svg_axes(
		&svg,
		&(struct report_svg_axis){ report_view_days_title(&view), view.from, view.to, REPORT_VIEW_DAY_TICKS },
		&(struct report_svg_axis){ "mass as a multiple of the birth weight", view.low, view.high,
					   REPORT_VIEW_TICKS },
		report_view_zero_ms(&view));
	report_view_draw_band(&svg, 1);
	for (size_t pup = 0; pup < model->n_pups; pup++) {
		style(class, pup);
		if (model->pups[pup].birth_g > 0)
			report_view_draw_curve(&svg, &view, pup, model->pups[pup].birth_g, class);
	}
	draw_names(&svg, &view, true);
	report_svg_end(&svg);
	(void)fprintf(to,
		      "<figcaption>Figure %u. The same curves divided by each pup\xe2\x80\x99s birth weight. Hatched: "
		      "a gain within the published band, 5 to 10 %% a day in week 1, 3.5 to 6 %% in weeks 2 to 4 (%s), "
		      "without a loss at first; none is published beyond day %.0f.",
		      number, CURVE_BAND_SOURCE, CURVE_BAND_DAYS);
	if (without)
		(void)fprintf(to, " Without a birth weight, and so not here: %zu.", without);
	(void)fputs("</figcaption>\n</figure>\n", to);
}
