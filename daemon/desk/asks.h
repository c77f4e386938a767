// SPDX-License-Identifier: MIT
#pragma once
/*
 * Open questions: weighings that nobody has answered or set aside, oldest first.
 * Above: frames.c, answers.c, words.c. Below: the litter room's ranking.
 */
#include "daemon/store/uuid7.h"
#include "daemon/weigh/weigh.h"
#include <jansson.h>
#include <stdbool.h>
#include <stddef.h>

struct desk;
struct roster_animal;
struct store_weighing_row;
struct prompt_notice;

/* An ask stays open this long after it came; then its weighing waits in `unanswered`, so that a word said in the
 * next round can't answer a question forgotten in the last. */
#define ASKS_OPEN_MS (INT64_C(12) * 3600 * 1000)

struct ask {
	char id[UUID7_SIZE];  /* the weighing's */
	char scale_id[UUID7_SIZE];
	char container_id[UUID7_SIZE];
	int64_t at_ms, received_ms;
	int64_t opened_ms; /* on clock_boot_ms(), since the wall clock may be set; before the start it is negative */
	int64_t gross_mg, tare_mg, net_mg, u_mg, step_mg;
	bool restless;
};

struct asks {
	struct ask *list; /* oldest first */
	size_t n, room;
};

/* The ask for a weighing as the ledger has it. */
struct ask ask_of(const struct store_weighing_row *row);
/* Room for as many as may be open, so that memory never keeps one from being asked. 0, or -ENOMEM. Once, before the others. */
int asks_reserve(struct asks *asks);
/* Adds at the end. -ENOMEM. The caller keeps n within LIMIT_OPEN_ASKS. */
int asks_add(struct asks *asks, const struct ask *ask);
/* By id or the last (at least 4) characters of it; NULL when none or several end so. "" or NULL: the oldest. */
const struct ask *asks_find(const struct asks *asks, const char *id_or_tail);
void asks_remove(struct asks *asks, const char *id);
void asks_done(struct asks *asks);

/* The animal that is suggested first, or NULL when nothing is. */
const struct roster_animal *ask_first(const struct ask *ask, struct desk *desk);
/* The ask notification's parameters, suggestions included (a new reference, NULL without memory), and the same as a
 * readable line in *ret_text (malloc'd). */
json_t *ask_params(const struct ask *ask, struct desk *desk, char **ret_text);
