// SPDX-License-Identifier: MIT
#include "daemon/weigh/settle.h"
#include "daemon/weigh/plateau.h"
#include "daemon/weigh/weigh.h"
#include <math.h>
#include <string.h>

_Static_assert(SETTLE_SAMPLES <= PLATEAU_MAX, "a plateau holds all samples");

static double step_of(const struct settle *settle)
{
	return (double)(settle->step_mg > 0 ? settle->step_mg : WEIGH_UNKNOWN_STEP_MG);
}

/* Masses come from outside: a difference that doesn't fit is as far off as can be. */
static int64_t apart_mg(int64_t a_mg, int64_t b_mg)
{
	int64_t ret;

	if (__builtin_sub_overflow(a_mg, b_mg, &ret))
		return a_mg > b_mg ? INT64_MAX : INT64_MIN;
	return ret;
}

static bool is_idle(const struct settle *settle, int64_t gross_mg)
{
	int64_t off = apart_mg(gross_mg, settle->idle_mg);

	return off <= WEIGH_EMPTY_MG && off >= -WEIGH_EMPTY_MG;
}

/* ---- the samples ---- */

static void begin(struct settle *settle, enum settle_state state, const struct settle_sample *sample)
{
	settle->state = state;
	settle->n = 0;
	settle->every = 1;
	settle->skipped = 0;
	settle->base_mg = sample->gross_mg;
	settle->began_us = sample->at_us;
}

/* Half of them tell nearly as much, and leave room for what comes. */
static void thin_out(struct settle *settle)
{
	for (size_t i = 0; i < SETTLE_SAMPLES / 2; i++) {
		settle->samples[i] = settle->samples[2 * i + 1];
		settle->times[i] = settle->times[2 * i + 1];
	}
	settle->n = SETTLE_SAMPLES / 2;
	settle->every *= 2;
}

static void keep(struct settle *settle, const struct settle_sample *sample)
{
	if (++settle->skipped < settle->every)
		return;
	settle->skipped = 0;
	if (settle->n == SETTLE_SAMPLES)
		thin_out(settle);
	settle->samples[settle->n] = (double)apart_mg(sample->gross_mg, settle->base_mg);
	settle->times[settle->n++] = sample->at_us;
}

/* Leaves the newest out. */
static void forget_from(struct settle *settle, size_t n)
{
	settle->n = n;
}

/* The load is another one since sample `from`. */
static void begin_again(struct settle *settle, size_t from)
{
	memmove(settle->samples, settle->samples + from, (settle->n - from) * sizeof *settle->samples);
	memmove(settle->times, settle->times + from, (settle->n - from) * sizeof *settle->times);
	settle->n -= from;
	settle->began_us = settle->times[0];
	settle->state = SETTLE_IS_LOADED;
}

/* ---- telling ---- */

static int64_t rounded_mg(double mg)
{
	return (int64_t)floor(fmax(-9e15, fmin(9e15, mg)) + 0.5);
}

static void fill(const struct settle *settle, double mean, double u, bool restless, size_t first, size_t kept,
		 struct settle_result *ret)
{
	*ret = (struct settle_result){
		.gross_mg = settle->base_mg + rounded_mg(mean),
		.u_mg = (int64_t)ceil(fmin(9e15, u)),
		.restless = restless,
		.n = (unsigned)kept,
		.from_us = settle->times[first],
		.to_us = settle->times[settle->n - 1],
	};
}

static enum settle_event tell(struct settle *settle, const struct plateau *plateau, bool restless,
			      struct settle_result *ret)
{
	fill(settle, plateau->mean, plateau->u, restless, plateau->first, plateau->kept, ret);
	settle->state = SETTLE_IS_TOLD;
	settle->told_mg = ret->gross_mg;
	settle->told_spread = fmax(plateau->spread, plateau->sd);
	return SETTLE_LOADED;
}

/* The scale's own word: its last value, known to its step. */
static enum settle_event tell_last(struct settle *settle, struct settle_result *ret)
{
	double step = step_of(settle);

	fill(settle, settle->samples[settle->n - 1], step / sqrt(12), false, settle->n - 1, 1, ret);
	settle->state = SETTLE_IS_TOLD;
	settle->told_mg = ret->gross_mg;
	settle->told_spread = step;
	return SETTLE_LOADED;
}

static struct plateau plateau_now(const struct settle *settle)
{
	return plateau_of(settle->samples, settle->n, step_of(settle));
}

static double load_mg(const struct settle *settle, const struct plateau *plateau)
{
	return fabs((double)settle->base_mg - (double)settle->idle_mg + plateau->mean);
}

