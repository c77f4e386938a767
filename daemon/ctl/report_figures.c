// SPDX-License-Identifier: MIT
#include "daemon/ctl/report_figures.h"
#include "daemon/ctl/html.h"
#include "daemon/ctl/report_view.h"
#include "daemon/litter/curve.h"
#include <math.h>

#define MOST_DOTS 150 /* with more, strokes of uncertainty would hide the curve */

static enum report_svg_mark mark_of(const struct report_point *point)
{
	if (!point->row)
		return REPORT_SVG_DIAMOND;
	if (point->curve.wild)
		return REPORT_SVG_CROSS;
	return strcmp(json_string_value(json_object_get(point->row, "origin")), "typed") == 0 ? REPORT_SVG_RING
											      : REPORT_SVG_DOT;
}

static void draw_marks(const struct report_svg *svg, const struct report_view *view)
{
	const struct report_model *model = view->report->model;

	for (size_t i = 0; i < model->n; i++) {
		const struct report_point *point = &model->points[i];
		if (point->pup != view->pup || !report_shown(view->report, point->at_ms) || !isfinite(point->mass_g))
			continue;
		report_svg_mark(svg, mark_of(point), report_view_days(view, point->at_ms),
				point->mass_g / view->report->unit_g,
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
		(void)fprintf(svg->to,
			      "<rect class=\"band edge\" fill=\"url(#%s-h)\" x=\"540\" y=\"%.2f\" width=\"30\" "
			      "height=\"11\"/>\n",
			      svg->id, y - 10);
		report_svg_words(svg, "key", 575, y, "published band");
	}
}

static struct report_view view_pup(const struct report *report, size_t pup)
{
	const struct report_model *model = report->model;
	struct report_view view = report_view_of(report, pup);

	for (size_t i = 0; i < model->n; i++) {
		const struct report_point *point = &model->points[i];
		if (!report_shown(report, point->at_ms))
			continue;
		report_view_widen(&view.from, &view.to, report_view_days(&view, point->at_ms));
		report_view_widen(&view.low, &view.high, point->curve.low_g / report->unit_g);
		report_view_widen(&view.low, &view.high, point->curve.high_g / report->unit_g);
		if (point->pup == pup)
			report_view_widen(&view.low, &view.high, point->mass_g / report->unit_g);
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
	struct report_view view = view_pup(report, pup);
	struct report_svg svg = { .height = REPORT_VIEW_MIDDLE, .right = 14, .foot = 20 };
	bool band = one->birth_g > 0 && one->born_ms != INT64_MIN;
	char id[24], title[48], name[192];

	if (report_view_is_empty(&view) || !has_points(report, pup)) {
		report_view_none(to, "Nothing was weighed, so there is no curve.");
		return;
	}
	report_view_begin(to, &svg, id, number);
	(void)snprintf(name, sizeof name, "Mass of %.150s by age", one->name);
	report_svg_begin(&svg, name,
			 "Its weighings as marks, its curve with what is believed with 95 % certainty, its littermates "
			 "dashed, and the published band hatched. The numbers stand in the table of weights below.");
	(void)snprintf(title, sizeof title, "mass in %s", report->unit);
	report_svg_axes(
		&svg,
		&(struct report_svg_axis){ report_view_days_title(&view), view.from, view.to, REPORT_VIEW_DAY_TICKS },
		&(struct report_svg_axis){ title, view.low, view.high, REPORT_VIEW_TICKS }, report_view_zero_ms(&view));
	if (band)
		report_view_draw_band(&svg, one->birth_g / report->unit_g);
	for (size_t mate = 0; mate < report->model->n_pups; mate++)
		if (mate != pup)
			report_view_draw_curve(&svg, &view, mate, report->unit_g, "mate");
	doubled(&svg, one->birth_g / report->unit_g);
	report_view_draw_doubt(&svg, &view, pup, report->unit_g, "doubt own");
	report_view_draw_curve(&svg, &view, pup, report->unit_g, "curve own");
	draw_marks(&svg, &view);
	draw_legend(&svg, band);
	report_svg_end(&svg);
	(void)fprintf(to, "<figcaption>Figure %u. ", number);
	html_text(to, one->name);
	(void)fputs(": its mass without gut fill (thick line) with 95 % certainty (grey). Upright strokes: twice the "
		    "standard uncertainty of a weighing, where that can be seen.</figcaption>\n</figure>\n",
		    to);
}

/* ---- its gain ---- */

static double gain_pct(const struct report_point *point, double sigmas)
{
	return 100 * expm1(point->curve.rate + sigmas * point->curve.u_rate);
}

static struct report_view view_gain(const struct report *report, size_t pup)
{
	struct report_view view = report_view_of(report, pup);

	for (size_t i = 0; i < report->model->n; i++) {
		const struct report_point *point = &report->model->points[i];
		if (point->pup != pup || !report_shown(report, point->at_ms) || !isfinite(point->curve.rate))
			continue;
		report_view_widen(&view.from, &view.to, report_view_days(&view, point->at_ms));
		report_view_widen(&view.low, &view.high, gain_pct(point, -2));
		report_view_widen(&view.low, &view.high, gain_pct(point, 2));
	}
	report_view_widen(&view.low, &view.high, 0);
	if (view.from < CURVE_BAND_DAYS && report->model->pups[pup].born_ms != INT64_MIN)
		report_view_widen(&view.low, &view.high, 10);
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

static void draw_gain(struct report_svg *svg, const struct report_view *view)
{
	const struct report_model *model = view->report->model;

	report_svg_path_begin(svg);
	for (int side = 1; side >= -1; side -= 2)
		for (size_t k = 0; k < model->n; k++) {
			const struct report_point *point = &model->points[side > 0 ? k : model->n - 1 - k];
			if (point->pup == view->pup && report_shown(view->report, point->at_ms) &&
			    isfinite(point->curve.rate))
				report_svg_path_to(svg, report_view_days(view, point->at_ms),
						   gain_pct(point, 2 * side));
		}
	report_svg_path_end(svg, "doubt own", true);
	report_svg_path_begin(svg);
	for (size_t i = report_model_next(model, view->pup, 0); i < model->n;
	     i = report_model_next(model, view->pup, i + 1))
		if (report_shown(view->report, model->points[i].at_ms))
			report_svg_path_to(svg, report_view_days(view, model->points[i].at_ms),
					   gain_pct(&model->points[i], 0));
	report_svg_path_end(svg, "curve own", false);
}

void report_figure_gain(FILE *to, const struct report *report, size_t pup, unsigned number)
{
	const struct report_pup *one = &report->model->pups[pup];
	struct report_view view = view_gain(report, pup);
	struct report_svg svg = { .height = REPORT_VIEW_SMALL, .right = 14 };
	bool aged = one->born_ms != INT64_MIN;
	char id[24], name[192];

	if (report_view_is_empty(&view))
		return; /* the figure before it has said why */
	report_view_begin(to, &svg, id, number);
	(void)snprintf(name, sizeof name, "Daily gain of %.150s by age", one->name);
	report_svg_begin(&svg, name,
			 "The gain a day in per cent with twice its standard uncertainty, and the published band "
			 "hatched. The numbers stand in the table of weights below.");
	report_svg_axes(
		&svg,
		&(struct report_svg_axis){ report_view_days_title(&view), view.from, view.to, REPORT_VIEW_DAY_TICKS },
		&(struct report_svg_axis){ "gain a day, %", view.low, view.high, 6 }, report_view_zero_ms(&view));
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
		      ": what it gained a day, looked back at with all weighings (thick line), within twice its "
		      "standard uncertainty (grey)%s.</figcaption>\n</figure>\n",
		      aged ? "; hatched: the published band" : "");
}
