// SPDX-License-Identifier: MIT
#include "daemon/ctl/report_figures.h"
#include "daemon/ctl/html.h"
#include "daemon/ctl/report_svg.h"
#include "daemon/ctl/text.h"
#include "daemon/litter/curve.h"
#include <math.h>

#define BIG 400 /* user units; 720 of them are 190 mm */
#define MIDDLE 370
#define SMALL 215
#define NAMES 124 /* right of the frame */
#define LABEL_COLUMNS 16
#define LABEL_GAP 12.5
#define STYLES 12       /* of lines: report_style.h */
#define BAND_STEP 0.25  /* days; the band bends at whole ones */
#define MOST_DOTS 150   /* with more, strokes of uncertainty would hide the curve */
#define TICKS 10
#define DAY_TICKS 15

/* What a figure is drawn with. */
struct view {
	const struct report *report;
	size_t pup;      /* whose age the days are; SIZE_MAX: the litter's */
	double from, to; /* days */
	double low, high; /* of what is shown */
};

static double days(const struct view *view, int64_t at_ms)
{
	const struct report_model *model = view->report->model;

	return view->pup == SIZE_MAX ? (double)(at_ms - model->zero_ms) / (double)REPORT_DAY_MS
				     : report_model_age(model, view->pup, at_ms);
}

static int64_t zero_ms(const struct view *view)
{
	const struct report_model *model = view->report->model;

	return view->pup != SIZE_MAX && model->pups[view->pup].born_ms != INT64_MIN ? model->pups[view->pup].born_ms
										     : model->zero_ms;
}

static void widen(double *low, double *high, double value)
{
	if (!isfinite(value))
		return;
	*low = fmin(*low, value);
	*high = fmax(*high, value);
}

static struct view view_of(const struct report *report, size_t pup)
{
	return (struct view){ .report = report, .pup = pup, .from = INFINITY, .to = -INFINITY, .low = INFINITY, .high = -INFINITY };
}

static bool is_empty(const struct view *view)
{
	return !(view->from <= view->to) || !(view->low <= view->high);
}

static const char *days_title(const struct view *view)
{
	return view->report->model->born_ms != INT64_MIN ? "age in days, and the date"
							 : "days since the first weighing, and the date";
}

static void none(FILE *to, const char *what)
{
	(void)fprintf(to, "<p class=\"none\">%s</p>\n", what);
}

/* A pup's curve, divided by each (a unit of mass, or its birth weight). */
static void draw_curve(struct report_svg *svg, const struct view *view, size_t pup, double each, const char *class)
{
	const struct report_model *model = view->report->model;

	report_svg_path_begin(svg);
	for (size_t i = report_model_next(model, pup, 0); i < model->n; i = report_model_next(model, pup, i + 1))
		if (report_shown(view->report, model->points[i].at_ms))
			report_svg_path_to(svg, days(view, model->points[i].at_ms), model->points[i].curve.mass_g / each);
	report_svg_path_end(svg, class, false);
}

/* What is believed of it with 95 %: out along the high end, back along the low one. */
static void draw_doubt(struct report_svg *svg, const struct view *view, size_t pup, double each, const char *class)
{
	const struct report_model *model = view->report->model;

	report_svg_path_begin(svg);
	for (size_t i = 0; i < model->n; i++) {
		const struct report_point *point = &model->points[i];
		if (point->pup == pup && report_shown(view->report, point->at_ms) && isfinite(point->curve.high_g))
			report_svg_path_to(svg, days(view, point->at_ms), point->curve.high_g / each);
	}
	for (size_t i = model->n; i-- > 0;) {
		const struct report_point *point = &model->points[i];
		if (point->pup == pup && report_shown(view->report, point->at_ms) && isfinite(point->curve.low_g))
			report_svg_path_to(svg, days(view, point->at_ms), point->curve.low_g / each);
	}
	report_svg_path_end(svg, class, true);
}

/* The published band of one that weighed so much at birth, and its two ends as lines. */
static void draw_band(struct report_svg *svg, double birth)
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

