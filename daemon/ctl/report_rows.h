// SPDX-License-Identifier: MIT
#pragma once
/*
 * What the report is made of: rows of the ledger's views (protocols/database.md), all of one moment.
 * Above: report, report_model, report_page, report_pup. Below: database.
 */
#include "daemon/ctl/ctl.h"
#include <jansson.h>

struct report_rows {
	json_t *litter;   /* the row of litter_now */
	json_t *animals;  /* animal_log with what animal_now knows; in order of birth */
	json_t *births;   /* birth_log */
	json_t *readings; /* in order of time, as all below; with how often each was answered anew */
	json_t *changed;  /* answers that were replaced, of readings of this litter */
	json_t *signs, *feeds, *orders, *doses;
	json_t *concerns; /* concern_log, rows of one concern together */
	json_t *tares;    /* a row a tare of each container that a reading was weighed in, and what its checks came to */
};

/* litter: its name or id; of several of one name the open one, or else the newest. CTL_DONE; else it was told why. */
enum ctl_status report_rows_read(const struct ctl *ctl, const char *litter, struct report_rows *ret);
void report_rows_free(struct report_rows *rows);
