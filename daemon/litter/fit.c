// SPDX-License-Identifier: MIT
#include "daemon/litter/fit.h"
#include <math.h>

#define ABSURD_MG INT64_C(1000000000) /* a tonne; keeps every product below within 64 bits */
#define WEEKS_3_DAYS 21.0

int64_t fit_tell_mg(int64_t step_mg)
{
	if (step_mg <= 0)
		return 0;
	return step_mg > ABSURD_MG ? INT64_MAX : llround(2.0 * (double)step_mg / sqrt(6.0));
}

int64_t fit_smallest_pup_mg(int64_t step_mg)
{
	if (step_mg <= 0)
		return 0;
	/* FIT_STEPS * step = mass / FIT_GAIN_DIVISOR * FIT_HOURS / 24, solved for the mass; 24 / 8 is whole */
	return step_mg > ABSURD_MG ? INT64_MAX : step_mg * FIT_STEPS * FIT_GAIN_DIVISOR * (24 / FIT_HOURS);
}

int64_t fit_largest_step_mg(int64_t pup_mg)
{
	return pup_mg <= 0 ? 0 : pup_mg / (FIT_STEPS * FIT_GAIN_DIVISOR * (24 / FIT_HOURS));
}

unsigned fit_stall_hours(int64_t step_mg, int64_t pup_mg)
{
	int64_t hours;

	if (step_mg <= 0 || pup_mg <= 0)
		return 0;
	if (step_mg > ABSURD_MG)
		return FIT_HOURS_MAX;
	hours = step_mg * (24 * FIT_STEPS * FIT_GAIN_DIVISOR) / pup_mg;
	if (hours < FIT_HOURS_MAX && hours * pup_mg < step_mg * (24 * FIT_STEPS * FIT_GAIN_DIVISOR))
		hours++;
	return hours < FIT_HOURS_MAX ? (unsigned)hours : FIT_HOURS_MAX;
}

int64_t fit_capacity_mg(int64_t birth_mg, int64_t container_mg)
{
	double factor = exp(0.13084 * WEEKS_3_DAYS - 0.001616 * WEEKS_3_DAYS * WEEKS_3_DAYS);

	if (birth_mg <= 0)
		return 0;
	if (birth_mg > ABSURD_MG || container_mg > ABSURD_MG)
		return INT64_MAX;
	return llround(ceil(((double)birth_mg * factor + (double)(container_mg > 0 ? container_mg : 0)) / 1000.0)) *
	       1000;
}
