// SPDX-License-Identifier: MIT
#include "daemon/ctl/report_page.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/html.h"
#include "daemon/ctl/report_figures.h"
#include "daemon/ctl/report_style.h"
#include "daemon/ctl/show.h"
#include <math.h>

static void head(FILE *to, const struct report *report)
{
	(void)fputs("<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
		    "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n"
		    "<meta name=\"generator\" content=\"bismar " BISMAR_VERSION "\">\n<title>Litter ",
		    to);
	html_text(to, field_text(report->rows->litter, "litter"));
	(void)fprintf(to, "</title>\n<style>\n%s</style>\n</head>\n<body>\n<main>\n<h1>Litter ", report_style);
	html_text(to, field_text(report->rows->litter, "litter"));
	(void)fputs("</h1>\n", to);
}

static void term(FILE *to, const char *name)
{
	(void)fprintf(to, "<dt>%s</dt><dd>", name);
}

static void term_end(FILE *to)
{
	(void)fputs("</dd>\n", to);
}

static void born(FILE *to, const struct report *report)
{
	term(to, "Born");
	if (report->model->born_ms != INT64_MIN)
		report_time(to, report->model->born_ms);
	else
		(void)fputs("not told", to);
	term_end(to);
}

static void pups(FILE *to, const struct report *report)
{
	size_t n = report->model->n_pups, females = 0, males = 0, gone = 0, still = 0, i;
	json_t *row;

	for (i = 0; i < n; i++) {
		const json_t *pup = report->model->pups[i].row;
		females += strcmp(field_text(pup, "sex"), "f") == 0;
		males += strcmp(field_text(pup, "sex"), "m") == 0;
		gone += report_ms(pup, "gone_at_ms") != INT64_MIN;
	}
	json_array_foreach (report->rows->births, i, row)
		still += report_number(row, "stillborn") > 0;
	term(to, "Pups");
	(void)fprintf(to, "%zu (%zu female, %zu male, %zu not told)", n, females, males, n - females - males);
	if (gone)
		(void)fprintf(to, ", of which gone: %zu", gone);
	if (still)
		(void)fprintf(to, "; stillborn: %zu", still);
	term_end(to);
}

/* How many of the readings have a word in a column. */
static size_t count(const struct report *report, const char *key, const char *word)
{
	json_t *row;
	size_t i, n = 0;

	json_array_foreach (report->rows->readings, i, row)
		n += strcmp(field_text(row, key), word) == 0;
	return n;
}

static void made_from(FILE *to, const struct report *report)
{
	const json_t *readings = report->rows->readings;
	size_t n = json_array_size(readings);

	term(to, "Computed from");
	(void)fprintf(to, "%zu weighings", n);
	if (n > 0) {
		(void)fprintf(to, " (%zu as the scale sent them, %zu that a scale had kept, %zu typed by hand), ",
			      count(report, "origin", "radio"), count(report, "origin", "stored"),
			      count(report, "origin", "typed"));
		report_time(to, report_ms(json_array_get(readings, 0), "at_ms"));
		(void)fputs(" to ", to);
		report_time(to, report_ms(json_array_get(readings, n - 1), "at_ms"));
	}
	(void)fputs(", and what was noted beside them; the database\xe2\x80\x99s views, schema 1", to);
	term_end(to);
	if (report->since_ms == INT64_MIN)
		return;
	term(to, "Shown");
	(void)fputs("from ", to);
	report_time(to, report->since_ms);
	(void)fputs(" on; reckoned from all", to);
	term_end(to);
}

static void facts(FILE *to, const struct report *report)
{
	double adult_g = report_number(report->rows->litter, "adult_g");
	const char *dam = field_text(report->rows->litter, "dam");
	char text[SHOW_SIZE];

	(void)fputs("<dl>\n", to);
	term(to, "Dam");
	html_text(to, *dam ? dam : "not told");
	term_end(to);
	born(to, report);
	pups(to, report);
	if (isfinite(adult_g)) {
		term(to, "Expected when grown");
		html_text(to, show_heavy(text, show_mg(adult_g), report->ctl->unit));
		term_end(to);
	}
	term(to, "Made");
	report_time(to, report->ctl->now_ms);
	(void)fputs(" by bismar " BISMAR_VERSION, to);
	term_end(to);
	made_from(to, report);
	(void)fputs("</dl>\n", to);
}

