// SPDX-License-Identifier: MIT
#include "daemon/weigh/weigh.h"
#include "daemon/weigh/root.h"

/* Both limits belong to it. Times are arbitrary, so their difference needn't fit into a signed
 * one. */
static bool within_ms(int64_t a_ms, int64_t b_ms, int64_t limit_ms)
{
	uint64_t apart_ms = (uint64_t)a_ms - (uint64_t)b_ms;

	if (a_ms < b_ms)
		apart_ms = -apart_ms;
	return apart_ms <= (uint64_t)limit_ms;
}

static int64_t step_or_default_mg(int64_t step_mg)
{
	if (step_mg <= 0)
		return WEIGH_UNKNOWN_STEP_MG;
	return step_mg < ROOT_PART_MAX ? step_mg : ROOT_PART_MAX;
}

int64_t weigh_step_u_mg(int64_t step_mg)
{
	return root_up((root_square(step_or_default_mg(step_mg)) + 11) / 12);
}

/* The stamp by our clock; one that lies outside all time is as far off as can be. */
static int64_t stamp_ours_ms(const struct weigh_result *result)
{
	int64_t ours_ms;

	if (__builtin_sub_overflow(result->stamp_ms, result->ahead_ms, &ours_ms))
		return result->ahead_ms < 0 ? INT64_MAX : INT64_MIN;
	return ours_ms;
}

static bool time_plausible(int64_t at_ms, int64_t received_ms)
{
	return within_ms(at_ms, received_ms, at_ms > received_ms ? WEIGH_LIVE_MS : WEIGH_STAMP_MAX_AGE_MS);
}

static bool stamp_plausible(const struct weigh_result *result)
{
	return result->has_stamp && time_plausible(stamp_ours_ms(result), result->received_ms);
}

/* When it was weighed, by our clock, as far as it is known. */
static int64_t weighed_ms(const struct weigh_result *result)
{
	return !result->live && stamp_plausible(result) ? stamp_ours_ms(result) : result->received_ms;
}

static bool stamps_contradict(const struct weigh_result *a, const struct weigh_result *b)
{
	return a->has_stamp && b->has_stamp && a->stamp_ms != b->stamp_ms;
}

/*
 * Mass and stamp together name a weighing. A stamp that can't be true doesn't: a clock that starts
 * from the same date at each power-up gives two pups the same stamp, so it counts only for results
 * that arrive close together, or that were weighed at one time by our clock.
 */
static bool same_by_stamp(const struct weigh_result *old, const struct weigh_result *result)
{
	if (!result->has_stamp || !old->has_stamp || old->stamp_ms != result->stamp_ms ||
	    old->gross_mg != result->gross_mg)
		return false;
	return time_plausible(result->stamp_ms, result->received_ms) ||
	       (stamp_plausible(result) && within_ms(weighed_ms(old), stamp_ours_ms(result), WEIGH_LIVE_MS)) ||
	       within_ms(old->received_ms, result->received_ms, WEIGH_RESEND_MS);
}

static bool link_is_new(const struct weigh_memory *memory, uint32_t link)
{
	for (unsigned i = 0; i < memory->n; i++)
		if (memory->seen[i].link == link)
			return false;
	return true;
}

/*
 * The window runs from the last report, not from the first: a scale that sends its final value each
 * second while the pup sits there has weighed once. The price: a pup that replaces an equally heavy
 * one is lost when no other mass and no pause is reported between them. WEIGH_REPEAT_MAX_MS bounds
 * that; beyond it a pup that goes on sitting there is asked about twice, which costs an answer and
 * no weighing.
 */
static bool same_by_time(const struct weigh_memory *memory, const struct weigh_result *result)
{
	const struct weigh_result *old = &memory->seen[memory->latest];

	if (result->fresh || old->gross_mg != result->gross_mg || stamps_contradict(old, result))
		return false;
	if (old->link == result->link)
		return within_ms(memory->last_ms, result->received_ms, WEIGH_REPEAT_MS) &&
		       within_ms(memory->first_ms, result->received_ms, WEIGH_REPEAT_MAX_MS);
	return link_is_new(memory, result->link) &&
	       within_ms(memory->last_ms, result->received_ms, WEIGH_RESEND_MS);
}

/* True and *ret_seen set when result tells of a remembered weighing again. */
static bool find_repeat(const struct weigh_memory *memory, const struct weigh_result *result,
			unsigned *ret_seen)
{
	for (unsigned i = 0; i < memory->n; i++) {
		if (same_by_stamp(&memory->seen[i], result)) {
			*ret_seen = i;
			return true;
		}
	}
	if (memory->n == 0 || !same_by_time(memory, result))
		return false;
	*ret_seen = memory->latest;
	return true;
}

/*
 * Keeps the arrival of the first report, and learns a stamp that an earlier one lacked: Weight
 * Measurement and Body Composition Measurement may tell of one weighing, and either may come
 * without its stamp.
 */
