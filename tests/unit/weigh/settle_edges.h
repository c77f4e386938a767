// SPDX-License-Identifier: MIT
#pragma once
/* A scale for test_settle_judge.c and test_settle_after.c, that is driven sample by sample. After cmocka.h. */
#include "daemon/weigh/plateau.h"
#include "daemon/weigh/settle.h"
#include <math.h>

#define MS_US UINT64_C(1000)
#define G INT64_C(1000)
#define START_US UINT64_C(100000000)
#define MAX 64

struct rig {
	struct settle settle;
	uint64_t at_us;
	enum settle_mark mark;
	struct settle_result result; /* of the last SETTLE_LOADED or SETTLE_IDLE */
};

/* An empty scale that streams: the first of a load isn't alone. */
static inline void begin(struct rig *rig, int64_t step_mg)
{
	*rig = (struct rig){ .at_us = START_US };
	settle_init(&rig->settle, step_mg, 0);
}

static inline enum settle_event at(struct rig *rig, uint64_t ms, int64_t mg)
{
	struct settle_sample sample = { mg, START_US + ms * MS_US, rig->mark };

	rig->at_us = sample.at_us;
	return settle_take(&rig->settle, &sample, &rig->result);
}

static inline void begin_stream(struct rig *rig, int64_t step_mg)
{
	begin(rig, step_mg);
	rig->at_us -= 100 * MS_US;
	struct settle_sample sample = { 0, rig->at_us, SETTLE_UNSAID };
	assert_int_equal(settle_take(&rig->settle, &sample, &rig->result), SETTLE_NOTHING);
}

static inline int64_t ms_of(uint64_t us)
{
	return (int64_t)(us - START_US) / 1000;
}

static inline int64_t step_u_mg(int64_t step_mg) /* JCGM 100:2008, 4.3.7 */
{
	return (int64_t)ceil((double)step_mg / sqrt(12));
}

/* The first sample that ends a stretch of at least so long, and of so many. None of these intervals divides the times
 * asked for, so that it's plain which that is. */
static const uint64_t intervals_ms[] = { 110, 290, 310, 450, 600, 1100 };

static inline uint64_t told_after(uint64_t interval_ms, uint64_t us, uint64_t samples)
{
	uint64_t k = us / (interval_ms * MS_US) + 1;

	return k + 1 < samples ? samples - 1 : k;
}

/* A mass that swings by so much to either side. */
static inline int64_t swings(int64_t g, uint64_t k, int64_t by_mg)
{
	return g * G + (k % 2 ? by_mg : -by_mg);
}

static inline int64_t swing_u_mg(size_t n, int64_t by_mg, int64_t step_mg)
{
	double off_mg[MAX];
	struct plateau plateau;

	for (size_t k = 0; k < n; k++)
		off_mg[k] = (double)swings(0, k, by_mg);
	plateau = plateau_of(off_mg, n, (double)step_mg);
	assert_true(plateau.first == 0 && plateau.kept == n);
	return (int64_t)ceil(plateau.u);
}

static inline void told_700_g(struct rig *rig, int64_t step_mg)
{
	begin(rig, step_mg);
	rig->mark = SETTLE_STEADY;
	assert_int_equal(at(rig, 0, 700 * G), SETTLE_LOADED);
	rig->mark = SETTLE_UNSAID;
}
