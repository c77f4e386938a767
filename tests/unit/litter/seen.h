// SPDX-License-Identifier: MIT
#pragma once
/* One animal as the rules see it, with a state of the model that is given. After cmocka.h. */
#include <string.h>
#include "tests/unit/litter/test_concern.h"

#define U_MG 289

struct seen {
	struct made made;
	struct concern_peers peers;
	struct concern_view view;
	struct concern told;
};

/* As of now, in hours of age; the model believes that the first animal stopped at an hour, with this probability. */
static inline void look(struct seen *seen, double now, double since, double p_stall, double p_loss)
{
	struct concern_view *view = &seen->view;
	size_t n = seen->made.animals[0].n;

	concern_rules_peers(&seen->made.litter, hour(now), &seen->peers);
	concern_rules_view(&seen->made.litter, &seen->peers, 0, hour(now), view);
	view->known = true;
	view->state = (struct growth_state){ .p_stall = p_stall, .p_loss = p_loss, .since_day = since / 24 };
	view->state.newest_ms = n > 0 ? seen->made.readings[0][n - 1].at_ms : INT64_MIN;
	view->state.readings = (unsigned)n + 1;
	seen->told.level = CONCERN_VET; /* none that a rule leaves as it was passes for its own */
}

/* One pup, born at 300 g; then hours of age and grams. */
static inline void weighed(struct seen *seen, const double (*weighings)[2], size_t n)
{
	memset(seen, 0, sizeof *seen);
	one(&seen->made, 300000);
	for (size_t i = 0; i < n; i++)
		weigh(&seen->made, 0, weighings[i][0], (int64_t)llround(1000 * weighings[i][1]), U_MG);
	seen->made.growth.animals[0].wild = false; /* whatever the model makes of these */
}
#define WEIGHED(seen, ...)                                                                                             \
	weighed(seen, (const double[][2]){ __VA_ARGS__ },                                                              \
		sizeof((const double[][2]){ __VA_ARGS__ }) / sizeof(double[2]))

static inline bool says(const struct seen *seen, const char *words)
{
	return strstr(seen->told.text, words) != NULL;
}
