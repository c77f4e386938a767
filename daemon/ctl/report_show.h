// SPDX-License-Identifier: MIT
#pragma once
/*
 * The report as its parts share it, and how its cells are written.
 * Above: report_figures, report_page, report_pup. Below: html, report_model, when. Failures stay in the stream's error flag.
 */
#include "daemon/ctl/report_model.h"
#include <stdio.h>

struct report {
	const struct ctl *ctl;
	const struct report_rows *rows;
	const struct report_model *model;
	int64_t since_ms; /* what is shown begins here; INT64_MIN: all */
	const char *unit; /* "g" or "oz" */
	double unit_g;    /* what one is in grams */
	int decimals;     /* that masses are shown to */
};

void report_init(struct report *ret, const struct ctl *ctl, const struct report_rows *rows, const struct report_model *model,
		 int64_t since_ms);
bool report_shown(const struct report *report, int64_t at_ms);

/* A time in local time that programs can read exactly. */
void report_time(FILE *to, int64_t ms);
/* Cells. A value that isn't there is a dash. */
void report_row_begin(FILE *to, int64_t ms); /* <tr> and its head, a time */
void report_cell(FILE *to, const char *text);
void report_cell_time(FILE *to, const json_t *row, const char *key);
__attribute__((format(printf, 2, 3), nonnull)) void report_cell_number(FILE *to, const char *format, ...);
void report_cell_nothing(FILE *to);
/* A mass in the report's unit, without it: that stands in the column's head. */
void report_cell_mass(FILE *to, const struct report *report, double g);
void report_cell_u(FILE *to, const struct report *report, double u_g); /* to two digits (JCGM 100, 7.2.6) */
/* A gain a day in the report's unit, to the digits that its uncertainty leaves, as `growth` shows it. */
void report_cell_gain(FILE *to, const struct report *report, double g, double u_g);
/* "+4.1" or, with u, "+4.1 +- 0.6". */
void report_cell_signed(FILE *to, double value, double u);
/* <table>, its caption (NULL-terminated pieces of text) and its heads; "#..." is a column of numbers. */
void report_table(FILE *to, const char *class, const char *caption, const char *const *heads);
void report_table_end(FILE *to);
/* Whether it is about this animal; a row of no animal is about the litter alone. */
bool report_is_of(const json_t *row, const char *animal_id);
double report_number(const json_t *row, const char *key); /* NAN: not there */
int64_t report_ms(const json_t *row, const char *key);    /* INT64_MIN: not there */
