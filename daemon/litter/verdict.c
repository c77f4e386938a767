// SPDX-License-Identifier: MIT
#include "daemon/litter/verdict.h"
#include "daemon/litter/drop.h"
#include "daemon/litter/growth_priors.h"
#include <math.h>

#define DAY_MS 86400000.0
#define SQRT_12 3.4641016151377544

/*
 * What is said, from the posterior of the rate. tests/bench/growth prints how often it is wrong; the limits are ours.
 * A stop is said when it is likelier than going on; and when the rate itself, gone on as before, surely (95 %) lies
 * below half the slowest gain that is published: one that never gained had no gain from which to stop.
 */
#define STOPPED 0.5
#define SURELY 1.6448536269514722 /* 95 % quantile of the normal distribution */
/*
 * A gain is said when the rate surely lies above zero if it goes on as before, and that it had stopped before the
 * newest weighings is unlikely. What those newest ones leave open isn't waited for: else one pup in four that thrives
 * would always be in doubt. Of a hundred simulated pups that gain 5 to 7 % a day (1 g steps, own gut fill 2 %), 0.1,
 * 0.07 and 0.05 let 95, 94 and 92 read `gaining`, and 13, 11 and 9 of a hundred that stopped one to two days ago. A
 * newest reading that was marked may be true all the same.
 */
#define HAD_STOPPED 0.07
/* ... and as long as what is known of the rate is published growth for the most part: when what was measured speaks
 * against a stall since some weighing with 19 to 1. That is as long as there are fewer hypotheses than can be kept;
 * they begin anew when another mass than was believed is confirmed. */
#define GAINED_LN_RATIO (-2.944438979166440)
/* The next weighing tells when a stall would lie so many standard deviations below going on: then more than half of a
 * pup's stalls and three quarters of losses are told, of a whole litter's fewer (tests/bench/growth). Ours. */
#define TELLS_SIGMAS 4.0
/* The slowest gain that one would wait to see: the low end of what is published, 3.5 % a day in weeks 2 to 4 (Small
 * Animal Clinical Nutrition, 5th ed., p. 292). */
#define SLOWEST_RATE 0.0344

const char *verdict_text(enum verdict_kind kind)
{
	switch (kind) {
	case VERDICT_TOO_SOON:
		return "too soon";
	case VERDICT_GAINING:
		return "gaining";
	case VERDICT_FLAT:
		return "flat";
	case VERDICT_LOSING:
		return "losing";
	}
	return "unknown";
}

static size_t known(const struct growth *growth)
{
	size_t n = 0;

	for (size_t i = 0; i < growth->n; i++)
		n += growth->animals[i].known;
	return n;
}

/* Alone, it is the litter. */
static bool has_gained(const struct growth *growth, size_t animal)
{
	const struct stop *stop = known(growth) < 2 ? &growth->stop : &growth->animals[animal].stop;

	for (size_t i = 0; i < stop->n; i++)
		if (stop->at[i].ln_ratio[STOP_STALL] <= GAINED_LN_RATIO)
			return true;
	return stop->n == STOP_KEPT;
}

static enum verdict_kind kind_of(const struct growth *growth, size_t animal, const struct growth_state *state)
{
	if (state->p_stall + state->p_loss >= STOPPED)
		return state->p_loss > VERDICT_LOSS_ODDS * state->p_stall ? VERDICT_LOSING : VERDICT_FLAT;
	if (state->on_rate + SURELY * state->u_on_rate < SLOWEST_RATE / 2)
		return state->on_rate < GROWTH_LOSS_RATE / 2 ? VERDICT_LOSING : VERDICT_FLAT;
	return state->on_rate > SURELY * state->u_on_rate && state->p_before < HAD_STOPPED && !state->wild &&
			       has_gained(growth, animal)
		       ? VERDICT_GAINING
		       : VERDICT_TOO_SOON;
}

