// SPDX-License-Identifier: MIT
#pragma once
/*
 * Concerns: looks at what the rules say after each reading and as time goes by, opens, changes and closes them in the
 * ledger, and tells.
 * Above: models.c, desk.c. Below: litter/concern, the store.
 */
#include <jansson.h>
#include <stdint.h>

struct desk;
struct model;

/* What the rules say of one litter now, after one more reading of it. */
void worries_look(struct desk *desk, const struct model *model);
/* The same after its model was built anew. */
void worries_look_anew(struct desk *desk, const struct model *model);
/* The same for all, after the roster has changed; what belongs to litters that have left is closed. */
void worries_look_all(struct desk *desk);
/* What is open of a litter now, into list, worst first; of one animal (and the litter as a whole), or of all (NULL). */
void worries_open(struct desk *desk, const struct model *model, const char *animal_id, json_t *list);
/* What the rules say of a model of another time, into list, worst first; of one animal, or of all (NULL). */
void worries_list(struct desk *desk, const struct model *model, const char *animal_id, int64_t at_ms, json_t *list);
/* Reads what is open from the ledger and begins to look as time goes by. 0, -ENOMEM, or the store's outcome. */
int worries_begin(struct desk *desk);
void worries_done(struct desk *desk);
