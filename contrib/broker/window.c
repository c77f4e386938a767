// SPDX-License-Identifier: MIT
#include "contrib/broker/window.h"
#include <stdio.h>

void lane_begin(struct lane *lane, int64_t acked, const char *id)
{
	*lane = (struct lane){ .acked = acked, .cursor = acked, .top = acked };
	(void)snprintf(lane->id, sizeof lane->id, "%s", id);
}

void lane_sent(struct lane *lane, int64_t seq)
{
	lane->cursor = seq;
	if (seq > lane->top)
		lane->top = seq;
}

bool lane_acked(struct lane *lane, int64_t seq, const char *id)
{
	if (seq <= lane->acked)
		return false;
	lane->acked = seq;
	(void)snprintf(lane->id, sizeof lane->id, "%s", id);
	return true;
}

void lane_back(struct lane *lane, int64_t seq)
{
	if (lane->cursor > seq - 1)
		lane->cursor = seq - 1;
}

bool lane_repeats(const struct lane *lane)
{
	return lane->cursor < lane->top;
}

static struct window_entry *nth(struct window *window, size_t i)
{
	return &window->ring[(window->first + i) % WINDOW_MAX];
}

size_t window_room(const struct window *window)
{
	return WINDOW_MAX - window->n;
}

void window_put(struct window *window, int mid, enum log_kind log, int64_t seq, const char *id)
{
	struct window_entry *entry = nth(window, window->n++);

	*entry = (struct window_entry){ .mid = mid, .log = log, .seq = seq };
	(void)snprintf(entry->id, sizeof entry->id, "%s", id);
}

bool window_ack(struct window *window, int mid)
{
	for (size_t i = 0; i < window->n; i++) {
		struct window_entry *entry = nth(window, i);
		if (entry->mid != mid || entry->acked)
			continue;
		entry->acked = true;
		return true;
	}
	return false;
}

bool window_pop(struct window *window, struct window_entry *ret)
{
	if (window->n == 0 || !nth(window, 0)->acked)
		return false;
	*ret = *nth(window, 0);
	window->first = (window->first + 1) % WINDOW_MAX;
	window->n--;
	return true;
}

void window_lost(struct window *window, struct lane lanes[LOG_KINDS])
{
	for (size_t i = 0; i < window->n; i++) {
		const struct window_entry *entry = nth(window, i);
		if (entry->log != LOG_NONE)
			lane_back(&lanes[entry->log], entry->seq);
	}
	window->first = window->n = 0;
}

void window_forget(struct window *window, enum log_kind log)
{
	for (size_t i = 0; i < window->n; i++)
		if (nth(window, i)->log == log)
			nth(window, i)->log = LOG_NONE;
}
