// SPDX-License-Identifier: MIT
#pragma once
/*
 * The report: one file of HTML to be read and printed, without script or anything from elsewhere. All text is escaped. It
 * proposes no treatment and no amount; it tells what was weighed, seen, ordered, given and worried about.
 * Above: report.c. Below: report_figures, report_show, html.
 */
#include "daemon/ctl/report_show.h"

void report_page(FILE *to, const struct report *report);

/* Its parts: a page a pup, report_pup.c; its first figure has this number, the next part's is returned. */
unsigned report_pup(FILE *to, const struct report *report, size_t pup, unsigned figure);
/* Concerns about one animal; NULL: about the litter as a whole. */
void report_concerns(FILE *to, const struct report *report, const char *animal_id, const char *caption);
/* What stands after the pups, report_end.c: how it was weighed, what was corrected, how it is reckoned, sources. */
void report_end(FILE *to, const struct report *report);
