// SPDX-License-Identifier: MIT
#include "daemon/weigh/settle.h"
#include "daemon/weigh/settle_judge.h"
#include "daemon/weigh/weigh.h"
#include <string.h>

static bool is_idle(const struct settle *settle, int64_t gross_mg)
{
	int64_t off = samples_apart_mg(gross_mg, settle->idle_mg);

	return off <= WEIGH_EMPTY_MG && off >= -WEIGH_EMPTY_MG;
}

/* A new load, or an emptied scale, with the newest sample as its first. */
static void begin(struct settle *settle, enum settle_state state)
{
	settle->state = state;
	settle->began_us = settle->last.at_us;
	settle->begun_alone = settle->alone;
	settle->lifted = false;
	settle->back = false;
	samples_begin(&settle->samples, settle->last.gross_mg);
	samples_keep(&settle->samples, settle->last.gross_mg, settle->last.at_us);
}

/* Its time is over: idle since lifted_us, and the newest sample is idle. */
static enum settle_event removed(struct settle *settle, struct settle_result *ret)
{
	enum settle_event event = SETTLE_NOTHING;

	if (settle->state == SETTLE_IS_LOADED)
		event = settle_judge_removed(settle, settle->lifted_us, ret);
	begin(settle, SETTLE_IS_EMPTIED);
	return event;
}

/* ---- samples ---- */

void settle_init(struct settle *settle, int64_t step_mg, int64_t idle_mg)
{
	memset(settle, 0, sizeof *settle);
	settle->step_mg = step_mg;
	settle->idle_mg = idle_mg;
	samples_begin(&settle->samples, 0);
}

void settle_set_idle(struct settle *settle, int64_t idle_mg)
{
	settle->idle_mg = idle_mg;
}

void settle_set_step(struct settle *settle, int64_t step_mg)
{
	settle->step_mg = step_mg;
}

static void follow(struct settle *settle, const struct settle_sample *sample)
{
	uint64_t gap_us = 0;

	settle->alone = !settle->heard;
	settle->before_mg = settle->last.gross_mg;
	if (settle->heard) {
		gap_us = sample->at_us > settle->last.at_us ? sample->at_us - settle->last.at_us : 0;
		settle->alone = gap_us >= SETTLE_ALONE_US && gap_us / 2 >= settle->interval_us;
		if (gap_us < SETTLE_RESTLESS_US) /* longer: a pause, no interval */
			settle->interval_us = settle->interval_us ? (7 * settle->interval_us + gap_us) / 8 : gap_us;
	}
	settle->last.gross_mg = sample->gross_mg;
	settle->last.mark = sample->mark;
	settle->last.at_us = settle->heard ? settle->last.at_us + gap_us : sample->at_us;
	settle->heard = true;
	if (sample->mark == SETTLE_MOVING) {
		settle->moved = true;
		settle->moved_us = settle->last.at_us;
	}
}

static bool passes(const struct settle *settle)
{
	return settle->last.at_us - settle->lifted_us < SETTLE_PASSING_US;
}

static enum settle_event take_idle(struct settle *settle, struct settle_result *ret)
{
	switch (settle->state) {
	case SETTLE_IS_IDLE:
		return SETTLE_NOTHING;
	case SETTLE_IS_EMPTIED:
		samples_keep(&settle->samples, settle->last.gross_mg, settle->last.at_us);
		return settle_judge_emptied(settle, ret);
	case SETTLE_IS_LOADED:
	case SETTLE_IS_TOLD:
		if (!settle->lifted) {
			settle->lifted = true;
			settle->lifted_us = settle->last.at_us;
		}
		return passes(settle) ? SETTLE_NOTHING : removed(settle, ret);
	}
	return SETTLE_NOTHING;
}

/* Also says when the load before it is to be told, that only now is known to have gone. */
static enum settle_event take_load(struct settle *settle, struct settle_result *ret)
{
	enum settle_event event = SETTLE_NOTHING, told;
	bool gone = settle->lifted && !passes(settle);

