// SPDX-License-Identifier: MIT
#include "wake.h"
#include <time.h>

int wake_new(sd_event *event, sd_event_time_handler_t handler, void *userdata,
	     sd_event_source **ret)
{
	sd_event_source *source;
	int r;

	r = sd_event_add_time(event, &source, CLOCK_MONOTONIC, UINT64_MAX, 0, handler, userdata);
	if (r < 0)
		return r;
	r = sd_event_source_set_enabled(source, SD_EVENT_OFF);
	if (r < 0) {
		sd_event_source_unref(source);
		return r;
	}
	*ret = source;
	return 0;
}

void wake_at(sd_event_source *source, uint64_t at_us)
{
	/* neither can fail on a time source of this process: no memory is needed and no descriptor
	 */
	(void)sd_event_source_set_time(source, at_us);
	(void)sd_event_source_set_enabled(source,
					  at_us == UINT64_MAX ? SD_EVENT_OFF : SD_EVENT_ONESHOT);
}

void wake_in(sd_event_source *source, uint64_t in_us)
{
	wake_at(source, wake_now(sd_event_source_get_event(source)) + in_us);
}

uint64_t wake_now(sd_event *event)
{
	struct timespec now;
	uint64_t us;

	if (sd_event_now(event, CLOCK_MONOTONIC, &us) >= 0)
		return us;
	(void)clock_gettime(CLOCK_MONOTONIC, &now); /* always there on Linux */
	return (uint64_t)now.tv_sec * 1000000 + (uint64_t)now.tv_nsec / 1000;
}