static void call(FILE *to)
{
	(void)fputs("<p class=\"call\"><strong>bismar is no vet: your vet\xe2\x80\x99s word goes first.</strong> A pup that is limp, cold, "
		    "cries without end, doesn\xe2\x80\x99t nurse, vomits, has diarrhoea or stops gaining needs your vet now, whatever stands "
		    "here. A scale sees mass alone, and scale, clock and people may err. A cold pup must not be fed.</p>\n",
		    to);
}

static void pup_row(FILE *to, const struct report *report, size_t i)
{
	const struct report_pup *pup = &report->model->pups[i];
	const char *verdict = field_text(pup->row, "verdict");
	double newest_g = NAN;
	int64_t newest_ms = INT64_MIN;
	bool gone = report_ms(pup->row, "gone_at_ms") != INT64_MIN;

	for (size_t k = 0; k < report->model->n; k++)
		if (report->model->points[k].pup == i && report->model->points[k].row) {
			newest_g = report->model->points[k].mass_g;
			newest_ms = report->model->points[k].at_ms;
		}
	(void)fprintf(to, "<tr><th scope=\"row\"><a href=\"#pup-%zu\">%zu ", i + 1, i + 1);
	html_text(to, pup->name);
	(void)fputs("</a></th>", to);
	report_cell(to, field_text(pup->row, "sex"));
	report_cell(to, field_text(pup->row, "collar"));
	report_cell_mass(to, report, pup->birth_g);
	report_cell_mass(to, report, newest_g);
	if (newest_ms != INT64_MIN) {
		(void)fputs("<td>", to);
		report_time(to, newest_ms);
		(void)fputs("</td>", to);
	} else {
		report_cell_nothing(to);
	}
	report_cell_signed(to, 100 * (newest_g / pup->birth_g - 1), NAN);
	report_cell_gain(to, report, report_number(pup->row, "gain_g_per_day"), report_number(pup->row, "u_gain_g_per_day"));
	report_cell_signed(to, report_number(pup->row, "gain_pct_per_day"), NAN);
	report_cell(to, gone ? "gone" : verdict);
	(void)fputs("</tr>\n", to);
}

static void overview(FILE *to, const struct report *report)
{
	char birth[24], newest[24], gain[24];
	const char *const heads[] = { "Pup", "Sex", "Collar", birth, newest, "Weighed", "#Since birth, %", gain, "#A day, %",
				      "Verdict", NULL };

	if (report->model->n_pups == 0) {
		(void)fputs("<p class=\"none\">No animal of this litter is on record.</p>\n", to);
		return;
	}
	(void)snprintf(birth, sizeof birth, "#Birth, %s", report->unit);
	(void)snprintf(newest, sizeof newest, "#Newest, %s", report->unit);
	(void)snprintf(gain, sizeof gain, "#A day, %s", report->unit);
	report_table(to, "overview", "The pups, as of their newest weighings", heads);
	for (size_t i = 0; i < report->model->n_pups; i++)
		pup_row(to, report, i);
	report_table_end(to);
	(void)fputs("<p>A day and verdict: what the growth model believes, with its standard uncertainty; a dash where it tells nothing "
		    "(gone, a closed litter, nothing weighed).</p>\n",
		    to);
}

void report_page(FILE *to, const struct report *report)
{
	unsigned figure = 3;

	head(to, report);
	facts(to, report);
	call(to);
	overview(to, report);
	report_concerns(to, report, NULL, "Concerns about the litter as a whole");
	(void)fputs("<h2>Curves</h2>\n", to);
	report_figure_litter(to, report, 1);
	report_figure_times_birth(to, report, 2);
	for (size_t i = 0; i < report->model->n_pups; i++)
		figure = report_pup(to, report, i, figure);
	report_end(to, report);
	(void)fputs("</main>\n</body>\n</html>\n", to);
}
