// SPDX-License-Identifier: MIT
#pragma once
/*
 * The name of a bridge: what bismar-merge shows as `bridge`, and a level of an MQTT topic (MQTT 3.1.1, 4.7), so without
 * "/", "+", "#" and control characters. Pure.
 */
#include <stdbool.h>
#include <stddef.h>

#define NAMED_MAX 64 /* octets */

/* Whether it is one; if not, *ret_why says what it has to be. */
bool named_good(const char *name, const char **ret_why);
