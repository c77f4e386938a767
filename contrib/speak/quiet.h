// SPDX-License-Identifier: MIT
#pragma once
/* Hours in which less is said: a span of the day in local time, which may go over midnight. Pure. Above: talk.c,
 * main.c. */
#include <stdbool.h>

struct quiet {
	int from_min, to_min; /* of the day, 0..1439: from..to, without its end; equal: never */
};

/* "22:00-07:00". 0, or -EINVAL and nothing is set. */
int quiet_parse(const char *text, struct quiet *ret);
bool quiet_at(const struct quiet *quiet, int minute);
/* Minutes until it ends; 0: it isn't quiet. */
int quiet_left_min(const struct quiet *quiet, int minute);
