// SPDX-License-Identifier: MIT
#pragma once
/*
 * A litter's weighings and curves for the report: the rows' readings and birth weights in order of time, each with what
 * all others, earlier and later, say of it (litter/smooth.h).
 * Above: report_figures, report_page, report_pup. Below: report_rows, litter/smooth. Masses in grams.
 */
#include "daemon/ctl/report_rows.h"
#include "daemon/litter/smooth.h"

#define REPORT_DAY_MS INT64_C(86400000)
/* A gain by weighings is against the one nearest to a day before; of other times between these it is scaled to a day.
 * Common practice: the log is compared with yesterday's. */
#define REPORT_NEAR_MS (REPORT_DAY_MS / 2)
#define REPORT_FAR_MS (REPORT_DAY_MS * 3 / 2)

struct report_point {
	size_t pup;
	int64_t at_ms;
	double mass_g, u_g;        /* as weighed */
	const json_t *row;         /* of the view `reading`; NULL: the birth weight */
	struct smooth_point curve; /* mass_g NAN: there is none */
	double pct_a_day;          /* by weighings; NAN: none lies far enough back */
};

struct report_pup {
	const json_t *row; /* of report_rows.animals */
	const char *id, *name;
	int64_t born_ms; /* INT64_MIN: not known */
	double birth_g;  /* NAN: not known */
	size_t n;        /* of its points */
};

struct report_model {
	struct report_pup *pups;
	size_t n_pups;
	struct report_point *points; /* in order of time */
	size_t n;
	int64_t born_ms; /* of the first; INT64_MIN: not known */
	int64_t zero_ms; /* days count from here: born_ms, or the first weighing */
	bool curves;     /* false: too many animals for the growth model, or no reading */
};

/* CTL_DONE; else out of memory, told. The rows are borrowed. */
enum ctl_status report_model_make(const struct report_rows *rows, struct report_model *ret);
void report_model_free(struct report_model *model);
/* The next point of a pup from place i on; model->n when there is none. */
size_t report_model_next(const struct report_model *model, size_t pup, size_t i);
/* Days since the pup's birth, or else since zero_ms. */
double report_model_age(const struct report_model *model, size_t pup, int64_t at_ms);
