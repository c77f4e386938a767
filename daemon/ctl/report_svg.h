// SPDX-License-Identifier: MIT
#pragma once
/*
 * One plot as SVG inside HTML, drawn by hand: a frame with axes, and curves, areas, marks and words in it. Nothing is told
 * by colour alone. Classes are those of report_style.h. Lengths in user units, of which the width has REPORT_SVG_WIDTH.
 * Above: report_figures. Below: html, plot, when. Failures stay in the stream's error flag.
 */
#include "daemon/ctl/plot.h"
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>

#define REPORT_SVG_WIDTH 720
#define REPORT_SVG_LEFT 56
#define REPORT_SVG_TOP 12
#define REPORT_SVG_BOTTOM 58 /* below the frame: ticks, dates, the axis' name */

struct report_svg {
	FILE *to;
	const char *id; /* of the page's own, one a figure */
	int height, right, foot; /* right, foot: what is left beside the frame, and below all, for words */
	struct plot_axis x, y;
	bool pen_down; /* the path under construction has a point */
};

struct report_svg_axis {
	const char *title;
	double lo, hi;
	int most; /* ticks */
};

/* title and desc: what is heard instead of seen. */
void report_svg_begin(struct report_svg *svg, const char *title, const char *desc);
/* x in days; zero_ms: of day 0, for the dates below the ticks. */
void report_svg_axes(struct report_svg *svg, const struct report_svg_axis *x, const struct report_svg_axis *y, int64_t zero_ms);
/* A line or an area through points, cut at the frame. A value that is no number lifts the pen. */
void report_svg_path_begin(struct report_svg *svg);
void report_svg_path_to(struct report_svg *svg, double x, double y);
void report_svg_path_end(struct report_svg *svg, const char *class, bool closed);

enum report_svg_mark { REPORT_SVG_DOT, REPORT_SVG_RING, REPORT_SVG_DIAMOND, REPORT_SVG_CROSS };
/* At a value; u: twice it is shown to either side where that can be seen (0: not). */
void report_svg_mark(const struct report_svg *svg, enum report_svg_mark mark, double x, double y, double u);
/* In user units: */
void report_svg_mark_at(const struct report_svg *svg, enum report_svg_mark mark, double px, double py);
void report_svg_line(const struct report_svg *svg, const char *class, double x1, double y1, double x2, double y2);
void report_svg_words(const struct report_svg *svg, const char *class, double px, double py, const char *text);
void report_svg_end(const struct report_svg *svg);