/* ---- names at the ends of curves ---- */

static void draw_names(struct report_svg *svg, const struct view *view, bool by_birth)
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
				end[n] = days(view, model->points[i].at_ms);
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
		report_svg_line(svg, "leader", plot_at(&svg->x, end[i]), own[i], REPORT_SVG_WIDTH - svg->right + 10, at[i]);
		report_svg_words(svg, "label", REPORT_SVG_WIDTH - svg->right + 13, at[i] + 4, label);
	}
}

static void style(char buffer[16], size_t pup)
{
	(void)snprintf(buffer, 16, "curve s%zu", pup % STYLES);
}

/* ---- the litter ---- */

static void figure_begin(FILE *to, struct report_svg *svg, char id[24], unsigned number)
{
	(void)snprintf(id, 24, "fig-%u", number);
	svg->id = id;
	svg->to = to;
	(void)fputs("<figure>\n", to);
}

static struct view view_litter(const struct report *report, bool by_birth)
{
	const struct report_model *model = report->model;
	struct view view = view_of(report, SIZE_MAX);

	for (size_t i = 0; i < model->n; i++) {
		const struct report_point *point = &model->points[i];
		double each = by_birth ? model->pups[point->pup].birth_g : report->unit_g;
		if (!report_shown(report, point->at_ms) || !isfinite(point->curve.mass_g / each))
			continue;
		widen(&view.from, &view.to, days(&view, point->at_ms));
		widen(&view.low, &view.high, (by_birth ? point->curve.mass_g : point->curve.low_g) / each);
		widen(&view.low, &view.high, (by_birth ? point->curve.mass_g : point->curve.high_g) / each);
	}
	if (by_birth && model->born_ms != INT64_MIN && report->since_ms == INT64_MIN)
		view.from = fmin(view.from, 0);
	return view;
}

void report_figure_litter(FILE *to, const struct report *report, unsigned number)
{
	const struct report_model *model = report->model;
	struct view view = view_litter(report, false);
	struct report_svg svg = { .height = BIG, .right = NAMES };
	char id[24], desc[256], title[48], class[16];

	if (is_empty(&view)) {
		none(to, "There is no curve of this litter: nothing was weighed.");
		return;
	}
	figure_begin(to, &svg, id, number);
	(void)snprintf(desc, sizeof desc,
		       "A curve for each of %zu pups, from day %.1f to day %.1f, between %.0f and %.0f %s; the same numbers stand "
		       "in the tables of weights.",
		       model->n_pups, view.from, view.to, view.low, view.high, report->unit);
	report_svg_begin(&svg, "Masses of all pups by age", desc);
	(void)snprintf(title, sizeof title, "mass in %s", report->unit);
	report_svg_axes(&svg, &(struct report_svg_axis){ days_title(&view), view.from, view.to, DAY_TICKS },
			&(struct report_svg_axis){ title, view.low, view.high, TICKS }, zero_ms(&view));
	for (size_t pup = 0; pup < model->n_pups; pup++)
		draw_doubt(&svg, &view, pup, report->unit_g, "doubt");
	for (size_t pup = 0; pup < model->n_pups; pup++) {
		style(class, pup);
		draw_curve(&svg, &view, pup, report->unit_g, class);
	}
	draw_names(&svg, &view, false);
	report_svg_end(&svg);
	(void)fprintf(to,
		      "<figcaption>Figure %u. Each pup\xe2\x80\x99s mass without gut fill, as all its weighings tell it (line), and "
		      "where it lies with 95 %% certainty (grey).</figcaption>\n</figure>\n",
		      number);
}

