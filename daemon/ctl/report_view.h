// SPDX-License-Identifier: MIT
#pragma once
/*
 * What the report's plots have in common: the span that is shown, a pup's curve and its doubt, the published band.
 * Above: report_litter, report_figures. Below: report_svg, litter/curve.
 */
#include "daemon/ctl/report_show.h"
#include "daemon/ctl/report_svg.h"

#define REPORT_VIEW_BIG 400 /* heights in user units; 720 of them are 190 mm */
#define REPORT_VIEW_MIDDLE 370
#define REPORT_VIEW_SMALL 215
#define REPORT_VIEW_TICKS 10
#define REPORT_VIEW_DAY_TICKS 15

struct report_view {
	const struct report *report;
	size_t pup;       /* whose age the days are; SIZE_MAX: the litter's */
	double from, to;  /* days */
	double low, high; /* of what is shown */
};

/* An empty one, to be widened. */
struct report_view report_view_of(const struct report *report, size_t pup);
bool report_view_is_empty(const struct report_view *view);
/* Takes value in; one that isn't finite changes nothing. */
void report_view_widen(double *low, double *high, double value);
/* A time on the view's axis of days; and the time of its day 0. */
double report_view_days(const struct report_view *view, int64_t at_ms);
int64_t report_view_zero_ms(const struct report_view *view);
const char *report_view_days_title(const struct report_view *view);

/* A sentence in place of a figure. */
void report_view_none(FILE *to, const char *what);
/* Begins a figure, before report_svg_begin(); svg borrows id. */
void report_view_begin(FILE *to, struct report_svg *svg, char id[24], unsigned number);
/* A pup's curve, divided by each (a unit of mass, or its birth weight); what is believed of it with 95 %, as an area.
 */
void report_view_draw_curve(struct report_svg *svg, const struct report_view *view, size_t pup, double each,
			    const char *class);
void report_view_draw_doubt(struct report_svg *svg, const struct report_view *view, size_t pup, double each,
			    const char *class);
/* The published band of one that weighed so much at birth, and its two ends as lines. */
void report_view_draw_band(struct report_svg *svg, double birth);
