// SPDX-License-Identifier: MIT
#pragma once
/*
 * Which unit people are shown masses in: grams, unless the configuration or, after it, the environment says ounces.
 * Above: main.c; contrib/page, contrib/speak, contrib/keypad. Below: args (the words), inih.
 */
#include "daemon/weigh/quantity.h"
#include <stdbool.h>

/* True and *ret; false after telling that BISMAR_UNITS is neither. Nonsense in the configuration is told, and grams
 * meant. */
bool units_for_people(enum quantity_unit *ret);
