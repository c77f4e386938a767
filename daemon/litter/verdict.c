// SPDX-License-Identifier: MIT
#include "daemon/litter/verdict.h"
#include <math.h>

#define DAY_MS 86400000.0
#define SQRT_12 3.4641016151377544

/* tests/bench/growth tells how often what these say is wrong. Ours. A stop is said when it is likelier than going on,
 * ... */
#define STOPPED 0.5
/* ... and a gain when one is unlikely, and what was measured since a weighing of the last two days speaks against a
 * stall there with 19 to 1. That it gained before doesn't count. */
#define MAYBE_STOPPED 0.1
#define GAINED_LN_RATIO (-2.944438979166440)
#define GAINED_DAYS 2.0
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

/* Alone, it is the litter. Of weighings that lie farther apart, the last one counts. */
static bool has_gained(const struct growth *growth, size_t animal)
{
	const struct stop *stop = known(growth) < 2 ? &growth->stop : &growth->animals[animal].stop;

	for (size_t i = 0; i < stop->n; i++)
		if ((i + 2 == stop->n || stop->at[i].since_day >= growth->animals[animal].day - GAINED_DAYS) &&
		    stop->at[i].ln_ratio[STOP_STALL] <= GAINED_LN_RATIO)
			return true;
	return false;
}

static enum verdict_kind kind_of(const struct growth *growth, size_t animal, const struct growth_state *state)
{
	double stopped = state->p_stall + state->p_loss;

	if (stopped >= STOPPED)
		return state->p_loss > state->p_stall ? VERDICT_LOSING : VERDICT_FLAT;
	return stopped < MAYBE_STOPPED && has_gained(growth, animal) ? VERDICT_GAINING : VERDICT_TOO_SOON;
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

bool verdict_of(const struct growth *growth, size_t animal, int64_t now_ms, int64_t step_mg, int64_t birth_mg,
		struct verdict *ret)
{
	struct growth_state state;
	double sd, rate, days;

	if (!growth_at(growth, animal, now_ms, &state))
		return false;
	*ret = (struct verdict){
		.kind = kind_of(growth, animal, &state),
		.mass_g = exp(state.ln_g),
		.gain_pct_per_day = 100 * (exp(state.rate) - 1),
		.doubling_days = state.rate > 0 ? log(2) / state.rate : INFINITY,
		.since_birth_pct = birth_mg > 0 ? 100 * (1000 * exp(state.ln_g) / (double)birth_mg - 1) : NAN,
		.z = z_of(growth, animal),
		.p_stopped = state.p_stall + state.p_loss,
		.since_ms = INT64_MIN,
		.tell_at_ms = INT64_MAX,
	};
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
	return true;
}
