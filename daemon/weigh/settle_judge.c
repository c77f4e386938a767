// SPDX-License-Identifier: MIT
#include "daemon/weigh/settle_judge.h"
#include "daemon/weigh/plateau.h"
#include "daemon/weigh/weigh.h"
#include <math.h>

_Static_assert(SAMPLES_MAX <= PLATEAU_MAX, "a plateau holds all samples");

static double step_of(const struct settle *settle)
{
	return (double)(settle->step_mg > 0 ? settle->step_mg : WEIGH_UNKNOWN_STEP_MG);
}

/* JCGM 100:2008, 4.3.7 */
static double step_u(const struct settle *settle)
{
	return step_of(settle) / sqrt(12);
}

/* Of what was put on, or of what is missing. */
static double load_mg(const struct settle *settle, int64_t gross_mg)
{
	return fabs((double)gross_mg - (double)settle->idle_mg);
}

/* ---- telling ---- */

/* From sample number `first` on, in all. Neighbouring values of a scale in pounds or ounces may be a step and a
 * milligram apart: each is rounded to one. */
static bool is_within_step(const struct settle *settle, size_t first)
{
	return samples_range(&settle->samples, first) <= step_of(settle) + 1;
}

static struct plateau plateau_from(const struct settle *settle, size_t first)
{
	struct plateau ret = plateau_of(settle->samples.off_mg + first, settle->samples.n - first, step_of(settle));

	ret.first += first;
	ret.last += first;
	return ret;
}

static struct settle_result result_of(const struct settle *settle, const struct plateau *plateau, bool restless)
{
	return (struct settle_result){
		.gross_mg = samples_mg(&settle->samples, plateau->mean),
		.u_mg = (int64_t)ceil(fmin(9e15, plateau->u)),
		.restless = restless,
		.n = (unsigned)plateau->kept,
		.from_us = settle->samples.at_us[plateau->first],
		.to_us = settle->samples.at_us[plateau->last],
	};
}

static bool is_good(const struct settle *settle, const struct settle_result *result)
{
	double good = fmax(SETTLE_GOOD_STEPS * step_of(settle), SETTLE_GOOD_MG);

	return (double)result->u_mg <= fmax(good, SETTLE_GOOD_SHARE * load_mg(settle, result->gross_mg));
}

/* By how much a mass known to u_mg must differ from the one told, to be another load's. */
static double change_mg(const struct settle *settle, double u_mg)
{
	double u = sqrt(u_mg * u_mg + settle->told_u_mg * settle->told_u_mg);

	return fmax(SETTLE_CHANGE_MG, SETTLE_CHANGE_U * u);
}

/* Once a load: not when a passing weight has gone and it is the old load again. */
static enum settle_event tell(struct settle *settle, const struct settle_result *result, struct settle_result *ret)
{
	double u_mg = (double)result->u_mg;
	double off_mg = fabs((double)result->gross_mg - (double)settle->told_mg);
	bool same = settle->back && off_mg <= change_mg(settle, u_mg);

	settle->state = SETTLE_IS_TOLD;
	samples_begin(&settle->samples, result->gross_mg);
	if (same)
		return SETTLE_NOTHING;
	settle->told_mg = result->gross_mg;
	settle->told_u_mg = u_mg;
	*ret = *result;
	return SETTLE_LOADED;
}

/*
 * The scale's own word: its last value, known to its step. If we saw enough for a mean of our own, it is no better than
 * the two agree.
 */
static struct settle_result last_word(const struct settle *settle)
{
	size_t last = settle->samples.n - 1;
	struct settle_result ret = {
		.gross_mg = settle->last.gross_mg,
		.n = 1,
		.from_us = settle->samples.at_us[last],
		.to_us = settle->last.at_us,
	};
	double u_mg = step_u(settle);

	if (settle->samples.n >= SETTLE_MIN_SAMPLES) {
		double own_mg = plateau_from(settle, 0).mean;
		u_mg = fmax(u_mg, fabs((double)samples_apart_mg(ret.gross_mg, settle->samples.base_mg) - own_mg));
	}
	ret.u_mg = (int64_t)ceil(fmin(9e15, u_mg));
	return ret;
}

