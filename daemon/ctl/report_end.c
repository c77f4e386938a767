// SPDX-License-Identifier: MIT
/* What stands after the pups: how it was weighed, what was corrected, how it is reckoned, whose figures it used. */
#include "daemon/ctl/field.h"
#include "daemon/ctl/html.h"
#include "daemon/ctl/report_page.h"
#include <math.h>

/* ---- how it was weighed ---- */

/* Weighings alike in scale, container and step. */
struct way {
	const char *scale, *container;
	double step_g, u_low_g, u_high_g;
	size_t n;
};

static bool is_way(const struct way *way, const json_t *row)
{
	double step_g = report_number(row, "step_g");

	return strcmp(way->scale, field_text(row, "scale")) == 0 && strcmp(way->container, field_text(row, "container")) == 0 &&
	       (isnan(step_g) ? isnan(way->step_g) : fabs(step_g - way->step_g) < 1e-9);
}

#define WAYS 64 /* more than anybody has scales and baskets; what is beyond is told as other */

static size_t find_ways(const struct report *report, struct way ways[WAYS], size_t *ret_others)
{
	size_t n = 0, i;
	json_t *row;

	*ret_others = 0;
	json_array_foreach (report->rows->readings, i, row) {
		double u_g = report_number(row, "u_g");
		size_t k = 0;
		while (k < n && !is_way(&ways[k], row))
			k++;
		if (k == WAYS) {
			++*ret_others;
			continue;
		}
		if (k == n)
			ways[n++] = (struct way){ field_text(row, "scale"), field_text(row, "container"), report_number(row, "step_g"),
						  u_g, u_g, 0 };
		ways[k].n++;
		ways[k].u_low_g = fmin(ways[k].u_low_g, u_g);
		ways[k].u_high_g = fmax(ways[k].u_high_g, u_g);
	}
	return n;
}

static void ways(FILE *to, const struct report *report)
{
	char step[24], low[32], high[32];
	const char *const heads[] = { "Scale", "Container", step, low, high, "#Weighings", NULL };
	struct way found[WAYS];
	size_t others, n = find_ways(report, found, &others);

	(void)snprintf(step, sizeof step, "#Its step, g"); /* a scale's own, whatever unit the masses are shown in */
	(void)snprintf(low, sizeof low, "#u from, %s", report->unit);
	(void)snprintf(high, sizeof high, "#u to, %s", report->unit);
	if (n == 0) {
		(void)fputs("<p class=\"none\">Nothing was weighed.</p>\n", to);
		return;
	}
	report_table(to, "ways", "Scales and containers", heads);
	for (size_t i = 0; i < n; i++) {
		(void)fputs("<tr><th scope=\"row\">", to);
		html_text(to, *found[i].scale ? found[i].scale : "none: typed by hand");
		(void)fputs("</th>", to);
		report_cell(to, *found[i].container ? found[i].container : "none");
		if (isfinite(found[i].step_g))
			report_cell_number(to, "%.10g", found[i].step_g);
		else
			report_cell_nothing(to);
		report_cell_u(to, report, found[i].u_low_g);
		report_cell_u(to, report, found[i].u_high_g);
		report_cell_number(to, "%zu", found[i].n);
		(void)fputs("</tr>\n", to);
	}
	report_table_end(to);
	if (others)
		(void)fprintf(to, "<p>And %zu weighings in other ways.</p>\n", others);
}