static void remember_repeat(struct weigh_memory *memory, unsigned seen,
			    const struct weigh_result *result)
{
	struct weigh_result *old = &memory->seen[seen];

	/* Named by its stamp, not guessed from the time: its other half, without a stamp, may
	 * follow now. */
	if (same_by_stamp(old, result))
		memory->first_ms = result->received_ms;
	memory->latest = seen;
	memory->last_ms = result->received_ms;
	old->link = result->link;
	if (result->has_stamp) {
		old->has_stamp = true;
		old->stamp_ms = result->stamp_ms;
	}
}

void weigh_remember(struct weigh_memory *memory, const struct weigh_result *result)
{
	memory->latest = memory->next;
	memory->weighed[memory->next] = true;
	memory->first_ms = result->received_ms;
	memory->last_ms = result->received_ms;
	memory->seen[memory->next] = *result;
	memory->next = (memory->next + 1) % WEIGH_REMEMBERED;
	if (memory->n < WEIGH_REMEMBERED)
		memory->n++;
}

/* Kept inside the type: times come from the ledger, too. */
static void move(int64_t *at_ms, int64_t ahead_ms)
{
	if (__builtin_add_overflow(*at_ms, ahead_ms, at_ms))
		*at_ms = ahead_ms < 0 ? INT64_MIN : INT64_MAX;
}

void weigh_clock_set(struct weigh_memory *memory, int64_t ahead_ms)
{
	for (unsigned i = 0; i < memory->n; i++) {
		struct weigh_result *seen = &memory->seen[i];

		move(&seen->received_ms, ahead_ms);
		/* the scale's clock less ours, where it is known */
		if (seen->ahead_ms != 0 && __builtin_sub_overflow(seen->ahead_ms, ahead_ms, &seen->ahead_ms))
			seen->ahead_ms = ahead_ms < 0 ? INT64_MAX : INT64_MIN;
	}
	move(&memory->first_ms, ahead_ms);
	move(&memory->last_ms, ahead_ms);
}

static void date(const struct weigh_result *result, struct weighing *ret)
{
	ret->at_ms = result->received_ms;
	ret->origin = WEIGH_RADIO;
	ret->stamp_refused = result->has_stamp && !result->live && !stamp_plausible(result);
	/* A stamp near the arrival may come from a clock that runs late or early: the arrival is
	 * better. */
	if (result->live || !stamp_plausible(result) ||
	    within_ms(stamp_ours_ms(result), result->received_ms, WEIGH_LIVE_MS))
		return;
	ret->at_ms = stamp_ours_ms(result);
	ret->origin = WEIGH_STORED;
}

/* |gross| and |tare| stay below MASS_MAX_MG (protocols/mass.h), so the difference can't
 * overflow. */
static void subtract(const struct weigh_result *result, const struct tare *tare,
		     struct weighing *ret)
{
	int64_t tare_u = tare ? tare_u_mg(tare, ret->at_ms) : 0;
	int64_t gross_u = result->u_mg > 0 ? result->u_mg : weigh_step_u_mg(result->step_mg);

	ret->gross_mg = result->gross_mg;
	ret->tare_mg = tare ? tare->mass_mg : 0;
	ret->net_mg = ret->gross_mg - ret->tare_mg;
	/* JCGM 100:2008, 5.1.2. The tare's own rounding is in the tare's uncertainty. */
	ret->u_mg = root_up(root_square(gross_u) + root_square(tare_u));
}

static enum weigh_outcome judge(const struct weigh_result *result, const struct tare *tare,
				struct weighing *ret)
{
	int64_t step_mg = step_or_default_mg(result->step_mg);
	int64_t explained_mg = step_mg > 2 * ret->u_mg ? step_mg : 2 * ret->u_mg;

	ret->drift_mg = 0;
	ret->drifted = false;
	if (ret->net_mg > WEIGH_EMPTY_MG)
		return WEIGH_DONE;
	/* The scale's own zero is no container: nothing is there to have changed. */
	if (!tare && ret->net_mg >= -WEIGH_EMPTY_MG)
		return WEIGH_EMPTY;
	ret->drift_mg = ret->net_mg;
	ret->drifted = ret->net_mg > explained_mg || ret->net_mg < -explained_mg;
	return ret->net_mg >= -WEIGH_EMPTY_MG ? WEIGH_EMPTY : WEIGH_BELOW;
}

enum weigh_outcome weigh_take(struct weigh_memory *memory, const struct weigh_result *result,
			      const struct tare *tare, struct weighing *ret)
{
	enum weigh_outcome outcome;
	unsigned seen;

	date(result, ret);
	subtract(result, tare, ret);
	outcome = judge(result, tare, ret);
	if (find_repeat(memory, result, &seen)) {
		remember_repeat(memory, seen, result);
		/* it was no weighing then, and is one now: the container was taken off the record */
		if (outcome == WEIGH_DONE && !memory->weighed[seen]) {
			memory->weighed[seen] = true;
			return WEIGH_DONE;
		}
		return WEIGH_REPEAT;
	}
	weigh_remember(memory, result);
	memory->weighed[memory->latest] = outcome == WEIGH_DONE;
	return outcome;
}

const char *weigh_origin_text(enum weigh_origin origin)
{
	switch (origin) {
	case WEIGH_RADIO:
		return "radio";
	case WEIGH_STORED:
		return "stored";
	case WEIGH_TYPED:
		return "typed";
	}
	return "unknown";
}
