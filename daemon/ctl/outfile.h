// SPDX-License-Identifier: MIT
#pragma once
/*
 * A file for people that is there whole or not at all: written beside its place, flushed to the disk, then renamed.
 * What was there before under that name stays as it is until then, and for good when something goes wrong.
 * Above: sheet, report. Below: the C library. What is wrong is told to standard error.
 */
#include "daemon/ctl/ctl.h"
#include <limits.h>
#include <stdio.h>

struct outfile {
	FILE *to;                 /* write here */
	char path[PATH_MAX];      /* of the file that it becomes; what a link points to is replaced, not the link */
	char temporary[PATH_MAX]; /* "": it is written straight, to standard output or to what is no plain file */
};

/* path NULL or "-": standard output. CTL_DONE; or CTL_REFUSED, and there is nothing to end. */
enum ctl_status outfile_begin(struct outfile *out, const char *path);
/* Ends it: CTL_DONE and the file has its name; or CTL_REFUSED, with nothing left of it. */
enum ctl_status outfile_end(struct outfile *out);
/* Gives it up: nothing is left of it. */
void outfile_drop(struct outfile *out);
