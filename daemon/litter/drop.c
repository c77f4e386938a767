// SPDX-License-Identifier: MIT
#include "daemon/litter/drop.h"
#include <math.h>

#define OLDER_MS (INT64_C(21) * 24 * 3600 * 1000)

static const struct drop_limits limits[] = {
	{ 0, 5, 10, 7, 10 },
	{ OLDER_MS, 8, 13, 9, 13 },
};

const struct drop_limits *drop_limits(int64_t age_ms)
{
	return age_ms >= limits[1].from_ms ? &limits[1] : &limits[0];
}

bool drop_is_comparable(int64_t before_ms, int64_t now_ms)
{
	int64_t apart;

	return !__builtin_sub_overflow(now_ms, before_ms, &apart) && apart >= DROP_AGAIN_MS && apart <= DROP_WINDOW_MS;
}

double drop_surely_pct(int64_t before_mg, int64_t before_u_mg, int64_t now_mg, int64_t now_u_mg)
{
	double u = sqrt((double)before_u_mg * (double)before_u_mg + (double)now_u_mg * (double)now_u_mg);

	return 100 * ((double)(before_mg - now_mg) - 2 * u) / (double)before_mg;
}
