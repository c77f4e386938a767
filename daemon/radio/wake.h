// SPDX-License-Identifier: MIT
#pragma once
/*
 * A timer that is made once and set many times, so that setting it can't fail.
 * Above: this room. Below: sd-event. Times are CLOCK_MONOTONIC, in microseconds.
 */
#include <stdint.h>
#include <systemd/sd-event.h>

/* Made switched off. 0, or -errno of sd-event. The source is the caller's to unref. */
int wake_new(sd_event *event, sd_event_time_handler_t handler, void *userdata,
	     sd_event_source **ret);
/* Fires once at that time; UINT64_MAX: not at all. */
void wake_at(sd_event_source *source, uint64_t at_us);
/* Fires once that long from now. */
void wake_in(sd_event_source *source, uint64_t in_us);
/* Now, as the loop sees it. */
uint64_t wake_now(sd_event *event);
