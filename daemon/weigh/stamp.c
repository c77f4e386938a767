// SPDX-License-Identifier: MIT
#include "daemon/weigh/stamp.h"
#include "daemon/weigh/weigh.h"

/* a - b, kept inside the type: times come from outside. */
static int64_t apart_ms(int64_t a_ms, int64_t b_ms)
{
	int64_t ret;

	if (!__builtin_sub_overflow(a_ms, b_ms, &ret))
		return ret;
	return a_ms > b_ms ? INT64_MAX : INT64_MIN;
}

static bool near_ms(int64_t a_ms, int64_t b_ms)
{
	int64_t apart = apart_ms(a_ms, b_ms);

	return apart <= WEIGH_LIVE_MS && apart >= -WEIGH_LIVE_MS;
}

static void follow_link(struct stamp_clock *clock, uint32_t link, int64_t now_ms)
{
	if (clock->link == link && clock->begun)
		return;
	*clock = (struct stamp_clock){ .begun = true, .link = link, .linked_ms = now_ms, .last_ms = now_ms };
}

void stamp_link(struct stamp_clock *clock, uint32_t link, int64_t now_ms)
{
	follow_link(clock, link, now_ms);
}

void stamp_read(struct stamp_clock *clock, uint32_t link, int64_t scale_ms, int64_t now_ms, bool set)
{
	follow_link(clock, link, now_ms);
	clock->known = true;
	clock->read = true;
	clock->offset_ms = apart_ms(scale_ms, now_ms);
	clock->set = set;
}

/* a + b, kept inside the type. */
static void move(int64_t *at_ms, int64_t ahead_ms)
{
	if (__builtin_add_overflow(*at_ms, ahead_ms, at_ms))
		*at_ms = ahead_ms < 0 ? INT64_MIN : INT64_MAX;
}

void stamp_clock_set(struct stamp_clock *clock, int64_t ahead_ms)
{
	if (!clock->begun)
		return;
	move(&clock->linked_ms, ahead_ms);
	move(&clock->last_ms, ahead_ms);
	if (clock->known)
		clock->offset_ms = apart_ms(clock->offset_ms, ahead_ms);
}

/* Results that were kept come in one go; this one comes later, and so was weighed just now. */
static bool after_burst(const struct stamp_clock *clock, uint32_t link, int64_t received_ms)
{
	return clock->begun && clock->link == link && apart_ms(received_ms, clock->linked_ms) > STAMP_BURST_MS &&
	       apart_ms(received_ms, clock->last_ms) > STAMP_BURST_MS;
}

int64_t stamp_ahead_ms(struct stamp_clock *clock, uint32_t link, int64_t stamp_ms, int64_t received_ms, bool *ret_live)
{
	bool after = after_burst(clock, link, received_ms), again;

	follow_link(clock, link, received_ms);
	again = clock->stamped && clock->stamp_ms == stamp_ms;
	clock->stamped = true;
	clock->stamp_ms = stamp_ms;
	clock->last_ms = received_ms;
	if (clock->read) {
		/* the right clock, or the one that was read, gave the stamp: whichever makes it one of just now */
		*ret_live = clock->set && near_ms(stamp_ms, received_ms);
		return *ret_live ? 0 : clock->offset_ms;
	}
	*ret_live = after;
	if (after && again)
		return apart_ms(stamp_ms, received_ms);
	if (after) {
		clock->known = true;
		clock->offset_ms = apart_ms(stamp_ms, received_ms);
	}
	return clock->known ? clock->offset_ms : 0;
}
