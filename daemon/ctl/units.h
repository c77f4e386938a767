// SPDX-License-Identifier: MIT
#pragma once
/*
 * Which unit people are shown masses in: grams, unless the configuration or, after it, the environment says ounces.
 * Above: main.c, args; contrib/page, contrib/speak, contrib/keypad. Below: inih.
 */
#include "daemon/weigh/quantity.h"
#include <stdbool.h>

/* "g" or "oz" (also grams, ounces). False for anything else. */
bool units_read(const char *text, enum quantity_unit *ret);
/* True and *ret; false after telling that BISMAR_UNITS is neither. Nonsense in the configuration is told, and grams
 * meant. */
bool units_for_people(enum quantity_unit *ret);
