// SPDX-License-Identifier: MIT
#include "daemon/ctl/sheet_page.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/html.h"
#include "daemon/ctl/level.h"
#include "daemon/ctl/show.h"
#include "daemon/ctl/when.h"

/*
 * One page: what it takes in millimetres, so that the empty rows fill what is left of the lower of A4 and Letter (279
 * mm) less its margins. Measured on print-outs, a little rounded up.
 */
#define PAGE_MM 250
#define FIXED_MM 106 /* all but what is counted below */
#define LINE_MM 4
#define WEIGHT_ROW_MM 5
#define NIGHT_ROW_MM 7
#define LINE_OCTETS 105
#define NIGHT_ROWS_MOST 16
#define NIGHT_ROWS_LEAST 5 /* a paper without room to write is none: rather a second page */
#define CONCERNS_MOST 6    /* the worst; the rest on the screen */
/* Weighed at birth, after 12 hours, then daily for two weeks: Dog Owner's Home Veterinary Handbook, p. 492. */
#define DUE_MS (INT64_C(24) * 3600 * 1000)

static void head(FILE *to, const struct ctl *ctl, const struct sheet *sheet)
{
	char when[WHEN_SIZE];

	when_show(when, ctl->now_ms);
	(void)fputs("<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><title>", to);
	html_text(to, sheet->litter);
	/* no size: A4 and Letter both; 11 mm leaves either enough */
	(void)fputs(
		"</title><style>\n@page { margin: 11mm }\n"
		"body { font: 9pt/1.25 sans-serif; color: #000; background: #fff; margin: 0 }\n"
		"h1 { font-size: 14pt; margin: 0 } h2 { font-size: 10pt; margin: 2mm 0 0.5mm }\n"
		"p, ul { margin: 0.5mm 0 } ul { padding-left: 5mm }\n"
		"table { border-collapse: collapse; width: 100% } tr { break-inside: avoid }\n"
		"th, td { border: 0.3mm solid #000; padding: 0.4mm 1mm; text-align: left; overflow-wrap: anywhere }\n"
		".night td { height: 5.5mm } .call { border: 0.6mm solid #000; padding: 1mm; font-weight: bold }\n"
		"code { font-size: 8.5pt }\n</style></head><body>\n<h1>Litter ",
		to);
	html_text(to, sheet->litter);
	(void)fprintf(to, "</h1>\n<p>Printed %s. Weights and verdicts are of then.</p>\n<p class=\"call\">Vet: ", when);
	html_text(to, sheet->vet && *sheet->vet
			       ? sheet->vet
			       : "____________________________ (write the number here, day and night)");
	(void)fputs("<br>Limp, cold, cries without end, won't nurse, gasps: stop reading, call now. "
		    "This paper is no vet, and your vet's word goes first.</p>\n",
		    to);
}

static void weights(FILE *to, const struct ctl *ctl, const struct sheet *sheet)
{
	json_t *one;
	size_t i;

	(void)fputs(
		"<h2>Weights</h2>\n<table><tr><th>Pup</th><th>Weight</th><th>Weighed</th><th>A day</th><th>Verdict</th>"
		"<th>Due</th></tr>\n",
		to);
	json_array_foreach (sheet->growth, i, one) {
		char mass[SHOW_SIZE] = "-", gain[SHOW_SIZE] = "-", when[WHEN_SIZE] = "never";
		int64_t mg, gain_mg, u_mg, at_ms = INT64_MIN;
		if (field_mg(one, "newest_g", &mg))
			(void)show_mass(mass, mg, ctl->unit);
		if (field_mg(one, "gain_g_per_day", &gain_mg) && field_mg(one, "u_gain_g_per_day", &u_mg))
			(void)show_gain(gain, gain_mg, u_mg, ctl->unit, "\xc2\xb1");
		if (field_time(one, "newest", &at_ms))
			when_show(when, at_ms);
		(void)fputs("<tr>", to);
		html_element(to, "td", field_text(one, "name"));
		html_element(to, "td", mass);
		html_element(to, "td", when);
		html_element(to, "td", gain);
		html_element(to, "td", field_text(one, "verdict"));
		if (at_ms == INT64_MIN || at_ms <= ctl->now_ms - DUE_MS)
			(void)snprintf(when, sizeof when, "weigh now");
		else
			when_show(when, at_ms + DUE_MS);
		html_element(to, "td", when);
		(void)fputs("</tr>\n", to);
	}
	(void)fputs("</table>\n<p>Due: a day after the last weighing at the latest (in the first two weeks: Dog "
		    "Owner's Home "
		    "Veterinary Handbook, p. 492); one that worries you, sooner.</p>\n",
		    to);
}

