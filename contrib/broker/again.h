// SPDX-License-Identifier: MIT
#pragma once
/*
 * What receivers ask for once more (`again`, MESSAGES.md): read, gathered, and not followed too often. Pure.
 * Above: bridge. Below: jansson.
 */
#include "contrib/broker/window.h"

#define AGAIN_BYTES 1024 /* a longer wish is none */
#define AGAIN_EVERY_MS INT64_C(10000)

struct again {
	int64_t from[LOG_KINDS]; /* the lowest asked for; 0: nothing */
	int64_t not_before_ms;   /* when the next may be followed */
	int64_t tell_ms;         /* when the next refusal may be told */
	size_t refused;          /* not told yet */
};

/* Reads a wish: ret_from[log] >= 1, or 0 where it wants nothing. 0; -EINVAL, and nothing is written. */
int again_read(const void *octets, size_t n, int64_t ret_from[LOG_KINDS]);
/* Joins it to those that wait; what is on its way to come anyhow is left out. */
void again_wish(struct again *again, const int64_t from[LOG_KINDS], const struct lane lanes[LOG_KINDS]);
/* A wish that is none. Returns how many there were that haven't been told: tell now; 0: later. */
size_t again_refuse(struct again *again, int64_t now_ms);
bool again_waits(const struct again *again);
/* Whether one is followed now; then it is followed: the lanes go back. Not while an earlier one is. */
bool again_follow(struct again *again, int64_t now_ms, struct lane lanes[LOG_KINDS]);
