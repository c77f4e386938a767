// SPDX-License-Identifier: MIT
#include "contrib/speak/quiet.h"
#include <errno.h>
#include <stdio.h>
#include <string.h>

int quiet_parse(const char *text, struct quiet *ret)
{
	int hour[2], minute[2], end = 0;

	if (strspn(text, "0123456789:-") != strlen(text) ||
	    sscanf(text, "%2d:%2d-%2d:%2d%n", &hour[0], &minute[0], &hour[1], &minute[1], &end) != 4 || text[end])
		return -EINVAL;
	for (int i = 0; i < 2; i++)
		if (hour[i] < 0 || hour[i] > 23 || minute[i] < 0 || minute[i] > 59)
			return -EINVAL;
	*ret = (struct quiet){ hour[0] * 60 + minute[0], hour[1] * 60 + minute[1] };
	return 0;
}

bool quiet_at(const struct quiet *quiet, int minute)
{
	if (quiet->from_min <= quiet->to_min)
		return minute >= quiet->from_min && minute < quiet->to_min;
	return minute >= quiet->from_min || minute < quiet->to_min;
}

int quiet_left_min(const struct quiet *quiet, int minute)
{
	return quiet_at(quiet, minute) ? (quiet->to_min - minute + 24 * 60) % (24 * 60) : 0;
}
