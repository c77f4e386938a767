// SPDX-License-Identifier: MIT
#pragma once
/*
 * When a stored result was weighed, by a scale whose clock is off: what is known of its clock on this link, and what
 * follows for a time stamp. Above: the desk. Below: nothing. Pure.
 */
#include <stdbool.h>
#include <stdint.h>

/* Results that a scale had kept come in one go when it is connected; one that comes this long after the link was made
 * and after the result before it was weighed just now, whatever its stamp says. Our judgement. */
#define STAMP_BURST_MS 10000

/* Zero-initialised is "nothing known". Of one link: a new link number starts it again. */
struct stamp_clock {
	bool begun; /* a link was heard of */
	uint32_t link;
	bool known;        /* offset_ms was read from Current Time, or seen by a live result */
	bool read;         /* it was read: then no result is taken for live by the time at which it came */
	int64_t offset_ms; /* the scale's clock minus ours, before anything was set */
	bool set;          /* the scale's clock has been set on this link */
	int64_t linked_ms, last_ms; /* when the link was first heard of, and when its last result came; UTC */
	bool stamped;               /* a result came; its stamp was: */
	int64_t stamp_ms;
};

/* A link was made. Where this isn't told, the first that is heard of a link counts as its beginning. */
void stamp_link(struct stamp_clock *clock, uint32_t link, int64_t now_ms);
/* Current Time was read: scale_ms, as UTC; and set to ours right after, if set. */
void stamp_read(struct stamp_clock *clock, uint32_t link, int64_t scale_ms, int64_t now_ms, bool set);
/* Our wall clock was set, ahead_ms ahead of what it would show. What is known of the link goes by the new time. */
void stamp_clock_set(struct stamp_clock *clock, int64_t ahead_ms);
/*
 * A stamp as it came (as UTC), and when it arrived: returns how far the scale's clock was ahead of ours when it gave
 * the stamp, as far as known (0: not known, or the stamp is right). *ret_live: it was weighed as it came.
 * Learns the offset from a live result where Current Time told none; not from one with the stamp of the result before:
 * that may be an old result sent again.
 */
int64_t stamp_ahead_ms(struct stamp_clock *clock, uint32_t link, int64_t stamp_ms, int64_t received_ms, bool *ret_live);