void report_figure_times_birth(FILE *to, const struct report *report, unsigned number)
{
	const struct report_model *model = report->model;
	struct view view = view_litter(report, true);
	struct report_svg svg = { .height = BIG, .right = NAMES };
	char id[24], class[16];
	size_t without = 0;

	for (size_t pup = 0; pup < model->n_pups; pup++)
		without += !(model->pups[pup].birth_g > 0);
	if (is_empty(&view) || model->born_ms == INT64_MIN) {
		none(to, "Against the published band a pup is compared by its birth weight and age; neither is known here.");
		return;
	}
	figure_begin(to, &svg, id, number);
	report_svg_begin(&svg, "Masses of all pups as multiples of their birth weights, against the published band",
			 "A curve for each pup with a birth weight. The hatched band is what the published daily gain comes to.");
	report_svg_axes(&svg, &(struct report_svg_axis){ days_title(&view), view.from, view.to, DAY_TICKS },
			&(struct report_svg_axis){ "mass as a multiple of the birth weight", view.low, view.high, TICKS },
			zero_ms(&view));
	draw_band(&svg, 1);
	for (size_t pup = 0; pup < model->n_pups; pup++) {
		style(class, pup);
		if (model->pups[pup].birth_g > 0)
			draw_curve(&svg, &view, pup, model->pups[pup].birth_g, class);
	}
	draw_names(&svg, &view, true);
	report_svg_end(&svg);
	(void)fprintf(to,
		      "<figcaption>Figure %u. The same curves divided by each pup\xe2\x80\x99s birth weight. Hatched: a gain within "
		      "the published band, 5 to 10 %% a day in week 1, 3.5 to 6 %% in weeks 2 to 4 (%s), without a loss at first; "
		      "none is published beyond day %.0f.",
		      number, CURVE_BAND_SOURCE, CURVE_BAND_DAYS);
	if (without)
		(void)fprintf(to, " Without a birth weight, and so not here: %zu.", without);
	(void)fputs("</figcaption>\n</figure>\n", to);
}

/* ---- one pup ---- */

static enum report_svg_mark mark_of(const struct report_point *point)
{
	if (!point->row)
		return REPORT_SVG_DIAMOND;
	if (point->curve.wild)
		return REPORT_SVG_CROSS;
	return strcmp(json_string_value(json_object_get(point->row, "origin")), "typed") == 0 ? REPORT_SVG_RING : REPORT_SVG_DOT;
}

static void draw_marks(const struct report_svg *svg, const struct view *view)
{
	const struct report_model *model = view->report->model;

	for (size_t i = 0; i < model->n; i++) {
		const struct report_point *point = &model->points[i];
		if (point->pup != view->pup || !report_shown(view->report, point->at_ms) || !isfinite(point->mass_g))
			continue;
		report_svg_mark(svg, mark_of(point), days(view, point->at_ms), point->mass_g / view->report->unit_g,
				model->pups[view->pup].n > MOST_DOTS ? 0 : point->u_g / view->report->unit_g);
	}
}

/* What the lines and marks mean, below the figure. */
static void draw_legend(const struct report_svg *svg, bool band)
{
	static const struct {
		enum report_svg_mark mark;
		const char *words;
		double at;
	} marks[] = {
		{ REPORT_SVG_DOT, "weighed", 62 },
		{ REPORT_SVG_RING, "typed", 132 },
		{ REPORT_SVG_DIAMOND, "birth weight", 190 },
		{ REPORT_SVG_CROSS, "far off, not counted", 286 },
	};
	double y = svg->height - 8;

	for (size_t i = 0; i < sizeof marks / sizeof *marks; i++) {
		report_svg_mark_at(svg, marks[i].mark, marks[i].at, y - 4);
		report_svg_words(svg, "key", marks[i].at + 9, y, marks[i].words);
	}
	report_svg_line(svg, "mate", 420, y - 4, 450, y - 4);
	report_svg_words(svg, "key", 455, y, "littermates");
	if (band) {
		(void)fprintf(svg->to, "<rect class=\"band edge\" fill=\"url(#%s-h)\" x=\"540\" y=\"%.2f\" width=\"30\" height=\"11\"/>\n",
			      svg->id, y - 10);
		report_svg_words(svg, "key", 575, y, "published band");
	}
}