static void tares(FILE *to, const struct report *report)
{
	char mass[24], u[24], drift[48];
	const char *const heads[] = { "Tared", "Container", "Scale", mass, u, "#Checks since", "Last check", drift,
				      "#Too far off", NULL };
	json_t *row;
	size_t i;

	if (json_array_size(report->rows->tares) == 0) {
		(void)fputs("<p class=\"none\">No container of bismar\xe2\x80\x99s knowledge stood on a scale, so none was tared.</p>\n", to);
		return;
	}
	(void)snprintf(mass, sizeof mass, "#Mass, %s", report->unit);
	(void)snprintf(u, sizeof u, "#u, %s", report->unit);
	(void)snprintf(drift, sizeof drift, "#Farthest off, %s", report->unit);
	report_table(to, "tares", "Containers: each tare, and how often the empty one was seen since", heads);
	json_array_foreach (report->rows->tares, i, row) {
		report_row_begin(to, report_ms(row, "at_ms"));
		report_cell(to, field_text(row, "container"));
		report_cell(to, *field_text(row, "scale") ? field_text(row, "scale") : "typed, or not noted");
		report_cell_mass(to, report, report_number(row, "mass_g"));
		report_cell_u(to, report, report_number(row, "u_g"));
		report_cell_number(to, "%.0f", report_number(row, "checks"));
		report_cell_time(to, row, "checked_at_ms");
		report_cell_mass(to, report, report_number(row, "drift_g"));
		report_cell_number(to, "%.0f", fmax(0, report_number(row, "drifted")));
		(void)fputs("</tr>\n", to);
	}
	report_table_end(to);
}

/* ---- what was corrected ---- */

static void corrections(FILE *to, const struct report *report)
{
	char mass[24];
	const char *const heads[] = { "Weighed", mass, "Is", "Was said to be", "By", "When", NULL };
	json_t *row;
	size_t i;

	(void)fputs("<h2>What was corrected</h2>\n", to);
	if (json_array_size(report->rows->changed) == 0) {
		(void)fputs("<p class=\"none\">No answer was changed.</p>\n", to);
		return;
	}
	(void)snprintf(mass, sizeof mass, "#Mass, %s", report->unit);
	report_table(to, "changed", "Answers that later ones replaced; both are on record", heads);
	json_array_foreach (report->rows->changed, i, row) {
		const char *before = field_text(row, "before"), *kind = field_text(row, "kind");
		report_row_begin(to, report_ms(row, "weighed_at_ms"));
		report_cell_mass(to, report, report_number(row, "net_g"));
		report_cell(to, field_text(row, "now"));
		report_cell(to, *before                        ? before
				: strcmp(kind, "reopen") == 0 ? "nobody\xe2\x80\x99s yet: taken back"
							      : "no animal");
		report_cell(to, field_text(row, "answered_by"));
		report_cell_time(to, row, "at_ms");
		(void)fputs("</tr>\n", to);
	}
	report_table_end(to);
}

/* ---- how it is reckoned ---- */

static void method(FILE *to, const struct report *report)
{
	(void)fputs("<h2>How to read it</h2>\n<ul>\n", to);
	(void)fprintf(to,
		      "<li>u, and what follows \xc2\xb1, is a standard uncertainty (JCGM 100:2008): the truth lies within twice of it about "
		      "19 times in 20. Of a weighing it holds what the scale\xe2\x80\x99s step, the container\xe2\x80\x99s tare and the pup\xe2\x80\x99s "
		      "motion come to, and not how full the pup was.</li>\n"
		      "<li>A day, %% (weights): against the pup\xe2\x80\x99s weighing nearest to 24 hours before, from 12 to 36 hours, scaled to "
		      "a day. A full belly alone is several per cent, so single days vary.</li>\n"
		      "<li>Curve: the mass without gut fill, and the gain a day, as all weighings of the litter, earlier and later, tell "
		      "them; littermates tell what a whole round shared. It is smoothed (Rauch, Tung, Striebel 1965), and looks back: "
		      "at the time less was known. One far from all that was expected isn\xe2\x80\x99t in it until another agrees.</li>\n");
	if (!report->model->curves && report->model->n > 0)
		(void)fprintf(to, "<li>There are no curves here: the growth model knows %d animals of a litter at most.</li>\n",
			      GROWTH_ANIMALS);
	(void)fputs("<li>Times are local, of the computer that made this.</li>\n</ul>\n", to);
}

/* ---- whose figures ---- */

