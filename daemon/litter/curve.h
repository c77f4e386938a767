// SPDX-License-Identifier: MIT
#pragma once
/* Published growth by age, as the model's prior, and as a band to draw. Pure. */
#include <stdbool.h>

/* Rate of ln(mass) a day that is expected at an age in days. */
double curve_rate(double age_days);
/* The same, gone through between two ages. */
double curve_gain(double from_days, double to_days);

/* Until this age the band goes. */
#define CURVE_BAND_DAYS 28.0
/* Whose band it is. */
extern const char curve_band_source[];
/*
 * The published daily gain, gone through from birth: how many times its birth mass a pup weighs at an age, at the low and
 * the high end each day. False before birth and after CURVE_BAND_DAYS.
 */
bool curve_band(double age_days, double *ret_low, double *ret_high);
