// SPDX-License-Identifier: MIT
#pragma once
/*
 * The wall clock and the local zone, for the desk. The only place in the daemon (besides the radio's arrival times)
 * that asks what time it is.
 */
#include <stdint.h>

struct date_time;

int64_t clock_now_ms(void);
/* Milliseconds since the machine was started, suspended or not: for how long something has been there, whatever happens
 * to the wall clock. */
int64_t clock_boot_ms(void);
/* Minutes east of UTC that the local zone had at that time. */
int clock_offset_min(int64_t at_ms);
/* A scale's local date and time, taken to be in our own zone, as UTC. t must be valid. In the hour that a zone
 * repeats in autumn the C library's choice stands. */
int64_t clock_local_to_utc_ms(const struct date_time *t);
