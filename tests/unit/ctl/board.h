// SPDX-License-Identifier: MIT
#pragma once
/*
 * What tests of `watch` share: a board fed with notifications as the daemon sends them. Names are of our invention.
 */
#include "daemon/ctl/watch_board.h"
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <cmocka.h>

#define BOARD_NOW INT64_C(1795610730000) /* 2026-11-25T12:45:30Z */

static inline void board_notice(struct watch_board *board, const char *topic, const char *params, int64_t now_ms)
{
	json_t *json = json_loads(params, 0, NULL);

	assert_non_null(json);
	(void)watch_board_notice(board, topic, json, now_ms); /* what it did is looked at by the test */
	json_decref(json);
}

/* An ask for 312.5 g with two suggestions; at: "12:44:00". */
static inline void board_ask(struct watch_board *board, const char *id, const char *at, int64_t now_ms)
{
	char text[1024];

	(void)snprintf(
		text, sizeof text,
		"{\"ask\":\"%s\",\"at\":\"2026-11-25T%sZ\",\"scale\":\"kitchen\",\"container\":\"basket\","
		"\"gross_g\":716.5,\"tare_g\":404.0,\"net_g\":312.5,\"u_g\":2.9,\"state\":\"settled\","
		"\"litter\":\"Birch\",\"candidates\":[{\"animal\":\"id-acer\",\"name\":\"Acer\",\"collar\":\"green\","
		"\"expected_g\":318.4,\"u_expected_g\":9.2,\"probability\":0.62},{\"animal\":\"id-bean\","
		"\"name\":\"Bean\",\"collar\":null,\"expected_g\":null,\"u_expected_g\":null,\"probability\":0.3}],"
		"\"say\":\"312.5 g. Is it Acer?\"}",
		id, at);
	board_notice(board, "ask", text, now_ms);
}

static inline void board_animal(struct watch_board *board, const char *name, const char *collar, int64_t newest_ms)
{
	struct watch_animal *animals = reallocarray(board->animals, board->n_animals + 1, sizeof *board->animals);

	assert_non_null(animals);
	board->animals = animals;
	animals[board->n_animals] = (struct watch_animal){ .weighed = newest_ms > 0, .newest_ms = newest_ms };
	(void)snprintf(animals[board->n_animals].name, WATCH_NAME, "%s", name);
	(void)snprintf(animals[board->n_animals].collar, WATCH_NAME, "%s", collar);
	(void)snprintf(animals[board->n_animals].litter, WATCH_NAME, "%s", "Birch");
	board->n_animals++;
}

/* A connected board: four pups, two of them weighed in this round, a scale. */
static inline struct watch_board *board_new(void)
{
	struct watch_board *board = calloc(1, sizeof *board);
	json_t *status = json_loads("{\"version\":\"0\",\"protocol\":1,\"radio\":{\"trouble\":\"fine\",\"text\":\"\"},"
				    "\"scales\":[{\"scale\":\"kitchen\",\"address\":\"AA:BB:CC:00:00:01\","
				    "\"state\":\"subscribed\",\"battery\":80,\"container\":\"basket\"}],\"asks\":0}",
				    0, NULL);

	assert_non_null(board);
	assert_non_null(status);
	watch_board_up(board);
	watch_board_status(board, status);
	json_decref(status);
	board_animal(board, "Acer", "green", BOARD_NOW - 24 * 3600000);
	board_animal(board, "Bean", "", BOARD_NOW - 10 * 60000);
	board_animal(board, "Corn", "light blue", 0);
	board_animal(board, "Dock", "red", BOARD_NOW - 5 * 60000);
	return board;
}

static inline void board_free(struct watch_board *board)
{
	watch_board_done(board);
	free(board);
}

static inline void board_recorded(struct watch_board *board, const char *id, const char *name, const char *by,
				  int64_t now_ms)
{
	char text[512];

	(void)snprintf(text, sizeof text,
		       "{\"reading\":\"%s\",\"ask\":\"%s\",\"animal\":\"id\",\"name\":\"%s\","
		       "\"at\":\"2026-11-25T12:44:00Z\",\"net_g\":312.5,\"u_g\":2.9,\"by\":\"%s\"}",
		       id, id, name, by);
	board_notice(board, "recorded", text, now_ms);
}
