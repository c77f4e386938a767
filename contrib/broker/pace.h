// SPDX-License-Identifier: MIT
#pragma once
/*
 * So many messages a second and no more: a broker keeps only so many for a receiver that is slower than we are (a
 * thousand by mosquitto's default, max_queued_messages of mosquitto.conf(5)), and drops the rest. Pure.
 * Above: bridge. Below: nothing.
 */
#include <stddef.h>
#include <stdint.h>

#define PACE_STEP_MS INT64_C(20)

struct pace {
	int64_t rate; /* a second; 0: no limit */
	int64_t at_ms;
	int64_t thousandths; /* of a message, that may be sent; at most a fifth of a second's */
};

void pace_init(struct pace *pace, int rate, int64_t now_ms);
/* How many may be sent now. */
size_t pace_most(struct pace *pace, int64_t now_ms);
/* One was sent. */
void pace_take(struct pace *pace);
