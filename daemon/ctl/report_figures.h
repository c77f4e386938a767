// SPDX-License-Identifier: MIT
#pragma once
/*
 * The report's plots: a litter's curves, the same as parts of the birth weight, a pup among its littermates, its gain.
 * Above: report_page, report_pup. Below: report_show, report_svg, litter/curve. Each is a <figure>, or a sentence that
 * says why there is none.
 */
#include "daemon/ctl/report_show.h"

/* number: of the figure, from 1 on; of a pup: it, from 1 on. */
void report_figure_litter(FILE *to, const struct report *report, unsigned number);
void report_figure_times_birth(FILE *to, const struct report *report, unsigned number);
void report_figure_pup(FILE *to, const struct report *report, size_t pup, unsigned number);
void report_figure_gain(FILE *to, const struct report *report, size_t pup, unsigned number);