/* ---- judging ---- */

/*
 * *ret_first: where the stretch begins that covers the last `us` with this many samples, for which a slow scale takes
 * longer; false when the samples don't.
 */
static bool covering(const struct settle *settle, uint64_t us, size_t least, size_t *ret_first)
{
	size_t first = samples_since(&settle->samples, settle->last.at_us, us);

	if (first == 0 || settle->samples.n < least)
		return false;
	*ret_first = first - 1 < settle->samples.n - least ? first - 1 : settle->samples.n - least;
	return true;
}

/* Within a step from `first` on, and the scale doesn't say otherwise. */
static bool is_quiet(const struct settle *settle, size_t first)
{
	if (settle->moved && settle->last.at_us - settle->moved_us < SETTLE_STILL_US)
		return false;
	return is_within_step(settle, first);
}

static bool is_still(const struct settle *settle, size_t *ret_first)
{
	return covering(settle, SETTLE_STILL_US, SETTLE_STILL_SAMPLES, ret_first) && is_quiet(settle, *ret_first);
}

enum settle_event settle_judge_load(struct settle *settle, struct settle_result *ret)
{
	struct settle_result result;
	struct plateau plateau;
	size_t first;

	if (is_still(settle, &first)) {
		plateau = plateau_from(settle, first);
		plateau.u = fmax(plateau.u, step_u(settle));
		result = result_of(settle, &plateau, false);
		return tell(settle, &result, ret);
	}
	if (settle->samples.n < SETTLE_FEW)
		return SETTLE_NOTHING;
	plateau = plateau_from(settle, 0);
	result = result_of(settle, &plateau, false);
	if (result.to_us - result.from_us >= SETTLE_MIN_US && result.n >= SETTLE_MIN_SAMPLES &&
	    is_good(settle, &result))
		return tell(settle, &result, ret);
	if (settle->last.at_us - settle->began_us < SETTLE_RESTLESS_US)
		return SETTLE_NOTHING;
	result.restless = !is_quiet(settle, plateau.first); /* a slow scale may have sent too few that are alike */
	return tell(settle, &result, ret);
}

/* A scale that sends results had its say, and then nothing for a while until end_us. */
static bool was_result(const struct settle *settle, uint64_t end_us)
{
	return settle->begun_alone && end_us - settle->samples.at_us[settle->samples.n - 1] >= SETTLE_ALONE_US &&
	       is_within_step(settle, 0);
}

/* The load went at end_us, before it was told: what was seen of it, without the lifting. */
enum settle_event settle_judge_removed(struct settle *settle, uint64_t end_us, struct settle_result *ret)
{
	struct samples *samples = &settle->samples;
	struct settle_result result;
	struct plateau plateau;

	if (samples->n < SETTLE_FEW) {
		if (!was_result(settle, end_us))
			return SETTLE_NOTHING; /* a hand in passing */
		plateau = plateau_from(settle, samples->n - 1);
		result = result_of(settle, &plateau, false);
		return tell(settle, &result, ret);
	}
	plateau = plateau_from(settle, 0);
	while (samples->n > SETTLE_FEW && fabs(samples->off_mg[samples->n - 1] - plateau.median) >
						  SETTLE_LIFTED_SPREADS * fmax(plateau.spread, step_of(settle)))
		samples_cut(samples, 0, samples->n - 1);
	plateau = plateau_from(settle, 0);
	result = result_of(settle, &plateau, false);
	if (samples->at_us[samples->n - 1] - samples->at_us[0] < SETTLE_MIN_US ||
	    (double)result.u_mg > SETTLE_REMOVED_SHARE * load_mg(settle, result.gross_mg))
		return SETTLE_NOTHING;
	result.restless = !is_good(settle, &result);
	return tell(settle, &result, ret);
}

enum settle_event settle_judge_emptied(struct settle *settle, struct settle_result *ret)
{
	struct plateau plateau;
	size_t first;

