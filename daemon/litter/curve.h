// SPDX-License-Identifier: MIT
#pragma once
/* Published growth by age, as the model's prior. Pure. */

/* Rate of ln(mass) a day that is expected at an age in days. */
double curve_rate(double age_days);
/* The same, gone through between two ages. */
double curve_gain(double from_days, double to_days);
