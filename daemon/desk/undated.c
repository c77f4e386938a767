// SPDX-License-Identifier: MIT
#include "daemon/desk/undated.h"
#include "daemon/desk/room.h"
#include <systemd/sd-event.h>

static bool waits_for(const struct desk *desk, const char *scale_id)
{
	for (const struct pending_passage *at = desk->undated.first; at; at = at->next)
		if (strcmp(at->scale_id, scale_id) == 0)
			return true;
	return false;
}

/* Near its arrival a stamp is right, whatever the clock; and a clock that wasn't read by now won't be. */
static bool is_doubtful(const struct roster_scale *scale, const struct weigh_result *result)
{
	int64_t apart_ms;

	if (!result->has_stamp || result->live || scale->clock.known ||
	    result->received_ms - scale->clock.linked_ms >= UNDATED_MS)
		return false;
	if (__builtin_sub_overflow(result->stamp_ms, result->received_ms, &apart_ms))
		return true;
	return apart_ms > WEIGH_LIVE_MS || apart_ms < -WEIGH_LIVE_MS;
}

static int on_timer(sd_event_source *source, uint64_t at_us, void *userdata)
{
	(void)source;
	(void)at_us;
	undated_release(userdata, NULL);
	return 0;
}

bool undated_hold(struct desk *desk, const struct passage *passage)
{
	/* one behind another keeps its place: what is a repeat of what depends on it */
	if (!waits_for(desk, passage->scale->id) && !is_doubtful(passage->scale, &passage->result))
		return false;
	if (!desk->undated.timer &&
	    sd_event_add_time_relative(desk->event, &desk->undated.timer, CLOCK_MONOTONIC,
				       UNDATED_MS * UINT64_C(1000), 1000, on_timer, desk) < 0)
		return false;
	return pending_add(&desk->undated, passage) == 0;
}

static void go_on(struct desk *desk, struct pending_passage *kept)
{
	struct passage *passage = &kept->passage;
	struct weigh_result *result = &passage->result;

	passage->scale = roster_scale_by_id(&desk->roster, kept->scale_id);
	if (!passage->scale)
		return; /* forgotten meanwhile */
	if (result->has_stamp && passage->scale->clock.link == result->link)
		result->ahead_ms = stamp_ahead_ms(&passage->scale->clock, result->link, result->stamp_ms,
						  result->received_ms, &result->live);
	(void)passage_take(desk, passage);
}

/* Takes the next one out of the list, of this scale or of any. */
static struct pending_passage *take_out(struct pending *list, const char *scale_id)
{
	struct pending_passage **at = &list->first, *found, *before = NULL;

	while (*at && scale_id && strcmp((*at)->scale_id, scale_id) != 0) {
		before = *at;
		at = &(*at)->next;
	}
	found = *at;
	if (!found)
		return NULL;
	*at = found->next;
	if (list->last == found)
		list->last = before;
	list->n--;
	return found;
}

void undated_release(struct desk *desk, const char *scale_id)
{
	struct pending_passage *kept;

	while ((kept = take_out(&desk->undated, scale_id))) {
		go_on(desk, kept);
		pending_free(kept);
	}
	if (!desk->undated.first)
		desk->undated.timer = sd_event_source_disable_unref(desk->undated.timer);
}
