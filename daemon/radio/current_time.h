// SPDX-License-Identifier: MIT
#pragma once
/*
 * The clock of a scale, Current Time (0x2A2B): told by ops.clock as it was read, and then set to local time where it
 * may be written and is off (facts, 5.2). Results stored in the scale bear its time, so the clock as it ran counts.
 * Above: subscribe.c, which reads it once a link, when the subscription stands. Below: bus.c, protocols/date_time.
 */
#include "protocols/bytes.h"
#include "protocols/date_time.h"
#include "scale.h"

/* A clock that is off by no more than this is left alone. */
#define CURRENT_TIME_OFF_S 60

/* Its octets were read. Tells ops.clock, at once or when the write is answered. */
void current_time_take(struct scale *scale, struct mirror_attribute *attribute, struct bytes value);
/* The link is over. Tells what was read, if that wasn't told yet. */
void current_time_end(struct scale *scale);

/* Whether a clock that shows this is to be set, ours showing `now` (valid). One that is no date is. Pure. */
bool current_time_is_off(struct bytes value, const struct date_time *now);
