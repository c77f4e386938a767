// SPDX-License-Identifier: MIT
#include "contrib/page/rate.h"

bool rate_take(struct rate *rate, double burst, double per_s, uint64_t now_usec, unsigned *ret_retry_s)
{
	double back = (double)(now_usec - rate->at_usec) / 1e6 * per_s;

	rate->used = rate->used > back ? rate->used - back : 0;
	rate->at_usec = now_usec;
	if (rate->used + 1 <= burst) {
		rate->used++;
		return true;
	}
	*ret_retry_s = (unsigned)((rate->used + 1 - burst) / per_s) + 1;
	return false;
}
