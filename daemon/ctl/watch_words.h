// SPDX-License-Identifier: MIT
#pragma once
/*
 * What `watch` says in sentences, at a terminal and in lines alike. Pure.
 * Above: watch_plan.c, watch_draw.c, watch_lines.c, watch_care.c. Below: watch_care, level, show, when.
 */
#include "daemon/ctl/watch_board.h"
#include "daemon/weigh/quantity.h"

struct watch_look {
	int64_t now_ms;
	enum quantity_unit unit;
};

/* "12:44 on kitchen   716 g less basket 404 g   +- 2.9 g" and what else is to be told of an ask. */
void watch_words_detail(const struct watch_ask *ask, const struct watch_look *look, bool utf8, char *buffer, size_t size);
/* A concern in one sentence. */
void watch_words_concern(const struct watch_concern *concern, char *buffer, size_t size);
/* Who is left to weigh in a litter. */
void watch_words_round(const struct watch_board *board, const char *litter, int64_t now_ms, char *buffer, size_t size);
/* What looks exchanged, of the notification `round`. False when nothing does. */
bool watch_words_exchange(const json_t *params, char *buffer, size_t size);
