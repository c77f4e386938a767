// SPDX-License-Identifier: MIT
/* A page a pup. */
#include "daemon/ctl/field.h"
#include "daemon/ctl/html.h"
#include "daemon/ctl/level.h"
#include "daemon/ctl/report_figures.h"
#include "daemon/ctl/report_page.h"
#include <math.h>

/* ---- what it is ---- */

static const json_t *birth_of(const struct report *report, const char *id)
{
	json_t *row;
	size_t i;

	json_array_foreach (report->rows->births, i, row)
		if (report_is_of(row, id))
			return row;
	return NULL;
}

static void score(FILE *to, const char *points)
{
	int sum = 0;

	for (const char *at = points; *at; at++)
		sum += *at - '0';
	(void)fprintf(to, "<br>Newborn score %d of 10 (heart, breathing, reflex, motion, colour: ", sum);
	html_text(to, points);
	(void)fputs(").", to);
}

static void about(FILE *to, const struct report *report, const struct report_pup *pup)
{
	const json_t *birth = birth_of(report, pup->id);
	const char *sex = field_text(pup->row, "sex"), *collar = field_text(pup->row, "collar");

	(void)fputs("<p>", to);
	(void)fputs(*sex == 'f' ? "Female" : *sex == 'm' ? "Male" : "Sex not told", to);
	if (*collar) {
		(void)fputs(", collar ", to);
		html_text(to, collar);
	}
	(void)fputs(". Born ", to);
	if (pup->born_ms != INT64_MIN)
		report_time(to, pup->born_ms);
	else
		(void)fputs("(not told)", to);
	if (isfinite(pup->birth_g))
		(void)fprintf(to, ", %.*f %s", report->decimals, pup->birth_g / report->unit_g, report->unit);
	(void)fputs(".", to);
	if (report_ms(pup->row, "gone_at_ms") != INT64_MIN) {
		(void)fputs(" Gone ", to);
		report_time(to, report_ms(pup->row, "gone_at_ms"));
		(void)fputs(": ", to);
		html_text(to, field_text(pup->row, "gone_why"));
		(void)fputs(".", to);
	}
	if (birth && *field_text(birth, "points"))
		score(to, field_text(birth, "points"));
	(void)fputs("</p>\n", to);
}

/* ---- concerns ---- */

/* The rows of one concern, which lie together from `first` on: how bad it became, how it was put then, how it ended. */
struct concern {
	const json_t *worst, *last;
};

static size_t take_concern(const json_t *rows, size_t first, struct concern *ret)
{
	const json_t *row = json_array_get(rows, first);
	const char *id = field_text(row, "concern_id");
	size_t i;

	*ret = (struct concern){ .worst = row, .last = row };
	for (i = first; i < json_array_size(rows); i++) {
		row = json_array_get(rows, i);
		if (strcmp(field_text(row, "concern_id"), id) != 0)
			break;
		ret->last = row;
		if (strcmp(field_text(row, "state"), "open") == 0 &&
		    level_rank(field_text(row, "level")) <= level_rank(field_text(ret->worst, "level")))
			ret->worst = row;
	}
	return i;
}

static void concern_row(FILE *to, const struct concern *concern)
{
	bool open = strcmp(field_text(concern->last, "state"), "open") == 0;

	report_row_begin(to, report_ms(concern->last, "since_ms"));
	if (open)
		report_cell(to, "open still");
	else
		report_cell_time(to, concern->last, "at_ms");
	(void)fputs("<td><strong>", to);
	html_text(to, level_words(field_text(concern->worst, "level")));
	(void)fputs("</strong></td>", to);
	report_cell(to, field_text(concern->worst, "text"));
	report_cell(to, field_text(concern->worst, "rule"));
	(void)fputs("</tr>\n", to);
}

void report_concerns(FILE *to, const struct report *report, const char *animal_id, const char *caption)
{
	static const char *const heads[] = { "Since", "Until", "At its worst", "What was so then", "Rule", NULL };
	const json_t *rows = report->rows->concerns;
	size_t shown = 0;

	for (size_t i = 0; i < json_array_size(rows);) {
		struct concern concern;
		i = take_concern(rows, i, &concern);
		if (!report_is_of(concern.last, animal_id ? animal_id : "") ||
		    (!report_shown(report, report_ms(concern.last, "at_ms")) &&
		     strcmp(field_text(concern.last, "state"), "closed") == 0))
			continue;
		if (shown++ == 0)
			report_table(to, "concerns", caption, heads);
		concern_row(to, &concern);
	}
	if (shown > 0)
		report_table_end(to);
	else
		(void)fputs(animal_id ? "<p class=\"none\">No rule has fired for this pup. That isn\xe2\x80\x99t the same as well.</p>\n"
				      : "<p class=\"none\">No rule has fired for the litter as a whole. That isn\xe2\x80\x99t the same as "
					"well.</p>\n",
			    to);
}

