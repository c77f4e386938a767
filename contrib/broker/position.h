// SPDX-License-Identifier: MIT
#pragma once
/*
 * How far the broker has come, kept over a restart: a small JSON file in our folder, there whole or not at all. What is
 * lost with it costs repeats and nothing else.
 * Above: bridge. Below: files, jansson.
 */
#include "contrib/broker/window.h"
#include <jansson.h>

#define POSITION_FILE "position.json"

struct position {
	int64_t seq[LOG_KINDS]; /* 0: nothing yet, and then id is "" */
	char id[LOG_KINDS][WINDOW_ID_SIZE];
};

enum position_found {
	POSITION_FOUND = 0,
	POSITION_NONE,   /* there is no such file yet */
	POSITION_BROKEN, /* it isn't ours, or was cut */
	POSITION_OTHER,  /* it was kept for another broker or under another name */
};

/* `to` names the broker and the topics that it holds for. A new reference; NULL without memory. */
json_t *position_pack(const struct position *position, const char *to);
/* FOUND, BROKEN or OTHER; object may be NULL or anything. */
enum position_found position_unpack(const json_t *object, const char *to, struct position *ret);

/* Opens our folder, makes it (mode 0700) where it isn't there, and locks it: -EAGAIN when another of us has it. 0 and
 * the descriptor, or -errno. */
int position_open(const char *dir, int *ret_fd);
enum position_found position_load(int dir_fd, const char *to, struct position *ret);
/* On the disk when it returns 0; else -errno, and what was there before is still there. */
int position_save(int dir_fd, const char *to, const struct position *position);