/* From sample `first` on, within one step either way. */
static bool is_still(const struct settle *settle, size_t first)
{
	double low = INFINITY, high = -INFINITY;

	for (size_t i = first; i < settle->n; i++) {
		low = fmin(low, settle->samples[i]);
		high = fmax(high, settle->samples[i]);
	}
	return high - low <= 1.001 * step_of(settle);
}

static size_t since(const struct settle *settle, uint64_t us)
{
	size_t first = settle->n - 1;

	while (first > 0 && settle->last_us - settle->times[first - 1] <= us)
		first--;
	return first;
}

static enum settle_event judge_load(struct settle *settle, struct settle_result *ret)
{
	struct plateau plateau;
	size_t still;
	uint64_t lasted_us;

	if (settle->n < 3 || settle->last_us - settle->began_us < SETTLE_STILL_US)
		return SETTLE_NOTHING;
	still = since(settle, SETTLE_STILL_US);
	if (settle->n - still >= 3 && is_still(settle, still) &&
	    settle->last_us - settle->times[still] >= SETTLE_STILL_US / 2) {
		struct plateau quiet = plateau_of(settle->samples + still, settle->n - still, step_of(settle));
		quiet.first += still;
		quiet.u = fmax(quiet.u, step_of(settle) / sqrt(12));
		return tell(settle, &quiet, false, ret);
	}
	plateau = plateau_now(settle);
	lasted_us = settle->last_us - settle->times[plateau.first];
	if (lasted_us >= SETTLE_MIN_US && plateau.kept >= 6 &&
	    plateau.u <= fmax(fmax(SETTLE_GOOD_STEPS * step_of(settle), SETTLE_GOOD_MG),
			      SETTLE_GOOD_SHARE * load_mg(settle, &plateau)))
		return tell(settle, &plateau, false, ret);
	if (settle->last_us - settle->began_us >= SETTLE_RESTLESS_US)
		return tell(settle, &plateau, true, ret);
	return SETTLE_NOTHING;
}

/* It was taken off before it was told: what was seen of it, without the lifting. */
static enum settle_event judge_removed(struct settle *settle, struct settle_result *ret)
{
	struct plateau plateau;

	if (settle->n < 3)
		return SETTLE_NOTHING; /* a hand in passing */
	plateau = plateau_now(settle);
	while (settle->n > 3 && fabs(settle->samples[settle->n - 1] - plateau.median) >
					3 * fmax(plateau.spread, step_of(settle)))
		forget_from(settle, settle->n - 1);
	if (settle->times[settle->n - 1] - settle->times[0] < SETTLE_CHANGE_US)
		return SETTLE_NOTHING;
	plateau = plateau_now(settle);
	return tell(settle, &plateau, true, ret);
}

static enum settle_event judge_emptied(struct settle *settle, struct settle_result *ret)
{
	size_t still;
	struct plateau plateau;

	if (settle->n < 3 || settle->last_us - settle->began_us < SETTLE_IDLE_US)
		return SETTLE_NOTHING;
	still = since(settle, SETTLE_IDLE_US);
	if (settle->n - still < 3)
		return SETTLE_NOTHING;
	plateau = plateau_of(settle->samples + still, settle->n - still, step_of(settle));
	if (plateau.sd > 2 * step_of(settle))
		return SETTLE_NOTHING; /* something swings */
	fill(settle, plateau.mean, fmax(plateau.u, step_of(settle) / sqrt(12)), false,
	     still + plateau.first, plateau.kept, ret);
	settle->state = SETTLE_IS_IDLE;
	return SETTLE_IDLE;
}

/* Whether another load has lain there for long enough. */
static void judge_exchanged(struct settle *settle)
{
	double limit = fmax(SETTLE_CHANGE_MG, 6 * settle->told_spread);
	double told = (double)apart_mg(settle->told_mg, settle->base_mg);
	size_t from = settle->n;

	while (from > 0 && fabs(settle->samples[from - 1] - told) > limit)
		from--;
	if (settle->n - from >= 3 && settle->last_us - settle->times[from] >= SETTLE_CHANGE_US)
		begin_again(settle, from);
}

/* ---- the interface ---- */

void settle_init(struct settle *settle, int64_t step_mg, int64_t idle_mg)
{
	memset(settle, 0, sizeof *settle);
	settle->step_mg = step_mg;
	settle->idle_mg = idle_mg;
	settle->every = 1;
}

void settle_set_idle(struct settle *settle, int64_t idle_mg)
{
	settle->idle_mg = idle_mg;
}

