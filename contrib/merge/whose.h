// SPDX-License-Identifier: MIT
#pragma once
/*
 * Whether a ledger may be taken under that name: it is one, of this version, the same as before, and nobody else's.
 * Each is SQLITE_OK, SQLITE_ABORT when it may not (told), or what SQLite says. Above: take. Below: step, layout.
 */
#include "contrib/merge/step.h"

int whose_source(struct step *step);
int whose_first(struct step *step, const struct layout *row);
int whose_others(struct step *step, const struct layout *row, const struct step_value *from);
int whose_older(struct step *step);