/* ---- weights ---- */

static void remarks(FILE *to, const struct report_point *point)
{
	const char *container = field_text(point->row, "container"), *scale = field_text(point->row, "scale");
	int64_t answers = 1;

	(void)fputs("<td>", to);
	if (!point->row) {
		(void)fputs("birth weight</td>", to);
		return;
	}
	html_text(to, *scale ? scale : "typed");
	if (*container) {
		(void)fputs(", ", to);
		html_text(to, container);
	}
	if (strcmp(field_text(point->row, "origin"), "stored") == 0)
		(void)fputs(", kept by the scale", to);
	if (strcmp(field_text(point->row, "state"), "restless") == 0)
		(void)fputs(", it moved", to);
	if (field_whole(point->row, "answers", &answers) && answers > 1)
		(void)fputs(", corrected", to);
	if (point->curve.wild && isfinite(point->curve.mass_g))
		(void)fputs(", <strong>far off: not counted</strong>", to);
	(void)fputs("</td>", to);
}

static void weight_row(FILE *to, const struct report *report, const struct report_point *point)
{
	const struct smooth_point *curve = &point->curve;

	report_row_begin(to, point->at_ms);
	report_cell_number(to, "%.2f", report_model_age(report->model, point->pup, point->at_ms));
	report_cell_mass(to, report, point->mass_g);
	report_cell_u(to, report, point->row ? point->u_g : NAN); /* of a birth weight none is on record */
	report_cell_signed(to, point->pct_a_day, NAN);
	if (isfinite(curve->mass_g))
		report_cell_number(to, "%.*f (%.*f to %.*f)", report->decimals, curve->mass_g / report->unit_g, report->decimals,
				   curve->low_g / report->unit_g, report->decimals, curve->high_g / report->unit_g);
	else
		report_cell_number(to, "\xe2\x80\x93");
	report_cell_signed(to, 100 * expm1(curve->rate), 100 * exp(curve->rate) * curve->u_rate);
	report_cell(to, point->row ? field_text(point->row, "fed") : "");
	remarks(to, point);
	report_cell(to, point->row ? field_text(point->row, "answered_by") : "");
	(void)fputs("</tr>\n", to);
}

static void weights(FILE *to, const struct report *report, size_t pup)
{
	const struct report_model *model = report->model;
	char mass[24], u[24], curve[40], caption[192];
	const char *const heads[] = { "Time", "#Age, d", mass, u, "#A day, %", curve, "#Curve, % a day", "Fed", "Weighed with", "By",
				      NULL };
	bool any = false;

	(void)snprintf(mass, sizeof mass, "#Mass, %s", report->unit);
	(void)snprintf(u, sizeof u, "#u, %s", report->unit);
	(void)snprintf(curve, sizeof curve, "#Curve, %s (95 %%)", report->unit);
	(void)snprintf(caption, sizeof caption, "Weights of %.150s", model->pups[pup].name);
	for (size_t i = report_model_next(model, pup, 0); i < model->n; i = report_model_next(model, pup, i + 1)) {
		if (!report_shown(report, model->points[i].at_ms))
			continue;
		if (!any)
			report_table(to, "weights", caption, heads);
		any = true;
		weight_row(to, report, &model->points[i]);
	}
	if (any)
		report_table_end(to);
	else
		(void)fputs("<p class=\"none\">No weight is on record.</p>\n", to);
}

/* ---- what was seen and given ---- */

/* A table of those rows of a list that are about one animal; nothing when there are none. */
static void log_table(FILE *to, const struct report *report, const json_t *rows, const struct report_pup *pup, const char *class,
		      const char *what, const char *const *heads, void (*cells)(FILE *to, const json_t *row))
{
	char caption[192];
	json_t *row;
	size_t i;
	bool any = false;

	(void)snprintf(caption, sizeof caption, "%s %.150s", what, pup->name);
	json_array_foreach (rows, i, row) {
		if (!report_is_of(row, pup->id) || !report_shown(report, report_ms(row, "at_ms")))
			continue;
		if (!any)
			report_table(to, class, caption, heads);
		any = true;
		report_row_begin(to, report_ms(row, "at_ms"));
		cells(to, row);
		report_cell(to, field_text(row, "noted_by"));
		(void)fputs("</tr>\n", to);
	}
	if (any)
		report_table_end(to);
}

static void sign_cells(FILE *to, const json_t *row)
{
	report_cell(to, field_text(row, "sign"));
	report_cell(to, field_text(row, "value"));
}

static void feed_cells(FILE *to, const json_t *row)
{
	report_cell(to, field_text(row, "how"));
	if (isfinite(report_number(row, "ml")))
		report_cell_number(to, "%.10g mL", report_number(row, "ml"));
	else
		report_cell_number(to, "%+.1f \xc2\xb1 %.1f g", report_number(row, "taken_g"), report_number(row, "u_g"));
	report_cell(to, field_text(row, "what"));
}

