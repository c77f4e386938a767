// SPDX-License-Identifier: MIT
#include "contrib/broker/pace.h"

static int64_t most(const struct pace *pace)
{
	return pace->rate < 5 ? 1000 : pace->rate * 200;
}

void pace_init(struct pace *pace, int rate, int64_t now_ms)
{
	*pace = (struct pace){ .rate = rate, .at_ms = now_ms };
	pace->thousandths = most(pace);
}

size_t pace_most(struct pace *pace, int64_t now_ms)
{
	int64_t passed = now_ms - pace->at_ms;

	if (pace->rate == 0)
		return SIZE_MAX;
	pace->at_ms = now_ms;
	if (passed > 1000)
		passed = 1000;
	pace->thousandths += passed * pace->rate;
	if (pace->thousandths > most(pace))
		pace->thousandths = most(pace);
	return (size_t)(pace->thousandths / 1000);
}

void pace_take(struct pace *pace)
{
	if (pace->rate)
		pace->thousandths -= 1000;
}