/* What has the advice beside it: to call or do something now; to look alone needs no more words here. */
static bool is_advised(const json_t *concern)
{
	return strcmp(field_text(concern, "level"), "look") != 0;
}

static void concerns(FILE *to, const struct sheet *sheet)
{
	size_t n = json_array_size(sheet->concerns);

	(void)fputs("<h2>What to worry about</h2>\n<ul>", to);
	for (size_t i = 0; i < n && i < CONCERNS_MOST; i++) {
		const json_t *one = json_array_get(sheet->concerns, i);
		const char *name = field_text(one, "name");
		(void)fputs("<li>", to);
		html_element(to, "b", level_words(field_text(one, "level")));
		(void)fputs(" ", to);
		html_text(to, *name ? name : "the litter");
		(void)fputs(": ", to);
		html_text(to, field_text(one, "text"));
		if (is_advised(one)) {
			(void)fputs(". ", to);
			html_text(to, field_text(one, "advice"));
		}
		(void)fputs("</li>\n", to);
	}
	if (n > CONCERNS_MOST)
		(void)fprintf(to, "<li>and %zu more: <code>bismar concerns</code></li>\n", n - CONCERNS_MOST);
	(void)fputs(n ? "</ul>\n" : "<li>No rule has fired. That isn't the same as well.</li></ul>\n", to);
}

/* "Fern: 3 mL at 2026-11-25 13:00, not again before 19:00". */
static void last_doses(FILE *to, const struct sheet *sheet, const json_t *order)
{
	const json_t *every = json_object_get(order, "every_h");
	json_t *one;
	size_t i;

	json_array_foreach (sheet->doses, i, one) {
		char when[WHEN_SIZE], next[WHEN_SIZE] = "?", ml[32];
		int64_t at_ms;
		if (strcmp(field_text(one, "order"), field_text(order, "order")) != 0 ||
		    !field_whole(one, "at_ms", &at_ms))
			continue;
		when_show(when, at_ms);
		if (json_is_number(every))
			when_show(next, at_ms + (int64_t)(json_number_value(every) * 3600000));
		(void)snprintf(ml, sizeof ml, "%.10g", json_number_value(json_object_get(one, "ml")));
		(void)fputs("<br>", to);
		html_text(to, field_text(one, "animal"));
		(void)fprintf(to, ": last %s mL at %s, not again before %s", ml, when, next);
	}
}

