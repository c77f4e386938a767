// SPDX-License-Identifier: MIT
#pragma once
/*
 * Scales that stream: each sample goes to weigh/settle, and what it makes of a load goes on as one result.
 * Above: frames.c, broadcast.c. Below: weigh/settle, passage.c.
 *
 * A characteristic that only describes itself as a mass (0x2904) doesn't say whether it streams. Its first value is
 * held for STREAM_DOUBT_US: if one that differs follows, or many that don't, it is a stream, and stays one; else it was a
 * result.
 */
#include "daemon/desk/roster.h"
#include "daemon/radio/radio.h"
#include "protocols/payload.h"

struct desk;
struct stream;

#define STREAM_DOUBT_US UINT64_C(1500000)

/* One sample of a scale that streams. doubtful: it may as well be a result. */
void stream_take(struct desk *desk, struct roster_scale *scale, const struct radio_frame *frame,
		 const struct payload *payload, bool doubtful);
/* Its link ended: what is under way is told if its samples carry it. Does nothing for a scale without a stream. */
void stream_end(struct desk *desk, struct roster_scale *scale);
/* The scale was given up. */
void stream_forget(struct desk *desk, const char *scale_id);
/* A tare is awaited of what stands on this scale now ("": any): it counts as put there anew. */
void streams_begin_anew(struct desk *desk, const char *scale_id);
/* Ends and frees all. */
void streams_done(struct desk *desk);
