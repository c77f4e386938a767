// SPDX-License-Identifier: MIT
#pragma once
/*
 * Rules by what the growth model believes. Above: concern_rules.c. Below: what rules share, concern_change, growth.
 * Each: true when it holds; then level and text are set.
 */
#include "daemon/litter/concern_rules.h"

bool concern_growth_losing(const struct concern_view *view, struct concern *ret);
bool concern_growth_no_gain_24h(const struct concern_view *view, struct concern *ret);
bool concern_growth_below_band(const struct concern_view *view, struct concern *ret);
bool concern_growth_behind(const struct concern_view *view, struct concern *ret);
bool concern_growth_adult_rate(const struct concern_view *view, struct concern *ret);
bool concern_growth_litter_slow(const struct concern_view *view, struct concern *ret); /* of the litter */
