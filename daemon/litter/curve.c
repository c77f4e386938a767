// SPDX-License-Identifier: MIT
#include "daemon/litter/curve.h"
#include <math.h>

/*
 * Daily gain of body weight: 8 % (5 to 10 %) in week 1, 5 % (3.5 to 6 %) in weeks 2 to 4 (Small Animal Clinical
 * Nutrition, 5th ed., ch. 16, p. 292). We take the middle of week 1 and of weeks 2 to 4 for these figures and go from
 * one to the other along a line. From week 4 on the gain in grams is about constant (the same, p. 295), so its share
 * falls as the mass grows; that the rate goes down with the inverse of the age is our approximation.
 */
#define WEEK_1 0.0770    /* ln 1.08 */
#define WEEKS_2_4 0.0488 /* ln 1.05 */
#define FROM_DAY 5.0
#define TO_DAY 12.0
#define LATE_DAY 28.0

double curve_rate(double age_days)
{
	if (age_days <= FROM_DAY)
		return WEEK_1;
	if (age_days < TO_DAY)
		return WEEK_1 + (WEEKS_2_4 - WEEK_1) * (age_days - FROM_DAY) / (TO_DAY - FROM_DAY);
	if (age_days <= LATE_DAY)
		return WEEKS_2_4;
	return WEEKS_2_4 * LATE_DAY / age_days;
}

/* From 0 to an age: the area under the pieces above. */
static double area(double age)
{
	double at_to = WEEK_1 * FROM_DAY + (WEEK_1 + WEEKS_2_4) / 2 * (TO_DAY - FROM_DAY);

	if (age <= FROM_DAY)
		return WEEK_1 * age;
	if (age < TO_DAY)
		return WEEK_1 * FROM_DAY + (WEEK_1 + curve_rate(age)) / 2 * (age - FROM_DAY);
	if (age <= LATE_DAY)
		return at_to + WEEKS_2_4 * (age - TO_DAY);
	return at_to + WEEKS_2_4 * (LATE_DAY - TO_DAY) + WEEKS_2_4 * LATE_DAY * log(age / LATE_DAY);
}

double curve_gain(double from_days, double to_days)
{
	return area(to_days) - area(from_days);
}

/* 5 to 10 % a day in week 1, 3.5 to 6 % in weeks 2 to 4 (the same, p. 292; concern_rules.c has it too, with a litter's
 * own low end). */
#define BAND_WEEK 7.0
#define BAND_LOW_1 5.0
#define BAND_HIGH_1 10.0
#define BAND_LOW_2 3.5
#define BAND_HIGH_2 6.0

bool curve_band_pct(double age_days, double *ret_low, double *ret_high)
{
	if (!(age_days >= 0 && age_days <= CURVE_BAND_DAYS))
		return false;
	*ret_low = age_days < BAND_WEEK ? BAND_LOW_1 : BAND_LOW_2;
	*ret_high = age_days < BAND_WEEK ? BAND_HIGH_1 : BAND_HIGH_2;
	return true;
}

const char curve_band_source[] =
	"daily gain of 5 to 10 % in week 1 and 3.5 to 6 % in weeks 2 to 4, from the birth weight: " CURVE_BAND_SOURCE;

static double compound(double age_days, double first_pct, double later_pct)
{
	double first = fmin(age_days, BAND_WEEK), later = fmax(age_days - BAND_WEEK, 0);

	return exp(first * log1p(first_pct / 100) + later * log1p(later_pct / 100));
}

bool curve_band(double age_days, double *ret_low, double *ret_high)
{
	if (!(age_days >= 0 && age_days <= CURVE_BAND_DAYS))
		return false;
	*ret_low = compound(age_days, BAND_LOW_1, BAND_LOW_2);
	*ret_high = compound(age_days, BAND_HIGH_1, BAND_HIGH_2);
	return true;
}
