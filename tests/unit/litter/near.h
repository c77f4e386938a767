// SPDX-License-Identifier: MIT
#pragma once
/* For the tests of this folder: doubles that are equal but for rounding (cmocka compares floats). After cmocka.h. */
#include <math.h>

#define assert_near(a, b, within) assert_true(fabs((a) - (b)) <= (within))