static void orders(FILE *to, const struct ctl *ctl, const struct sheet *sheet)
{
	json_t *one;
	size_t i, n = 0;

	(void)fputs("<h2>Your vet's orders, as they were said</h2>\n<ul>", to);
	json_array_foreach (sheet->orders, i, one) {
		const char *name = field_text(one, "name");
		char until[WHEN_SIZE] = "?";
		int64_t until_ms;
		if (field_time(one, "until", &until_ms) && until_ms <= ctl->now_ms)
			continue;
		if (field_time(one, "until", &until_ms))
			when_show(until, until_ms);
		n++;
		(void)fputs("<li>", to);
		html_element(to, "b", *name ? name : "the litter");
		(void)fputs(": ", to);
		html_text(to, field_text(one, "what"));
		(void)fputs(", ", to);
		html_text(to, field_text(one, "amount"));
		(void)fputs(", ", to);
		html_text(to, field_text(one, "route"));
		(void)fprintf(to, ", every %.4g h, at most ", json_number_value(json_object_get(one, "every_h")));
		html_text(to, field_text(one, "most_24h"));
		(void)fprintf(to, " in 24 hours, until %s; by ", until);
		html_text(to, field_text(one, "vet"));
		last_doses(to, sheet, one);
		(void)fputs("</li>\n", to);
	}
	(void)fputs(n ? "</ul>\n<p>Weigh, take its temperature or touch it, then <code>bismar dose plan</code>. With "
			"the computer off "
			"and in doubt: call the vet, don't reckon.</p>\n"
		      : "<li>None. Give nothing that your vet hasn't ordered.</li></ul>\n",
		    to);
}

static int lines(size_t octets)
{
	return (int)(octets / LINE_OCTETS) + 1;
}

/* As many empty rows as the page has room for. */
static int night_rows(const struct sheet *sheet)
{
	int mm = PAGE_MM - FIXED_MM - WEIGHT_ROW_MM * (int)json_array_size(sheet->growth);
	json_t *one;
	size_t i;
	int rows;

	json_array_foreach (sheet->concerns, i, one)
		if (i < CONCERNS_MOST)
			mm -= LINE_MM * lines(strlen(field_text(one, "text")) + 40 +
					      (is_advised(one) ? strlen(field_text(one, "advice")) : 0));
	mm -= LINE_MM * 2 * (int)json_array_size(sheet->orders) + LINE_MM * (int)json_array_size(sheet->doses);
	rows = mm / NIGHT_ROW_MM;
	return rows < NIGHT_ROWS_LEAST ? NIGHT_ROWS_LEAST : rows > NIGHT_ROWS_MOST ? NIGHT_ROWS_MOST : rows;
}

static void night(FILE *to, const struct sheet *sheet)
{
	(void)fputs(
		"<h2>What to watch</h2>\n<p>Does it nurse, and swallow? Warm to the touch? Gums moist and pink? Urine "
		"pale? Belly round, not tight? A chilled pup is warmed slowly before it is fed or given any fluid. A "
		"number alone says little: look at the pup.</p>\n"
		"<h2>The night</h2>\n<table class=\"night\"><tr><th>Time</th><th>Pup</th><th>Weight</th><th "
		"style=\"width: 38%\">Signs: nursing, warmth, gums, urine, stool, belly</th><th style=\"width: "
		"24%\">Given (what, mL)</th><th>Who</th></tr>\n",
		to);
	for (int i = 0; i < night_rows(sheet); i++)
		(void)fputs("<tr><td></td><td></td><td></td><td></td><td></td><td></td></tr>\n", to);
	(void)fputs("</table>\n<h2>Afterwards, with the time that was written</h2>\n<p>", to);
	html_element(to, "code", "bismar weigh WHO 304g --at 02:40");
	(void)fputs(" &nbsp; ", to);
	html_element(to, "code", "bismar sign WHO gums moist --at 02:40");
	(void)fputs("<br>", to);
	html_element(to, "code", "bismar dose give WHO \"3 mL\" --syringe 0.1mL --at 02:45");
	(void)fputs(" &nbsp; (another day: --at \"2026-11-25 23:50\")<br>A new paper: <code>bismar sheet &quot;", to);
	html_text(to, sheet->litter);
	(void)fputs("&quot; -o sheet.html</code></p>\n</body></html>\n", to);
}

void sheet_page(FILE *to, const struct ctl *ctl, const struct sheet *sheet)
{
	head(to, ctl, sheet);
	weights(to, ctl, sheet);
	concerns(to, sheet);
	orders(to, ctl, sheet);
	night(to, sheet);
}