static void dose_cells(FILE *to, const json_t *row)
{
	report_cell(to, field_text(row, "what"));
	report_cell(to, field_text(row, "route"));
	report_cell_number(to, "%.10g", report_number(row, "ml"));
	report_cell_number(to, "%.10g", report_number(row, "mass_g"));
	(void)fputs("<td>", to);
	html_text(to, field_text(row, "judged"));
	if (*field_text(row, "words")) {
		(void)fputs(": ", to);
		html_text(to, field_text(row, "words"));
	}
	(void)fputs("</td>", to);
}

/* "10 mL/kg", "4 mL" */
static void amount(FILE *to, const json_t *row, const char *key)
{
	const char *per = field_text(row, "per");
	bool by_mass = strcmp(per, "animal") != 0;

	report_cell_number(to, "%.10g mL%s%s", report_number(row, key), by_mass ? "/" : "",
			   !by_mass                     ? ""
			   : strcmp(per, "100 g") == 0 ? "100 g"
							: "kg");
}

/* "from ... until ...", and how it ended before its time. */
static void order_span(FILE *to, const json_t *row)
{
	(void)fputs("<td>", to);
	report_time(to, report_ms(row, "from_ms"));
	(void)fputs(" until ", to);
	report_time(to, report_ms(row, "until_ms"));
	if (report_ms(row, "ended_at_ms") != INT64_MIN) {
		(void)fputs("; ended ", to);
		report_time(to, report_ms(row, "ended_at_ms"));
		(void)fputs(": ", to);
		html_text(to, field_text(row, "ended_why"));
	}
	(void)fputs("</td>", to);
}

static void order_row(FILE *to, const json_t *row)
{
	report_row_begin(to, report_ms(row, "at_ms"));
	(void)fputs("<td>", to);
	html_text(to, field_text(row, "what"));
	(void)fputs(", ", to);
	html_text(to, field_text(row, "route"));
	(void)fputs(" (", to);
	html_text(to, field_text(row, "kind"));
	(void)fputs(*field_text(row, "animal_id") ? ")</td>" : ", for the whole litter)</td>", to);
	amount(to, row, "amount_ml");
	amount(to, row, "most_24h_ml");
	report_cell_number(to, "%.10g h", report_number(row, "every_h"));
	order_span(to, row);
	report_cell(to, field_text(row, "vet"));
	report_cell(to, field_text(row, "noted_by"));
	(void)fputs("</tr>\n", to);
}

/* Those of the litter as a whole too: they hold for each. */
static void orders(FILE *to, const struct report *report, const struct report_pup *pup)
{
	static const char *const heads[] = { "Noted",    "What, and how", "#Each", "#Most in 24 h", "#Every",
					     "In force", "Vet",		  "By",	   NULL };
	char caption[192];
	json_t *row;
	size_t i;
	bool any = false;

	(void)snprintf(caption, sizeof caption, "A vet\xe2\x80\x99s orders for %.150s, as they were said", pup->name);
	json_array_foreach (report->rows->orders, i, row) {
		if (*field_text(row, "animal_id") && !report_is_of(row, pup->id))
			continue;
		if (!any)
			report_table(to, "orders", caption, heads);
		any = true;
		order_row(to, row);
	}
	if (any)
		report_table_end(to);
}

unsigned report_pup(FILE *to, const struct report *report, size_t i, unsigned figure)
{
	static const char *const sign_heads[] = { "Time", "Sign", "Answer", "By", NULL };
	static const char *const feed_heads[] = { "Time", "How", "#Amount", "What", "By", NULL };
	static const char *const dose_heads[] = { "Time", "What", "Route", "#mL", "#By a weight of, g", "Judged", "By", NULL };
	const struct report_pup *pup = &report->model->pups[i];
	char caption[192];

	(void)fprintf(to, "<section class=\"pup\" id=\"pup-%zu\">\n<h2>%zu ", i + 1, i + 1);
	html_text(to, pup->name);
	(void)fputs("</h2>\n", to);
	about(to, report, pup);
	(void)snprintf(caption, sizeof caption, "Concerns about %.150s", pup->name);
	report_concerns(to, report, pup->id, caption);
	report_figure_pup(to, report, i, figure);
	report_figure_gain(to, report, i, figure + 1);
	orders(to, report, pup);
	log_table(to, report, report->rows->doses, pup, "doses", "Doses given to", dose_heads, dose_cells);
	log_table(to, report, report->rows->signs, pup, "signs", "Signs seen at", sign_heads, sign_cells);
	log_table(to, report, report->rows->feeds, pup, "feeds", "Feeds of", feed_heads, feed_cells);
	weights(to, report, i);
	(void)fputs("</section>\n", to);
	return figure + 2;
}