static const struct {
	const char *figure, *source;
} used[] = {
	{ "Published band: a gain of 5 to 10 % of body weight a day in week 1, 3.5 to 6 % in weeks 2 to 4",
	  "Small Animal Clinical Nutrition, 5th ed., ch. 16, p. 292" },
	{ "What the curves expect before they know a litter: 8 % a day in week 1, 5 % in weeks 2 to 4, a constant gain in grams after",
	  "Small Animal Clinical Nutrition, 5th ed., ch. 16, pp. 292 and 295; between these our approximation" },
	{ "Twice the birth weight: reached on day 7 to 14 in published accounts, by healthy giants on day 13.3",
	  "Small Animal Clinical Nutrition, 5th ed., p. 292 (8 to 10); Dog Owner's Home Veterinary Handbook, p. 492 (10 to 12); Great "
	  "Danes: air.unimi.it/handle/2434/408397" },
	{ "Not in the band: a loss of less than 10 % in the first 48 hours, which is tolerated when a gain follows",
	  "Dog Owner's Home Veterinary Handbook, p. 493" },
	{ "Gut fill: a meal is about 4 % of body weight", "Chastant & Mila 2019, Anim Reprod Sci 207:162, fig. 4" },
	{ "Standard uncertainty, and its digits", "JCGM 100:2008 (GUM), 4.3.7 and 7.2.6" },
	{ "Smoothing", "Rauch, Tung, Striebel 1965, AIAA Journal 3:1445" },
	{ "Ounce", "NIST SP 811, appendix B.8" },
};

static void source_row(FILE *to, const char *figure, const char *source)
{
	(void)fputs("<tr><th scope=\"row\">", to);
	html_text(to, figure);
	(void)fputs("</th>", to);
	report_cell(to, source);
	(void)fputs("</tr>\n", to);
}

/* Whether a concern before this place has the same rule and source. */
static bool was_told(const json_t *rows, size_t at)
{
	const json_t *row = json_array_get(rows, at);

	for (size_t i = 0; i < at; i++)
		if (strcmp(field_text(json_array_get(rows, i), "rule"), field_text(row, "rule")) == 0 &&
		    strcmp(field_text(json_array_get(rows, i), "source"), field_text(row, "source")) == 0)
			return true;
	return false;
}

static void sources(FILE *to, const struct report *report)
{
	static const char *const heads[] = { "Figure", "Source", NULL };
	const json_t *rows = report->rows->concerns;

	report_table(to, "sources", "Published figures that were used", heads);
	for (size_t i = 0; i < sizeof used / sizeof *used; i++)
		if (strcmp(used[i].figure, "Ounce") != 0 || strcmp(report->unit, "oz") == 0)
			source_row(to, used[i].figure, used[i].source);
	for (size_t i = 0; i < json_array_size(rows); i++) {
		char figure[96];
		if (was_told(rows, i))
			continue;
		(void)snprintf(figure, sizeof figure, "Rule %.80s", field_text(json_array_get(rows, i), "rule"));
		source_row(to, figure, field_text(json_array_get(rows, i), "source"));
	}
	report_table_end(to);
	(void)fputs("<p>Published values differ among breeds and authors; which of them was taken is our choice. They compare, they "
		    "don\xe2\x80\x99t diagnose.</p>\n",
		    to);
}

void report_end(FILE *to, const struct report *report)
{
	(void)fputs("<section class=\"pup\">\n<h2>How it was weighed</h2>\n", to);
	ways(to, report);
	tares(to, report);
	corrections(to, report);
	method(to, report);
	(void)fputs("<h2>Sources</h2>\n", to);
	sources(to, report);
	(void)fputs("<p class=\"call\"><strong>Your vet\xe2\x80\x99s word goes first.</strong> This record proposes no treatment and no amount. "
		    "That no rule has fired doesn\xe2\x80\x99t mean that all is well: look at the pup.</p>\n</section>\n",
		    to);
}