static struct view view_pup(const struct report *report, size_t pup)
{
	const struct report_model *model = report->model;
	struct view view = view_of(report, pup);

	for (size_t i = 0; i < model->n; i++) {
		const struct report_point *point = &model->points[i];
		if (!report_shown(report, point->at_ms))
			continue;
		widen(&view.from, &view.to, days(&view, point->at_ms));
		widen(&view.low, &view.high, point->curve.low_g / report->unit_g);
		widen(&view.low, &view.high, point->curve.high_g / report->unit_g);
		if (point->pup == pup)
			widen(&view.low, &view.high, point->mass_g / report->unit_g);
	}
	return view;
}

static bool has_points(const struct report *report, size_t pup)
{
	for (size_t i = 0; i < report->model->n; i++)
		if (report->model->points[i].pup == pup && report_shown(report, report->model->points[i].at_ms))
			return true;
	return false;
}

static void doubled(const struct report_svg *svg, double birth)
{
	double at = plot_at(&svg->y, 2 * birth);

	if (!(2 * birth > svg->y.lo && 2 * birth < svg->y.hi))
		return;
	report_svg_line(svg, "twice", REPORT_SVG_LEFT, at, REPORT_SVG_WIDTH - svg->right, at);
	report_svg_words(svg, "key", REPORT_SVG_LEFT + 5, at - 3, "twice the birth weight");
}

void report_figure_pup(FILE *to, const struct report *report, size_t pup, unsigned number)
{
	const struct report_pup *one = &report->model->pups[pup];
	struct view view = view_pup(report, pup);
	struct report_svg svg = { .height = MIDDLE, .right = 14, .foot = 20 };
	bool band = one->birth_g > 0 && one->born_ms != INT64_MIN;
	char id[24], title[48], name[192];

	if (is_empty(&view) || !has_points(report, pup)) {
		none(to, "Nothing was weighed, so there is no curve.");
		return;
	}
	figure_begin(to, &svg, id, number);
	(void)snprintf(name, sizeof name, "Mass of %.150s by age", one->name);
	report_svg_begin(&svg, name,
			 "Its weighings as marks, its curve with what is believed with 95 % certainty, its littermates dashed, and the "
			 "published band hatched. The numbers stand in the table of weights below.");
	(void)snprintf(title, sizeof title, "mass in %s", report->unit);
	report_svg_axes(&svg, &(struct report_svg_axis){ days_title(&view), view.from, view.to, DAY_TICKS },
			&(struct report_svg_axis){ title, view.low, view.high, TICKS }, zero_ms(&view));
	if (band)
		draw_band(&svg, one->birth_g / report->unit_g);
	for (size_t mate = 0; mate < report->model->n_pups; mate++)
		if (mate != pup)
			draw_curve(&svg, &view, mate, report->unit_g, "mate");
	doubled(&svg, one->birth_g / report->unit_g);
	draw_doubt(&svg, &view, pup, report->unit_g, "doubt own");
	draw_curve(&svg, &view, pup, report->unit_g, "curve own");
	draw_marks(&svg, &view);
	draw_legend(&svg, band);
	report_svg_end(&svg);
	(void)fprintf(to, "<figcaption>Figure %u. ", number);
	html_text(to, one->name);
	(void)fputs(": its mass without gut fill (thick line) with 95 % certainty (grey). Upright strokes: twice the standard "
		    "uncertainty of a weighing, where that can be seen.</figcaption>\n</figure>\n",
		    to);
}

/* ---- its gain ---- */

static double gain_pct(const struct report_point *point, double sigmas)
{
	return 100 * expm1(point->curve.rate + sigmas * point->curve.u_rate);
}

static struct view view_gain(const struct report *report, size_t pup)
{
	struct view view = view_of(report, pup);

