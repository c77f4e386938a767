// SPDX-License-Identifier: MIT
#include "daemon/ctl/report_svg.h"
#include "daemon/ctl/html.h"
#include <math.h>

#define DAY_MS 86400000.0
#define WHISKER 3.0 /* a shorter one is hidden by its mark */

static double bottom(const struct report_svg *svg)
{
	return svg->height - svg->foot - REPORT_SVG_BOTTOM;
}

static double right(const struct report_svg *svg)
{
	return REPORT_SVG_WIDTH - svg->right;
}

void report_svg_begin(struct report_svg *svg, const char *title, const char *desc)
{
	FILE *to = svg->to;

	(void)fprintf(to, "<svg viewBox=\"0 0 %d %d\" role=\"img\" aria-labelledby=\"%s-t %s-d\">\n<title id=\"%s-t\">",
		      REPORT_SVG_WIDTH, svg->height, svg->id, svg->id, svg->id);
	html_text(to, title);
	(void)fprintf(to, "</title>\n<desc id=\"%s-d\">", svg->id);
	html_text(to, desc);
	(void)fprintf(to,
		      "</desc>\n<defs><clipPath id=\"%s-c\"><rect x=\"%d\" y=\"%d\" width=\"%.2f\" height=\"%.2f\"/></clipPath>"
		      "<pattern id=\"%s-h\" width=\"6\" height=\"6\" patternUnits=\"userSpaceOnUse\" "
		      "patternTransform=\"rotate(45)\"><path d=\"M0 0V6\" class=\"hatch\"/></pattern></defs>\n",
		      svg->id, REPORT_SVG_LEFT, REPORT_SVG_TOP, right(svg) - REPORT_SVG_LEFT, bottom(svg) - REPORT_SVG_TOP,
		      svg->id);
}

void report_svg_line(const struct report_svg *svg, const char *class, double x1, double y1, double x2, double y2)
{
	(void)fprintf(svg->to, "<line class=\"%s\" x1=\"%.2f\" y1=\"%.2f\" x2=\"%.2f\" y2=\"%.2f\"/>\n", class, x1, y1, x2, y2);
}

void report_svg_words(const struct report_svg *svg, const char *class, double px, double py, const char *text)
{
	(void)fprintf(svg->to, "<text class=\"%s\" x=\"%.2f\" y=\"%.2f\">", class, px, py);
	html_text(svg->to, text);
	(void)fputs("</text>\n", svg->to);
}

static void y_axis(const struct report_svg *svg, const char *title)
{
	char label[32];

	for (int i = 0; i < svg->y.n; i++) {
		double value = plot_tick(&svg->y, i), at = plot_at(&svg->y, value);
		(void)snprintf(label, sizeof label, "%.*f", svg->y.decimals, value);
		report_svg_line(svg, "grid", REPORT_SVG_LEFT, at, right(svg), at);
		report_svg_words(svg, "tick y", REPORT_SVG_LEFT - 6, at + 4, label);
	}
	(void)fprintf(svg->to, "<text class=\"name\" transform=\"translate(12 %.2f) rotate(-90)\">",
		      (REPORT_SVG_TOP + bottom(svg)) / 2);
	html_text(svg->to, title);
	(void)fputs("</text>\n", svg->to);
}

/* "8 Mar", local. */
static void date(char *buffer, size_t size, double ms)
{
	time_t seconds = (time_t)floor(ms / 1000);
	struct tm tm;

	buffer[0] = '\0';
	if (localtime_r(&seconds, &tm))
		(void)strftime(buffer, size, "%-d %b", &tm);
}

static void x_axis(const struct report_svg *svg, const char *title, int64_t zero_ms)
{
	char label[32];

	for (int i = 0; i < svg->x.n; i++) {
		double value = plot_tick(&svg->x, i), at = plot_at(&svg->x, value);
		(void)snprintf(label, sizeof label, "%.*f", svg->x.decimals, value);
		report_svg_line(svg, "grid", at, REPORT_SVG_TOP, at, bottom(svg) + 4);
		report_svg_words(svg, "tick x", at, bottom(svg) + 17, label);
		date(label, sizeof label, (double)zero_ms + value * DAY_MS);
		report_svg_words(svg, "tick d", at, bottom(svg) + 31, label);
	}
	report_svg_words(svg, "name", (REPORT_SVG_LEFT + right(svg)) / 2, bottom(svg) + 48, title);
}

