// SPDX-License-Identifier: MIT
#include "contrib/speak/said.h"
#include "daemon/ctl/text.h"
#include <string.h>

bool said_is_news(struct said *said, const char *id, unsigned rank)
{
	for (size_t i = 0; i < said->n; i++)
		if (strcmp(said->list[i].id, id) == 0) {
			bool worse = rank < said->list[i].rank;
			said->list[i].rank = rank;
			return worse;
		}
	text_copy(said->list[said->next].id, sizeof said->list[said->next].id, id);
	said->list[said->next].rank = rank;
	said->next = (said->next + 1) % SAID_MAX;
	if (said->n < SAID_MAX)
		said->n++;
	return true;
}