/* That it doesn't gain: it stopped, or the rate lies below half the slowest gain. */
static double p_stopped(enum verdict_kind kind, const struct growth_state *state)
{
	double p = state->p_stall + state->p_loss;

	if (kind != VERDICT_FLAT && kind != VERDICT_LOSING)
		return p;
	return fmax(p, erfc((state->on_rate - SLOWEST_RATE / 2) / (state->u_on_rate * sqrt(2))) / 2);
}

static double z_of(const struct growth *growth, size_t animal)
{
	double sum = 0, squares = 0, n = 0, mean;

	for (size_t i = 0; i < growth->n; i++) {
		double x = growth->animals[i].now.level;
		if (!growth->animals[i].known)
			continue;
		sum += x;
		squares += x * x;
		n++;
	}
	mean = n > 0 ? sum / n : 0;
	if (n < 3 || squares - n * mean * mean <= 1e-12)
		return NAN;
	return (growth->animals[animal].now.level - mean) / sqrt((squares - n * mean * mean) / (n - 1));
}

/* Standard deviation of one more weighing from what is believed, as a share: gut fill, the scale, what is believed; of
 * what the round shares, what the littermates leave who are weighed with it. */
static double difference_sd(const struct growth *growth, size_t animal, double mass_g, int64_t step_mg)
{
	double scale = step_mg > 0 ? (double)step_mg / 1000 / SQRT_12 / mass_g : 0;
	double own = growth->animals[animal].now.ll + growth->own_var + scale * scale;
	double others = fmax(0, (double)known(growth) - 1) / own;

	return sqrt(own + 1 / (1 / (growth->now.ll + growth->shared_var) + others));
}

int64_t verdict_reach_ms(const struct growth *growth, size_t animal, int64_t now_ms)
{
	int64_t newest_ms = growth->animals[animal].newest_ms;

	return newest_ms == INT64_MIN || newest_ms > now_ms - VERDICT_REACH_MS ? now_ms : newest_ms + VERDICT_REACH_MS;
}

/* Newborns lose: what was weighed in the first day isn't held against them, nor anything before hour 72; as for the concern
 * `losing`. */
#define NEWBORN_MS (INT64_C(72) * 3600 * 1000)
#define FIRST_DAY_MS (INT64_C(24) * 3600 * 1000)
/* Standard uncertainty that two stomachs, full or empty, leave of a difference: half of what one holds (drop.h). Ours. */
#define STOMACH_SHARE 0.02
/* So much of the limit since the weighing before is as much as a stomach holds: nobody should read "gaining" beside it. Ours. */
#define DOUBTED 0.8

/* -1: it isn't known. */
static int64_t age_at(const struct growth *growth, int64_t at_ms)
{
	int64_t age;

	return growth->born_ms == INT64_MIN || __builtin_sub_overflow(at_ms, growth->born_ms, &age) ? -1 : age;
}

/* How surely the newest lies below that one; less than 0: it doesn't, or it is too long ago. */
static double fell_pct(const struct growth_seen *before, const struct growth_seen *now)
{
	if (before->mass_mg <= 0 || now->mass_mg <= 0 || !drop_is_comparable(before->at_ms, now->at_ms))
		return -1;
	return drop_surely_pct(before->mass_mg, before->u_mg, now->mass_mg, now->u_mg);
}

