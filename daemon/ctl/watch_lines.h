// SPDX-License-Identifier: MIT
#pragma once
/*
 * `watch` where there is no terminal: what happens as lines of text (or JSON), to standard output.
 * Above: watch.c. Below: watch_board, watch_words.
 */
#include "daemon/ctl/watch_board.h"
#include "daemon/ctl/watch_words.h"

/* A notification; was_open: its ask was open until then, and
 * somebody else closed it. Asks are told by watch_lines_ask(). */
void watch_lines_notice(const struct watch_look *look, const char *topic, const json_t *params, bool was_open);
/* The ask that is to be answered next, with its suggestions. */
void watch_lines_ask(const struct watch_board *board, const struct watch_look *look);
/* A line in which others may have named things. */
void watch_lines_print(const char *text);
/* One JSON object: the notification with its topic. */
void watch_lines_json(const char *topic, json_t *params);