	if (gone && settle->state == SETTLE_IS_LOADED)
		event = settle_judge_removed(settle, settle->lifted_us, ret);
	if (gone || settle->state == SETTLE_IS_IDLE || settle->state == SETTLE_IS_EMPTIED) {
		begin(settle, SETTLE_IS_LOADED);
		if (event != SETTLE_NOTHING)
			return event;
		event = SETTLE_ONSET;
	} else {
		settle->lifted = false;
		samples_keep(&settle->samples, settle->last.gross_mg, settle->last.at_us);
	}
	if (settle->state == SETTLE_IS_TOLD)
		return settle_judge_exchanged(settle);
	told = settle_judge_mark(settle, event == SETTLE_ONSET, ret);
	if (told != SETTLE_NOTHING || settle->state == SETTLE_IS_TOLD)
		return told;
	return event != SETTLE_NOTHING ? event : settle_judge_load(settle, ret);
}

enum settle_event settle_take(struct settle *settle, const struct settle_sample *sample, struct settle_result *ret)
{
	follow(settle, sample);
	return is_idle(settle, sample->gross_mg) ? take_idle(settle, ret) : take_load(settle, ret);
}

/* ---- silence ---- */

static bool is_waiting(const struct settle *settle)
{
	switch (settle->state) {
	case SETTLE_IS_IDLE:
		return false;
	case SETTLE_IS_EMPTIED:
	case SETTLE_IS_LOADED:
		return true;
	case SETTLE_IS_TOLD:
		return settle->lifted || settle_judge_differs(settle);
	}
	return false;
}

uint64_t settle_wake_us(const struct settle *settle)
{
	uint64_t quiet_us = SETTLE_QUIET_INTERVALS * settle->interval_us;
	uint64_t ret;

	if (!is_waiting(settle))
		return UINT64_MAX;
	if (quiet_us < SETTLE_QUIET_US)
		quiet_us = SETTLE_QUIET_US;
	return __builtin_add_overflow(settle->last.at_us, quiet_us, &ret) ? UINT64_MAX : ret;
}

static enum settle_event judge_silence_told(struct settle *settle, struct settle_result *ret)
{
	if (!settle_judge_ends_still(settle)) {
		samples_begin(&settle->samples, settle->told_mg);
		return SETTLE_NOTHING;
	}
	begin(settle, SETTLE_IS_LOADED);
	return settle_judge_silence(settle, ret);
}

enum settle_event settle_wake(struct settle *settle, uint64_t now_us, struct settle_result *ret)
{
	if (!is_waiting(settle) || now_us < settle_wake_us(settle))
		return SETTLE_NOTHING;
	if (settle->lifted)
		return removed(settle, ret);
	switch (settle->state) {
	case SETTLE_IS_IDLE:
		break;
	case SETTLE_IS_EMPTIED:
		settle_judge_emptied_last(settle, ret);
		return SETTLE_IDLE;
	case SETTLE_IS_LOADED:
		return settle_judge_silence(settle, ret);
	case SETTLE_IS_TOLD:
		return judge_silence_told(settle, ret);
	}
	return SETTLE_NOTHING;
}

enum settle_event settle_end(struct settle *settle, struct settle_result *ret)
{
	enum settle_event event = SETTLE_NOTHING;

	/* in place of the load told, and no time left to wait whether it stays */
	if (settle->state == SETTLE_IS_TOLD && !settle->lifted && settle_judge_differs(settle) &&
	    settle_judge_ends_still(settle))
		begin(settle, SETTLE_IS_LOADED);
	if (settle->state == SETTLE_IS_LOADED) {
		/* a scale that sends its result and goes: no need to have waited */
		if (settle->samples.n < SETTLE_FEW && settle->begun_alone && !settle->lifted &&
		    settle_judge_ends_still(settle))
			event = settle_judge_silence(settle, ret);
		else
			event = settle_judge_removed(settle, settle->last.at_us, ret);
	}
	settle_init(settle, settle->step_mg, settle->idle_mg);
	return event;
}
