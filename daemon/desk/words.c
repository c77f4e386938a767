// SPDX-License-Identifier: MIT
/* Bare-word answers: what a shell script, a voice or a keypad says, and one line back. */
#include "daemon/desk/room.h"
#include "daemon/desk/whelping.h"
#include "daemon/weigh/quantity.h"

static void list_open(struct desk *desk, char *ret_line, size_t size)
{
	int n;

	desk_prune_asks(desk);
	if (desk->asks.n == 0) {
		(void)snprintf(ret_line, size, "ok no question is open");
		return;
	}
	n = snprintf(ret_line, size, "ok %zu open", desk->asks.n);
	for (size_t i = 0; i < desk->asks.n && n > 0 && (size_t)n < size; i++) {
		const struct ask *ask = &desk->asks.list[i];
		char mass[32], at[QUANTITY_RFC3339_SIZE];
		(void)quantity_format(mass, sizeof mass, ask->net_mg, ask->step_mg, QUANTITY_GRAMS);
		quantity_rfc3339_utc(at, ask->at_ms);
		n += snprintf(ret_line + n, size - (size_t)n, "; %s: %s at %s", ask->id + strlen(ask->id) - 4, mass, at);
	}
}

void desk_word(void *userdata, const struct rpc_caller *caller, const char *word, char *ret_line, size_t size)
{
	struct desk *desk = userdata;
	struct rpc_refusal refusal = { 0 };
	json_t *result = NULL;
	int r;

	if (strcmp(word, "?") == 0) {
		list_open(desk, ret_line, size);
		return;
	}
	if (strcmp(word, "-") == 0)
		r = desk_aside(desk, caller, NULL, NULL, NULL, &result, &refusal);
	else if (births_means_new(desk, word))
		r = births_new(desk, caller, &result, &refusal);
	else
		r = desk_answer(desk, caller, NULL, word, NULL, &result, &refusal);
	if (r > 0)
		(void)snprintf(ret_line, size, "error %s%s %s", refusal.message,
			       refusal.message[0] && refusal.message[strlen(refusal.message) - 1] == '.' ? "" : ".", refusal.hint);
	else if (r < 0)
		(void)snprintf(ret_line, size, "error no memory; try again");
	else if (strcmp(word, "-") == 0)
		(void)snprintf(ret_line, size, "ok set aside");
	else if (json_object_get(result, "birth_g"))
		(void)snprintf(ret_line, size, "ok %s, new in litter %s, %.10g g", json_string_value(json_object_get(result, "name")),
			       json_string_value(json_object_get(result, "litter")),
			       json_real_value(json_object_get(result, "birth_g")));
	else
		(void)snprintf(ret_line, size, "ok %s %.10g g", json_string_value(json_object_get(result, "name")),
			       json_real_value(json_object_get(result, "net_g")));
	json_decref(refusal.data);
	json_decref(result);
}