static void follow_time(struct settle *settle, struct settle_sample *sample)
{
	if (sample->at_us < settle->last_us)
		sample->at_us = settle->last_us;
	if (settle->last_us && sample->at_us - settle->last_us < SETTLE_RESTLESS_US) {
		uint64_t apart = sample->at_us - settle->last_us;
		settle->interval_us = settle->interval_us ? (7 * settle->interval_us + apart) / 8 : apart;
	}
	settle->last_us = sample->at_us;
	settle->last_mg = sample->gross_mg;
}

static enum settle_event take_idle(struct settle *settle, const struct settle_sample *sample, struct settle_result *ret)
{
	enum settle_event event = SETTLE_NOTHING;

	switch (settle->state) {
	case SETTLE_IS_IDLE:
		return SETTLE_NOTHING;
	case SETTLE_IS_LOADED:
		event = judge_removed(settle, ret);
		begin(settle, SETTLE_IS_EMPTIED, sample);
		break;
	case SETTLE_IS_TOLD:
		begin(settle, SETTLE_IS_EMPTIED, sample);
		break;
	case SETTLE_IS_EMPTIED:
		break;
	}
	keep(settle, sample);
	return event != SETTLE_NOTHING ? event : judge_emptied(settle, ret);
}

/* A mark at once, when what was seen before doesn't speak against it. */
static bool is_word(const struct settle *settle, const struct settle_sample *sample)
{
	double median = plateau_median(settle->samples, settle->n);
	double off = fabs(settle->samples[settle->n - 1] - median);

	return sample->mark == SETTLE_STEADY &&
	       (settle->n < 3 || off <= fmax(5 * step_of(settle), 0.05 * fabs((double)settle->base_mg + median)));
}

static enum settle_event take_load(struct settle *settle, const struct settle_sample *sample, struct settle_result *ret)
{
	enum settle_event event = SETTLE_NOTHING;

	switch (settle->state) {
	case SETTLE_IS_IDLE:
	case SETTLE_IS_EMPTIED:
		begin(settle, SETTLE_IS_LOADED, sample);
		event = SETTLE_ONSET;
		break;
	case SETTLE_IS_LOADED:
		break;
	case SETTLE_IS_TOLD:
		keep(settle, sample);
		judge_exchanged(settle);
		return settle->state == SETTLE_IS_LOADED ? SETTLE_ONSET : SETTLE_NOTHING;
	}
	keep(settle, sample);
	if (settle->n && is_word(settle, sample))
		return tell_last(settle, ret);
	return event != SETTLE_NOTHING ? event : judge_load(settle, ret);
}

enum settle_event settle_take(struct settle *settle, const struct settle_sample *given, struct settle_result *ret)
{
	struct settle_sample sample = *given;

	follow_time(settle, &sample);
	return is_idle(settle, sample.gross_mg) ? take_idle(settle, &sample, ret) : take_load(settle, &sample, ret);
}

static uint64_t quiet_us(const struct settle *settle)
{
	uint64_t usual = SETTLE_QUIET_INTERVALS * settle->interval_us;

	return usual > SETTLE_QUIET_US ? usual : SETTLE_QUIET_US;
}

uint64_t settle_wake_us(const struct settle *settle)
{
	bool waits = settle->state == SETTLE_IS_LOADED || settle->state == SETTLE_IS_EMPTIED;

	return waits ? settle->last_us + quiet_us(settle) : UINT64_MAX;
}

/* Silence means that it no longer changes, unless it was in full motion: then the link has stalled. */
static enum settle_event judge_silence(struct settle *settle, struct settle_result *ret)
{
	struct plateau plateau;
	size_t few = settle->n > 3 ? settle->n - 3 : 0;

	if (settle->n == 0)
		return SETTLE_NOTHING;
	if (is_still(settle, few))
		return tell_last(settle, ret);
	plateau = plateau_now(settle);
	return tell(settle, &plateau, true, ret);
}

enum settle_event settle_wake(struct settle *settle, uint64_t now_us, struct settle_result *ret)
{
	if (now_us < settle_wake_us(settle) || settle->n == 0)
		return SETTLE_NOTHING;
	if (settle->state == SETTLE_IS_LOADED)
		return judge_silence(settle, ret);
	fill(settle, settle->samples[settle->n - 1], step_of(settle) / sqrt(12), false, settle->n - 1, 1, ret);
	settle->state = SETTLE_IS_IDLE;
	return SETTLE_IDLE;
}

enum settle_event settle_end(struct settle *settle, struct settle_result *ret)
{
	enum settle_event event = SETTLE_NOTHING;

	if (settle->state == SETTLE_IS_LOADED && settle->n)
		event = settle->n < 3 ? tell_last(settle, ret) : judge_removed(settle, ret);
	settle_init(settle, settle->step_mg, settle->idle_mg);
	return event;
}
