// SPDX-License-Identifier: MIT
#pragma once
/*
 * A vet's orders as requests find them. For orders.c and doses.c alone.
 */
#include "daemon/desk/room.h"
#include "daemon/litter/order.h"
#include "daemon/store/bedside.h"

struct kept_order {
	char id[UUID7_SIZE], animal_id[UUID7_SIZE]; /* animal_id "": of the litter */
	char what[ROSTER_TEXT], vet[ROSTER_TEXT];
	bool of_litter;
	struct order order; /* its texts are those above, once orders_find() has returned it */
};

/* The order that holds for an animal: the one whose id ends with tail, or with tail NULL the only one; when there is
 * none whose time isn't over, that one. 0, or refused. */
int orders_find(struct desk *desk, const struct roster_animal *animal, const char *tail, int64_t now_ms,
		struct kept_order *ret, struct rpc_refusal *refusal);
json_t *orders_json(struct desk *desk, const struct kept_order *kept, const char *litter);
