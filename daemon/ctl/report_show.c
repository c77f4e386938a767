// SPDX-License-Identifier: MIT
#include "daemon/ctl/report_show.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/html.h"
#include "daemon/ctl/show.h"
#include "daemon/ctl/when.h"
#include <math.h>
#include <stdarg.h>

#define OUNCE_G 28.349523125 /* NIST SP 811, appendix B.8: exact */
#define DASH "\xe2\x80\x93"

/* Whole grams where all are: a scale with steps of 5 g shows no tenths. */
static int decimals(const struct report_model *model, bool grams)
{
	if (!grams)
		return 2;
	for (size_t i = 0; i < model->n; i++)
		if (fabs(model->points[i].mass_g - round(model->points[i].mass_g)) > 1e-6)
			return 1;
	return 0;
}

void report_init(struct report *ret, const struct ctl *ctl, const struct report_rows *rows, const struct report_model *model,
		 int64_t since_ms)
{
	bool grams = ctl->unit == QUANTITY_GRAMS;

	*ret = (struct report){ .ctl = ctl,
				.rows = rows,
				.model = model,
				.since_ms = since_ms,
				.unit = grams ? "g" : "oz",
				.unit_g = grams ? 1 : OUNCE_G,
				.decimals = decimals(model, grams) };
}

bool report_shown(const struct report *report, int64_t at_ms)
{
	return at_ms >= report->since_ms;
}

void report_time(FILE *to, int64_t ms)
{
	char exact[QUANTITY_RFC3339_SIZE], when[WHEN_SIZE];

	quantity_rfc3339_utc(exact, ms);
	when_show(when, ms);
	(void)fprintf(to, "<time datetime=\"%s\">%s</time>", exact, when);
}

void report_row_begin(FILE *to, int64_t ms)
{
	(void)fputs("<tr><th scope=\"row\">", to);
	report_time(to, ms);
	(void)fputs("</th>", to);
}

void report_cell_nothing(FILE *to)
{
	(void)fputs("<td>" DASH "</td>", to);
}

void report_cell(FILE *to, const char *text)
{
	if (*text)
		html_element(to, "td", text);
	else
		report_cell_nothing(to);
}

void report_cell_time(FILE *to, const json_t *row, const char *key)
{
	int64_t ms = report_ms(row, key);

	if (ms == INT64_MIN) {
		report_cell_nothing(to);
		return;
	}
	(void)fputs("<td>", to);
	report_time(to, ms);
	(void)fputs("</td>", to);
}

void report_cell_number(FILE *to, const char *format, ...)
{
	va_list more;

	(void)fputs("<td class=\"n\">", to);
	va_start(more, format);
	(void)vfprintf(to, format, more);
	va_end(more);
	(void)fputs("</td>", to);
}

static void no_number(FILE *to)
{
	report_cell_number(to, DASH);
}

void report_cell_mass(FILE *to, const struct report *report, double g)
{
	if (isfinite(g))
		report_cell_number(to, "%.*f", report->decimals, g / report->unit_g);
	else
		no_number(to);
}

void report_cell_u(FILE *to, const struct report *report, double u_g)
{
	double u = u_g / report->unit_g;

	if (isfinite(u))
		report_cell_number(to, "%.*f", u < 0.0995 ? 3 : u < 0.995 ? 2 : u < 9.95 ? 1 : 0, u);
	else
		no_number(to);
}

void report_cell_gain(FILE *to, const struct report *report, double g, double u_g)
{
	char gain[SHOW_SIZE];

	if (!isfinite(g) || !isfinite(u_g)) {
		no_number(to);
		return;
	}
	(void)show_gain(gain, show_mg(g), show_mg(u_g), report->ctl->unit, show_plus_minus(true));
	report_cell_number(to, "%.*s", (int)strcspn(gain, "go") - 1, gain); /* the unit stands in the head */
}

/* Without the sign of a zero: "-0.0" says nothing. */
void report_cell_signed(FILE *to, double value, double u)
{
	if (fabs(value) < 0.05)
		value = 0;
	if (!isfinite(value))
		no_number(to);
	else if (isfinite(u))
		report_cell_number(to, "%+.1f \xc2\xb1 %.1f", value, u);
	else
		report_cell_number(to, "%+.1f", value);
}

void report_table(FILE *to, const char *class, const char *caption, const char *const *heads)
{
	(void)fprintf(to, "<table class=\"%s\">\n<caption>", class);
	html_text(to, caption);
	(void)fputs("</caption>\n<thead><tr>", to);
	for (; *heads; heads++) {
		bool number = **heads == '#';
		(void)fprintf(to, "<th scope=\"col\"%s>", number ? " class=\"n\"" : "");
		html_text(to, *heads + number);
		(void)fputs("</th>", to);
	}
	(void)fputs("</tr></thead>\n<tbody>\n", to);
}

void report_table_end(FILE *to)
{
	(void)fputs("</tbody></table>\n", to);
}

bool report_is_of(const json_t *row, const char *animal_id)
{
	return strcmp(field_text(row, "animal_id"), animal_id) == 0;
}

double report_number(const json_t *row, const char *key)
{
	double value;

	return field_number(row, key, &value) ? value : NAN;
}

int64_t report_ms(const json_t *row, const char *key)
{
	int64_t ms = INT64_MIN;

	(void)field_whole(row, key, &ms);
	return ms;
}
