// SPDX-License-Identifier: MIT
#include "daemon/desk/buttons.h"
#include "daemon/desk/room.h"
#include "daemon/log.h"

enum buttons_meaning buttons_read(const struct bthome *broadcast)
{
	for (size_t i = 0; i < broadcast->n_buttons; i++) {
		switch (broadcast->buttons[i]) {
		case BTHOME_PRESS:
			return i == 0 ? BUTTONS_ACCEPT : BUTTONS_ASIDE;
		case BTHOME_DOUBLE_PRESS:
			return BUTTONS_ASIDE;
		case BTHOME_NO_PRESS:
		case BTHOME_TRIPLE_PRESS:
		case BTHOME_LONG_PRESS:
		case BTHOME_LONG_DOUBLE_PRESS:
		case BTHOME_LONG_TRIPLE_PRESS:
		case BTHOME_HOLD:
			break; /* nothing that could be meant by accident answers for a pup */
		}
	}
	return BUTTONS_NOTHING;
}

const struct ask *buttons_ask(struct desk *desk, const struct roster_scale *scale)
{
	bool weighs = scale->air.weighs || scale->memory.n > 0; /* the ledger knows results of it */
	int64_t now_ms = clock_boot_ms();

	for (size_t i = desk->asks.n; i-- > 0;) {
		const struct ask *ask = &desk->asks.list[i];
		if (weighs && strcmp(ask->scale_id, scale->id) != 0)
			continue;
		return now_ms - ask->opened_ms <= BUTTONS_ASK_MS ? ask : NULL;
	}
	return NULL;
}

void buttons_answer(struct desk *desk, const struct roster_scale *scale, enum buttons_meaning meaning,
		    const struct ask *ask)
{
	static const char by[] = "button";
	const struct rpc_caller caller = { .peer = "bismard" };
	const struct roster_animal *first = ask_first(ask, desk);
	struct rpc_refusal refusal = { 0 };
	char id[UUID7_SIZE], animal[UUID7_SIZE];
	int r = 0;

	/* both are in lists that the answer changes */
	(void)snprintf(id, sizeof id, "%s", ask->id);
	(void)snprintf(animal, sizeof animal, "%s", first ? first->id : "");
	switch (meaning) {
	case BUTTONS_NOTHING:
		return;
	case BUTTONS_ACCEPT:
		if (!first) {
			log_info("scale %s: its button was pressed, but nothing is suggested, ignoring", scale->name);
			return;
		}
		r = desk_answer(desk, &caller, id, animal, by, NULL, &refusal);
		break;
	case BUTTONS_ASIDE:
		r = desk_aside(desk, &caller, id, NULL, by, NULL, &refusal);
		break;
	}
	if (r != 0)
		log_warning("scale %s: its button's answer can't be recorded%s%s, ignoring", scale->name,
			    r > 0 ? ": " : "", r > 0 ? refusal.message : "");
	json_decref(refusal.data);
}