	if (!covering(settle, SETTLE_IDLE_US, SETTLE_FEW, &first) ||
	    (!is_within_step(settle, first) && samples_range(&settle->samples, first) > SETTLE_IDLE_RANGE_MG))
		return SETTLE_NOTHING;
	plateau = plateau_from(settle, first);
	plateau.u = fmax(plateau.u, step_u(settle));
	*ret = result_of(settle, &plateau, false);
	settle->state = SETTLE_IS_IDLE;
	return SETTLE_IDLE;
}

/* After telling, the samples are those of the last SETTLE_CHANGE_US: has another load lain there for so long? */
enum settle_event settle_judge_exchanged(struct settle *settle)
{
	struct samples *samples = &settle->samples;
	double told_mg = (double)samples_apart_mg(settle->told_mg, samples->base_mg);
	size_t above = 0, below = 0;
	struct plateau plateau;
	size_t first;

	if (!covering(settle, SETTLE_CHANGE_US, SETTLE_FEW, &first))
		return SETTLE_NOTHING;
	samples_cut(samples, first, samples->n);
	for (size_t i = 0; i < samples->n; i++) {
		above += samples->off_mg[i] > told_mg;
		below += samples->off_mg[i] < told_mg;
	}
	if (above != samples->n && below != samples->n)
		return SETTLE_NOTHING;
	plateau = plateau_from(settle, 0);
	if (fabs(plateau.mean - told_mg) <= change_mg(settle, plateau.u))
		return SETTLE_NOTHING;
	settle->state = SETTLE_IS_LOADED;
	settle->began_us = samples->at_us[0];
	settle->begun_alone = false;
	settle->back = true;
	return SETTLE_ONSET;
}

/* ---- a mark, silence ---- */

static bool agrees(const struct settle *settle)
{
	double off_mg = fabs((double)samples_apart_mg(settle->last.gross_mg, settle->before_mg));

	return off_mg <=
	       fmax(SETTLE_AGREE_STEPS * step_of(settle), SETTLE_AGREE_SHARE * load_mg(settle, settle->last.gross_mg));
}

enum settle_event settle_judge_mark(struct settle *settle, bool first, struct settle_result *ret)
{
	struct settle_result word;

	if (settle->last.mark != SETTLE_STEADY || !(settle->alone || (!first && agrees(settle))))
		return SETTLE_NOTHING;
	word = last_word(settle);
	return tell(settle, &word, ret);
}

/* Told, and what came since is another mass. */
bool settle_judge_differs(const struct settle *settle)
{
	double off_mg = fabs((double)samples_apart_mg(settle->last.gross_mg, settle->told_mg));

	return settle->samples.n > 0 && off_mg > change_mg(settle, step_u(settle));
}

bool settle_judge_ends_still(const struct settle *settle)
{
	return settle->last.mark != SETTLE_MOVING && (settle->samples.n < 2 || agrees(settle));
}

/* Silence means that it no longer changes, unless it was in full motion: then the link has stalled. */
enum settle_event settle_judge_silence(struct settle *settle, struct settle_result *ret)
{
	struct settle_result result = last_word(settle);
	struct plateau plateau;

	if (settle->samples.n == 1 && (!settle->begun_alone || settle->last.mark == SETTLE_MOVING)) {
		/* once in a stream that broke off there: it may still have been going up */
		result.restless = true;
		result.u_mg += (int64_t)(SETTLE_AGREE_SHARE * fmin(9e15, load_mg(settle, result.gross_mg)));
	} else if (settle_judge_ends_still(settle)) {
		result.restless = (double)result.u_mg > step_u(settle) + 1 && !is_good(settle, &result);
	} else {
		plateau = plateau_from(settle, 0);
		result = result_of(settle, &plateau, true);
	}
	return tell(settle, &result, ret);
}

void settle_judge_emptied_last(struct settle *settle, struct settle_result *ret)
{
	*ret = last_word(settle);
	settle->state = SETTLE_IS_IDLE;
}
