// SPDX-License-Identifier: MIT
#pragma once
/*
 * What there is to tell on `watch`'s screen, and how its rows are shared out. Pure.
 * Above: watch_draw.c. Below: watch_words, watch_asks, watch_digits, screen.
 */
#include "daemon/ctl/screen.h"
#include "daemon/ctl/show.h"
#include "daemon/ctl/watch_digits.h"
#include "daemon/ctl/watch_words.h"

#define PLAN_NOTICES 12 /* lines of them */
#define PLAN_MESSAGE 3
#define PLAN_ROUNDS 2

struct watch_notice { /* one line */
	char text[WATCH_TEXT];
	bool bold;
};

struct watch_page {
	const struct watch_board *board;
	const struct watch_look *look;
	const struct watch_ask *ask; /* NULL: none is open */
	struct screen *screen;
	unsigned row; /* the next one */
	struct watch_notice notices[PLAN_NOTICES];
	unsigned n_notices;
	char rounds[PLAN_ROUNDS][WATCH_TEXT]; /* a litter each */
	unsigned n_rounds, round_rows;        /* rows: that all of them need, wrapped */
	struct watch_notice message[PLAN_MESSAGE];
	unsigned n_message;
	char mass[SHOW_SIZE]; /* the one in large; "" for none */
};

/* How the rows are shared out. */
struct watch_plan {
	unsigned digits, detail, candidates, more, input, message, notices, rounds, recent, keys;
	unsigned gaps; /* empty rows, for the eye */
	enum watch_digits size;
};

/* Fills a page whose first four members are set. Most urgent first: the last ones give way on a small screen. */
void watch_plan_collect(struct watch_page *page);
struct watch_plan watch_plan_rows(const struct watch_page *page);
