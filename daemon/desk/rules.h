// SPDX-License-Identifier: MIT
#pragma once
/*
 * What the rules say of a litter at a time: reads from the ledger what they look at.
 * Above: worries.c. Below: litter/concern, the store.
 */
#include "daemon/litter/concern.h"

struct desk;
struct model;

#define RULES_MAX 128 /* of one litter at a time; the worst are kept */

/* How many hold, worst first, with nothing that was measured later. *ret_ok: false without memory or when the ledger can't be
 * read; then 0. */
size_t rules_look(struct desk *desk, const struct model *model, int64_t at_ms, struct concern ret[RULES_MAX], bool *ret_ok);
