// SPDX-License-Identifier: MIT
#include "daemon/weigh/tare.h"
#include "daemon/weigh/root.h"

#define HOUR_MS UINT64_C(3600000)

/* Unsigned, because the difference of two arbitrary times needn't fit into a signed one. */
static uint64_t elapsed_ms(int64_t from_ms, int64_t to_ms)
{
	return to_ms <= from_ms ? 0 : (uint64_t)to_ms - (uint64_t)from_ms;
}

int64_t tare_u_mg(const struct tare *tare, int64_t at_ms)
{
	uint64_t creep_per_h = root_square(TARE_CREEP_MG_PER_SQRT_H);
	uint64_t age_ms = elapsed_ms(tare->checked_ms, at_ms);

	if (age_ms > TARE_CREEP_MAX_H * HOUR_MS)
		age_ms = TARE_CREEP_MAX_H * HOUR_MS;
	/* Independent parts add in squares: JCGM 100:2008, 5.1.2. */
	return root_up(root_square(tare->u_mg) + (creep_per_h * age_ms + HOUR_MS - 1) / HOUR_MS);
}