void report_svg_axes(struct report_svg *svg, const struct report_svg_axis *x, const struct report_svg_axis *y, int64_t zero_ms)
{
	plot_axis(&svg->x, PLOT_DAYS, x->lo, x->hi, x->most, REPORT_SVG_LEFT, right(svg));
	plot_axis(&svg->y, PLOT_DECIMAL, y->lo, y->hi, y->most, bottom(svg), REPORT_SVG_TOP);
	y_axis(svg, y->title);
	x_axis(svg, x->title, zero_ms);
	(void)fprintf(svg->to, "<rect class=\"frame\" x=\"%d\" y=\"%d\" width=\"%.2f\" height=\"%.2f\"/>\n", REPORT_SVG_LEFT,
		      REPORT_SVG_TOP, right(svg) - REPORT_SVG_LEFT, bottom(svg) - REPORT_SVG_TOP);
}

void report_svg_path_begin(struct report_svg *svg)
{
	svg->pen_down = false;
	(void)fprintf(svg->to, "<path clip-path=\"url(#%s-c)\" d=\"", svg->id);
}

void report_svg_path_to(struct report_svg *svg, double x, double y)
{
	if (!isfinite(x) || !isfinite(y)) {
		svg->pen_down = false;
		return;
	}
	(void)fprintf(svg->to, "%c%.2f %.2f", svg->pen_down ? 'L' : 'M', plot_at(&svg->x, x), plot_at(&svg->y, y));
	svg->pen_down = true;
}

void report_svg_path_end(struct report_svg *svg, const char *class, bool closed)
{
	(void)fprintf(svg->to, "%s\" class=\"%s\"", closed && svg->pen_down ? "Z" : "", class);
	if (strcmp(class, "band") == 0) /* each figure its own, so that a page can be taken out by itself */
		(void)fprintf(svg->to, " fill=\"url(#%s-h)\"", svg->id);
	(void)fputs("/>\n", svg->to);
}

void report_svg_mark_at(const struct report_svg *svg, enum report_svg_mark mark, double px, double py)
{
	switch (mark) {
	case REPORT_SVG_DOT:
		(void)fprintf(svg->to, "<circle class=\"dot\" cx=\"%.2f\" cy=\"%.2f\" r=\"2\"/>\n", px, py);
		break;
	case REPORT_SVG_RING:
		(void)fprintf(svg->to, "<circle class=\"ring\" cx=\"%.2f\" cy=\"%.2f\" r=\"2.2\"/>\n", px, py);
		break;
	case REPORT_SVG_DIAMOND:
		(void)fprintf(svg->to, "<path class=\"diamond\" d=\"M%.2f %.2fl4.5 4.5l-4.5 4.5l-4.5 -4.5Z\"/>\n", px,
			      py - 4.5);
		break;
	case REPORT_SVG_CROSS:
		(void)fprintf(svg->to, "<path class=\"cross\" d=\"M%.2f %.2fl-4 -4m0 8l8 -8m0 8l-4 -4\"/>\n", px, py);
		break;
	}
}

void report_svg_mark(const struct report_svg *svg, enum report_svg_mark mark, double x, double y, double u)
{
	double px = plot_at(&svg->x, x), py = plot_at(&svg->y, y), half = fabs(plot_at(&svg->y, y + 2 * u) - py);

	if (half >= WHISKER)
		report_svg_line(svg, "whisker", px, py - half, px, py + half);
	report_svg_mark_at(svg, mark, px, py);
}

void report_svg_end(const struct report_svg *svg)
{
	(void)fputs("</svg>\n", svg->to);
}
