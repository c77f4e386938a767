// SPDX-License-Identifier: MIT
#pragma once
/* Published growth by age: the model's prior, and the band that a gain is compared with. Pure. */
#include <stdbool.h>

/* Rate of ln(mass) a day that is expected at an age in days. */
double curve_rate(double age_days);
/* The same, gone through between two ages. */
double curve_gain(double from_days, double to_days);

/*
 * The published daily band (curve.c), gone through from birth on: what a pup would weigh for each gram of its birth weight at
 * the band's ends. False, and nothing is set, outside birth to day 28, for which none is published.
 */
bool curve_band(double age_days, double *ret_low, double *ret_high);
#define CURVE_BAND_DAYS 28.0
/* The band's ends at an age, in per cent a day. */
bool curve_band_pct(double age_days, double *ret_low, double *ret_high);
#define CURVE_BAND_SOURCE "Small Animal Clinical Nutrition, 5th ed., ch. 16, p. 292"
/* The band and where it is from, in words. */
extern const char curve_band_source[];