static void say_loss(const struct growth_seen *from, const struct growth_seen *to, struct verdict *ret)
{
	double days = (double)(to->at_ms - from->at_ms) / DAY_MS, grams = (double)to->mass_mg / 1000;
	double u_mg = sqrt((double)from->u_mg * (double)from->u_mg + (double)to->u_mg * (double)to->u_mg +
			   2 * STOMACH_SHARE * STOMACH_SHARE * (double)to->mass_mg * (double)to->mass_mg);

	ret->kind = VERDICT_LOSING;
	ret->p_stopped = fmax(ret->p_stopped, 0.95); /* by twice the uncertainty (drop.h) */
	ret->mass_g = grams;
	ret->u_mass_g = sqrt((double)to->u_mg * (double)to->u_mg / 1e6 + STOMACH_SHARE * STOMACH_SHARE * grams * grams);
	ret->gain_g_per_day = (double)(to->mass_mg - from->mass_mg) / 1000 / days;
	ret->u_gain_g_per_day = u_mg / 1000 / days;
	ret->gain_pct_per_day = 100 * (exp(log((double)to->mass_mg / (double)from->mass_mg) / days) - 1);
	ret->doubling_days = INFINITY;
	ret->since_ms = from->at_ms;
}

/*
 * What the log says by itself: two weighings in a row below one before them by more than a stomach holds are a loss, though the
 * model may take them for another pup's; one such is no gain, at least.
 */
static void by_log(const struct growth *growth, size_t animal, struct verdict *ret)
{
	const struct growth_seen *seen = growth->animals[animal].seen;
	int64_t age = age_at(growth, seen[0].at_ms), first_age = age_at(growth, seen[2].at_ms);
	double limit;

	if ((age >= 0 && age < NEWBORN_MS) || (first_age >= 0 && first_age < FIRST_DAY_MS))
		return;
	limit = drop_limits(age)->act;
	if (fell_pct(&seen[2], &seen[0]) >= limit && fell_pct(&seen[2], &seen[1]) > 0)
		say_loss(&seen[2], &seen[0], ret);
	else if (ret->kind == VERDICT_GAINING &&
		 (fell_pct(&seen[2], &seen[0]) >= limit || fell_pct(&seen[1], &seen[0]) >= DOUBTED * limit))
		ret->kind = VERDICT_TOO_SOON;
}

bool verdict_of(const struct growth *growth, size_t animal, int64_t now_ms, int64_t step_mg, int64_t birth_mg,
		struct verdict *ret)
{
	int64_t at_ms = verdict_reach_ms(growth, animal, now_ms);
	struct growth_state state;
	double sd, rate, days;

	if (!growth_at(growth, animal, at_ms, &state))
		return false;
	*ret = (struct verdict){
		.kind = kind_of(growth, animal, &state),
		.mass_g = exp(state.ln_g),
		.gain_pct_per_day = 100 * (exp(state.rate) - 1),
		.doubling_days = state.rate > 0 ? log(2) / state.rate : INFINITY,
		.since_birth_pct = birth_mg > 0 ? 100 * (1000 * exp(state.ln_g) / (double)birth_mg - 1) : NAN,
		.z = z_of(growth, animal),
		.since_ms = INT64_MIN,
		.tell_at_ms = INT64_MAX,
	};
	if (at_ms < now_ms && ret->kind == VERDICT_GAINING)
		ret->kind = VERDICT_TOO_SOON;
	ret->p_stopped = p_stopped(ret->kind, &state);
	ret->u_mass_g = ret->mass_g * state.u_ln_g;
	ret->gain_g_per_day = ret->mass_g * state.rate;
	ret->u_gain_g_per_day = ret->mass_g * state.u_rate;
	if ((ret->kind == VERDICT_FLAT || ret->kind == VERDICT_LOSING) && !isnan(state.since_day))
		ret->since_ms = growth->zero_ms + (int64_t)(state.since_day * DAY_MS);
	sd = difference_sd(growth, animal, ret->mass_g, step_mg);
	ret->detectable_g = 2 * sd * ret->mass_g;
	rate = fmax(SLOWEST_RATE, state.rate);
	days = TELLS_SIGMAS * sd / rate;
	if (state.newest_ms != INT64_MIN) {
		ret->tell_at_ms = state.newest_ms + (int64_t)(days * DAY_MS);
		if (ret->tell_at_ms < now_ms)
			ret->tell_at_ms = now_ms;
	}
	by_log(growth, animal, ret);
	return true;
}
