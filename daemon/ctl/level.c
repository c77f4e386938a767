// SPDX-License-Identifier: MIT
#include "daemon/ctl/level.h"
#include <string.h>

static const char *const levels[LEVEL_RANKS][2] = {
	{ "vet", "CALL YOUR VET NOW" },
	{ "act", "ACT" },
	{ "look", "LOOK" },
};

unsigned level_rank(const char *level)
{
	for (unsigned i = 0; i < LEVEL_RANKS; i++)
		if (strcmp(levels[i][0], level) == 0)
			return i;
	return 0;
}

const char *level_words(const char *level)
{
	const char *const *known = levels[level_rank(level)];

	return strcmp(known[0], level) == 0 ? known[1] : level;
}