	for (size_t i = 0; i < report->model->n; i++) {
		const struct report_point *point = &report->model->points[i];
		if (point->pup != pup || !report_shown(report, point->at_ms) || !isfinite(point->curve.rate))
			continue;
		widen(&view.from, &view.to, days(&view, point->at_ms));
		widen(&view.low, &view.high, gain_pct(point, -2));
		widen(&view.low, &view.high, gain_pct(point, 2));
	}
	widen(&view.low, &view.high, 0);
	if (view.from < CURVE_BAND_DAYS && report->model->pups[pup].born_ms != INT64_MIN)
		widen(&view.low, &view.high, 10);
	return view;
}

/* Two steps: week 1, weeks 2 to 4. */
static void draw_gain_band(struct report_svg *svg)
{
	double from = fmax(svg->x.lo, 0), until = fmin(svg->x.hi, CURVE_BAND_DAYS), low, high;
	double edges[] = { from, fmin(fmax(from, 7), until), until };

	if (!(from < until))
		return;
	for (int i = 0; i < 2; i++) {
		if (!(edges[i] < edges[i + 1]) || !curve_band_pct((edges[i] + edges[i + 1]) / 2, &low, &high))
			continue;
		report_svg_path_begin(svg);
		report_svg_path_to(svg, edges[i], low);
		report_svg_path_to(svg, edges[i], high);
		report_svg_path_to(svg, edges[i + 1], high);
		report_svg_path_to(svg, edges[i + 1], low);
		report_svg_path_end(svg, "band", true);
	}
}

static void draw_gain(struct report_svg *svg, const struct view *view)
{
	const struct report_model *model = view->report->model;

	report_svg_path_begin(svg);
	for (int side = 1; side >= -1; side -= 2)
		for (size_t k = 0; k < model->n; k++) {
			const struct report_point *point = &model->points[side > 0 ? k : model->n - 1 - k];
			if (point->pup == view->pup && report_shown(view->report, point->at_ms) && isfinite(point->curve.rate))
				report_svg_path_to(svg, days(view, point->at_ms), gain_pct(point, 2 * side));
		}
	report_svg_path_end(svg, "doubt own", true);
	report_svg_path_begin(svg);
	for (size_t i = report_model_next(model, view->pup, 0); i < model->n; i = report_model_next(model, view->pup, i + 1))
		if (report_shown(view->report, model->points[i].at_ms))
			report_svg_path_to(svg, days(view, model->points[i].at_ms), gain_pct(&model->points[i], 0));
	report_svg_path_end(svg, "curve own", false);
}

void report_figure_gain(FILE *to, const struct report *report, size_t pup, unsigned number)
{
	const struct report_pup *one = &report->model->pups[pup];
	struct view view = view_gain(report, pup);
	struct report_svg svg = { .height = SMALL, .right = 14 };
	bool aged = one->born_ms != INT64_MIN;
	char id[24], name[192];

	if (is_empty(&view))
		return; /* the figure before it has said why */
	figure_begin(to, &svg, id, number);
	(void)snprintf(name, sizeof name, "Daily gain of %.150s by age", one->name);
	report_svg_begin(&svg, name,
			 "The gain a day in per cent with twice its standard uncertainty, and the published band hatched. The numbers "
			 "stand in the table of weights below.");
	report_svg_axes(&svg, &(struct report_svg_axis){ days_title(&view), view.from, view.to, DAY_TICKS },
			&(struct report_svg_axis){ "gain a day, %", view.low, view.high, 6 }, zero_ms(&view));
	if (aged)
		draw_gain_band(&svg);
	draw_gain(&svg, &view);
	if (svg.y.lo < 0)
		report_svg_line(&svg, "zero", REPORT_SVG_LEFT, plot_at(&svg.y, 0), REPORT_SVG_WIDTH - svg.right,
				plot_at(&svg.y, 0));
	report_svg_end(&svg);
	(void)fprintf(to, "<figcaption>Figure %u. ", number);
	html_text(to, one->name);
	(void)fprintf(to,
		      ": what it gained a day, looked back at with all weighings (thick line), within twice its standard uncertainty "
		      "(grey)%s.</figcaption>\n</figure>\n",
		      aged ? "; hatched: the published band" : "");
}
