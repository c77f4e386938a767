// SPDX-License-Identifier: MIT
#pragma once
/*
 * Which questions are open, which one is shown, and what was recorded lately.
 * Above: watch_board.c, watch_input.c, watch_draw.c, watch_lines.c. Below: watch_notes, field. Pure.
 */
#include "daemon/ctl/watch_board.h"

/* The notifications `ask`, `withdraw`, `recorded`. False when they are about nothing that is shown. */
bool watch_asks_take(struct watch_board *board, const json_t *params, int64_t now_ms);
bool watch_asks_withdraw(struct watch_board *board, const json_t *params, int64_t now_ms);
bool watch_asks_recorded(struct watch_board *board, const json_t *params, int64_t now_ms);
/* One is no longer open; the oldest of the rest is shown next. */
void watch_asks_remove(struct watch_board *board, const char *id, int64_t now_ms);
/* The ask that is shown, or NULL. */
const struct watch_ask *watch_asks_shown(const struct watch_board *board);
