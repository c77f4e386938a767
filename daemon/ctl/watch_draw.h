// SPDX-License-Identifier: MIT
#pragma once
/*
 * The board as a picture for a terminal of any size. Pure.
 * Above: watch.c. Below: watch_plan (what goes where), watch_words, screen, show, when.
 */
#include "daemon/ctl/screen.h"
#include "daemon/ctl/watch_board.h"
#include "daemon/ctl/watch_words.h"

/* Fills screen, whose width, height and utf8 are set. */
void watch_draw(const struct watch_board *board, const struct watch_look *look, struct screen *screen);
