// SPDX-License-Identifier: MIT
#pragma once
/*
 * What was handed to the broker and not acknowledged yet, in the order of sending; and where each log is. Pure.
 * Above: bridge. Below: nothing.
 *
 * A row counts as taken when it and all that was sent before it are acknowledged, so a position never skips a row.
 */
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define WINDOW_MAX 100 /* so many messages in memory, whatever waits in the ledger */
#define WINDOW_ID_SIZE 40

enum log_kind { LOG_READING, LOG_CONCERN, LOG_KINDS };
#define LOG_NONE LOG_KINDS /* a message that is no row of a log */

/* ---- one log ---- */

struct lane {
	int64_t acked;           /* the newest seq that the broker has taken, 0: none */
	char id[WINDOW_ID_SIZE]; /* what stands there */
	int64_t cursor;          /* what comes after this seq is sent next */
	int64_t top;             /* the highest that cursor has been */
};

/* Where to go on, as it was kept; an id that is too long is cut. */
void lane_begin(struct lane *lane, int64_t acked, const char *id);
void lane_sent(struct lane *lane, int64_t seq);
/* true: the position is another now. */
bool lane_acked(struct lane *lane, int64_t seq, const char *id);
/* All from seq on is sent once more; seq > 0. */
void lane_back(struct lane *lane, int64_t seq);
/* Whether what was sent before is being sent once more. */
bool lane_repeats(const struct lane *lane);

/* ---- in flight ---- */

struct window_entry {
	int mid; /* MQTT's packet identifier */
	enum log_kind log;
	int64_t seq;
	char id[WINDOW_ID_SIZE];
	bool acked;
};

struct window {
	struct window_entry ring[WINDOW_MAX];
	size_t first, n;
};

size_t window_room(const struct window *window);
/* There is room. */
void window_put(struct window *window, int mid, enum log_kind log, int64_t seq, const char *id);
/* false: nothing of that number is in flight. */
bool window_ack(struct window *window, int mid);
/* The oldest, once it is acknowledged, and it is in flight no more. */
bool window_pop(struct window *window, struct window_entry *ret);
/* The connection is gone: each log goes on at its oldest that is in flight, and nothing is in flight any more. */
void window_lost(struct window *window, struct lane lanes[LOG_KINDS]);
/* The log is another's: what is in flight of it is nobody's. */
void window_forget(struct window *window, enum log_kind log);
