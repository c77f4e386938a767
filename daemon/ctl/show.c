// SPDX-License-Identifier: MIT
#include "daemon/ctl/show.h"
#include <math.h>

#define TAIL 6 /* of base 16: one in 16 million for two at random; the daemon refuses a tail that fits two */
#define ABSURD_G 1e6

const char *show_mass(char buffer[SHOW_SIZE], int64_t mg, enum quantity_unit unit)
{
	char *at = buffer;
	size_t size = SHOW_SIZE;

	if (mg < 0) {
		*at++ = '-';
		size--;
		mg = -mg;
	}
	(void)quantity_format(at, size, mg, 0, unit);
	return buffer;
}

const char *show_about(char buffer[SHOW_SIZE], int64_t mg, enum quantity_unit unit)
{
	if (unit == QUANTITY_GRAMS && mg >= 10000)
		mg = (mg + 500) / 1000 * 1000;
	return show_mass(buffer, mg, unit);
}

int64_t show_mg(double grams)
{
	if (!(fabs(grams) < ABSURD_G))
		return 0;
	return llround(grams * 1000);
}

const char *show_link(const char *state)
{
	static const char *const words[][2] = {
		{ "subscribed", "connected" },  { "away", "away" },
		{ "lost", "asleep" },           { "seen", "connecting" },
		{ "connecting", "connecting" }, { "resolving", "connecting" },
		{ "waiting", "trying again" }, { "listening", "listening" },
	};

	for (size_t i = 0; i < sizeof words / sizeof *words; i++)
		if (strcmp(words[i][0], state) == 0)
			return words[i][1];
	return state;
}

const char *show_tail(const char *id)
{
	size_t n = strlen(id);

	return n > TAIL ? id + n - TAIL : id;
}
