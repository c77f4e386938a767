// SPDX-License-Identifier: MIT
#pragma once
/*
 * The board as a picture for a terminal of any size. Pure.
 * Above: watch.c. Below: watch_board, watch_digits, screen, show, when.
 */
#include "daemon/ctl/screen.h"
#include "daemon/ctl/watch_board.h"
#include "daemon/weigh/quantity.h"

struct watch_look {
	int64_t now_ms;
	enum quantity_unit unit;
};

/* Fills screen, whose width, height and utf8 are set. */
void watch_draw(const struct watch_board *board, const struct watch_look *look, struct screen *screen);

/* The litters in whose round we are, for both kinds of showing: calls fn with one sentence for each, at most max. */
void watch_draw_rounds(const struct watch_board *board, int64_t now_ms, size_t max,
		       void (*fn)(void *userdata, const char *text), void *userdata);
/* A concern in one sentence. */
void watch_draw_concern(const struct watch_concern *concern, char *buffer, size_t size);
/* "716 g less basket 404 g, uncertainty 2.9 g" and what else is to be told of an ask. */
void watch_draw_detail(const struct watch_ask *ask, const struct watch_look *look, bool utf8, char *buffer,
		       size_t size);
