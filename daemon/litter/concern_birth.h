// SPDX-License-Identifier: MIT
#pragma once
/*
 * Rules that compare readings with the birth weight, in integers, and with the time: the model has no say in whether
 * they hold. Above: concern_rules.c. Below: what rules share. Each: true when it holds; then level and text are set.
 */
#include "daemon/litter/concern_rules.h"

bool concern_birth_early_loss(const struct concern_view *view, struct concern *ret);
bool concern_birth_tenth_lost(const struct concern_view *view, struct concern *ret);
bool concern_birth_no_gain_72h(const struct concern_view *view, struct concern *ret);
bool concern_birth_late_doubling(const struct concern_view *view, struct concern *ret);
bool concern_birth_low_birth(const struct concern_view *view, struct concern *ret);
bool concern_birth_overdue(const struct concern_view *view, struct concern *ret);
/* How far its birth weight is below the mean of its littermates' (and its own), in per cent. False: it isn't known, or
 * there are fewer than three. */
bool concern_birth_below_mean(const struct concern_view *view, double *ret_pct);
