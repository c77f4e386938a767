// SPDX-License-Identifier: MIT
#pragma once
/*
 * The rules of signs (sign_rules.h) as rules among the others.
 * Above: concern_rules.c, concern_table.c. Below: sign_rules. Pure.
 */
#include "daemon/litter/concern_rules.h"

/* From CONCERN_CHILLED on. */
bool concern_sign_is(enum concern_rule rule);
bool concern_sign_holds(enum concern_rule rule, const struct concern_view *view, struct concern *ret);
const struct concern_row *concern_sign_row(enum concern_rule rule);
const char *concern_sign_advice(enum concern_rule rule, enum concern_level level);
