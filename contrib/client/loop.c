// SPDX-License-Identifier: MIT
#include "contrib/client/loop.h"
#include <signal.h>
#include <stdbool.h>
#include <stddef.h>

int loop_new(sd_event **ret)
{
	static const int ends[] = { SIGTERM, SIGINT };
	sigset_t set;
	int r;

	(void)sigemptyset(&set); /* can't fail with valid signals */
	for (size_t i = 0; i < sizeof ends / sizeof *ends; i++)
		(void)sigaddset(&set, ends[i]);
	(void)sigprocmask(SIG_BLOCK, &set, NULL);
	*ret = NULL;
	r = sd_event_new(ret);
	for (size_t i = 0; r >= 0 && i < sizeof ends / sizeof *ends; i++)
		r = sd_event_add_signal(*ret, NULL, ends[i], NULL, NULL); /* without a handler it ends the loop */
	if (r >= 0)
		r = sd_event_set_watchdog(*ret, true);
	return r < 0 ? r : 0;
}
