// SPDX-License-Identifier: MIT
#include "daemon/litter/sign_rules.h"
#include <stdio.h>
#include <string.h>

#define BIT(kind) (1u << (kind))
#define MINUTE_MS INT64_C(60000)

static const struct {
	unsigned own, companions;
} parts[SIGN_RULES] = {
	[SIGN_RULE_CHILLED] = { BIT(SIGN_TEMPERATURE) | BIT(SIGN_TOUCH), BIT(SIGN_NURSING) | BIT(SIGN_TONE) },
	[SIGN_RULE_HOT] = { BIT(SIGN_TEMPERATURE) | BIT(SIGN_TOUCH), BIT(SIGN_TONE) | BIT(SIGN_BREATHING) },
	[SIGN_RULE_DRY] = { BIT(SIGN_GUMS) | BIT(SIGN_TONGUE) | BIT(SIGN_URINE) | BIT(SIGN_SKIN),
			    BIT(SIGN_STOOL) | BIT(SIGN_VOMIT) },
	[SIGN_RULE_NURSING] = { BIT(SIGN_NURSING) | BIT(SIGN_TONGUE), BIT(SIGN_TONE) },
	[SIGN_RULE_LIMP] = { BIT(SIGN_TONE) | BIT(SIGN_COLOUR) | BIT(SIGN_BREATHING), 0 },
	[SIGN_RULE_CRYING] = { BIT(SIGN_CRYING), BIT(SIGN_NURSING) | BIT(SIGN_BELLY) },
	[SIGN_RULE_GUT] = { BIT(SIGN_STOOL) | BIT(SIGN_VOMIT) | BIT(SIGN_BELLY), BIT(SIGN_GUMS) },
};

/* Of each kind the sign that counts, or NULL. */
struct newest {
	const struct sign_seen *seen[SIGN_KINDS];
};

static bool counts(const struct sign_seen *seen, int64_t now_ms)
{
	int64_t ago_ms;

	return seen->at_ms <= now_ms && !__builtin_sub_overflow(now_ms, seen->at_ms, &ago_ms) &&
	       ago_ms <= SIGN_COUNTS_MS;
}

static struct newest newest_of(const struct sign_view *view)
{
	struct newest ret = { 0 };

	for (size_t i = 0; i < view->n; i++) {
		const struct sign_seen *seen = &view->signs[i];
		if ((unsigned)seen->value.kind >= SIGN_KINDS || !counts(seen, view->now_ms))
			continue;
		const struct sign_seen **slot = &ret.seen[seen->value.kind];
		if (!*slot || seen->at_ms >= (*slot)->at_ms)
			*slot = seen;
	}
	sign_warmth_by(view->signs, view->n, view->now_ms, SIGN_COUNTS_MS, &ret.seen[SIGN_TEMPERATURE],
		       &ret.seen[SIGN_TOUCH]);
	return ret;
}

static enum sign_weight weigh_warmth(const struct sign_value *value, int64_t age_ms, bool hot)
{
	if (value->kind == SIGN_TEMPERATURE)
		return hot ? sign_weigh_hot(value->value, age_ms) : sign_weigh_cold(value->value, age_ms);
	/* By touch a pup is hot or cold, not both. */
	return (value->value == SIGN_TOUCH_HOT) == hot ? sign_weigh(value, age_ms) : SIGN_WELL;
}

/* How an own sign counts for a rule. */
static enum sign_weight weigh_for(enum sign_rule rule, const struct sign_seen *seen, int64_t age_ms)
{
	enum sign_weight weight;

	switch (rule) {
	case SIGN_RULE_CHILLED:
		return weigh_warmth(&seen->value, age_ms, false);
	case SIGN_RULE_HOT:
		return weigh_warmth(&seen->value, age_ms, true);
	case SIGN_RULE_NURSING: /* a tongue that is only dry is the other rule's */
		weight = sign_weigh(&seen->value, age_ms);
		return seen->value.kind == SIGN_TONGUE && weight < SIGN_BAD ? SIGN_WELL : weight;
	case SIGN_RULE_DRY:
	case SIGN_RULE_LIMP:
	case SIGN_RULE_CRYING:
	case SIGN_RULE_GUT:
	case SIGN_RULES:
		break;
	}
	return sign_weigh(&seen->value, age_ms);
}

struct weighed {
	enum sign_weight worst;
	int bad;                          /* how many own ones of SIGN_BAD or worse */
	bool worse;                       /* a companion or the scale lifts it */
	unsigned companions;              /* those */
	enum sign_weight own[SIGN_KINDS]; /* SIGN_WELL where it has no say */
};

/* "Seems to nurse and gets nothing": the scale says so, at an age at which milk is all it gets. */
static bool nurses_in_vain(const struct sign_view *view, const struct sign_seen *nursing)
{
	return nursing && (view->flat || view->losing) && sign_tells(SIGN_NURSING, view->age_ms);
}

static struct weighed weigh(enum sign_rule rule, const struct sign_view *view, const struct newest *newest)
{
	struct weighed ret = { .worse = view->losing || (rule == SIGN_RULE_NURSING && view->flat) };

	for (int kind = 0; kind < SIGN_KINDS; kind++) {
		const struct sign_seen *seen = newest->seen[kind];
		if (!seen)
			continue;
		if (parts[rule].own & BIT(kind)) {
			enum sign_weight weight = weigh_for(rule, seen, view->age_ms);
			if (weight == SIGN_WELL && rule == SIGN_RULE_NURSING && kind == SIGN_NURSING &&
			    nurses_in_vain(view, seen))
				weight = SIGN_WATCH;
			ret.own[kind] = weight;
			ret.bad += weight >= SIGN_BAD;
			if (weight > ret.worst)
				ret.worst = weight;
		} else if ((parts[rule].companions & BIT(kind)) && sign_weigh(&seen->value, view->age_ms) >= SIGN_BAD) {
			ret.companions |= BIT(kind);
			ret.worse = true;
		}
	}
	return ret;
}

static enum concern_level level_of(const struct weighed *weighed)
{
	if (weighed->worst == SIGN_WORST || weighed->bad >= 2 || (weighed->bad == 1 && weighed->worse))
		return CONCERN_VET;
	return weighed->bad == 1 || weighed->worse ? CONCERN_ACT : CONCERN_LOOK;
}

/* ---- what is so, in words ---- */

struct text {
	char *to;
	size_t n, used;
};

static void add(struct text *text, const char *what)
{
	size_t n = strlen(what), room = text->n - text->used - 1;

	n = n < room ? n : room;
	memcpy(text->to + text->used, what, n);
	text->used += n;
	text->to[text->used] = '\0';
}

static void add_ago(struct text *text, int64_t ago_ms)
{
	char ago[32];
	int minutes = (int)(ago_ms / MINUTE_MS); /* a day at most */

	if (minutes < 5)
		(void)snprintf(ago, sizeof ago, "just now");
	else if (minutes < 120)
		(void)snprintf(ago, sizeof ago, "%d min ago", minutes);
	else
		(void)snprintf(ago, sizeof ago, "%d h ago", minutes / 60);
	add(text, ago);
}

static void add_limit(struct text *text, const char *before, int32_t mc)
{
	char word[16];
	struct sign_value value = { SIGN_TEMPERATURE, mc };

	sign_format(&value, word, sizeof word);
	add(text, before);
	add(text, word);
}

/* What a temperature is held against. */
static void add_band(struct text *text, enum sign_rule rule, int32_t mc, int64_t age_ms)
{
	struct sign_band band = sign_band(age_ms);
	bool cold = rule == SIGN_RULE_CHILLED;

	if (cold && mc < SIGN_SEVERE_MC)
		add_limit(text, ", severe below ", SIGN_SEVERE_MC);
	else if (cold && mc < band.chilled_mc)
		add_limit(text, ", chilled below ", band.chilled_mc);
	else if (!cold && mc > SIGN_FEVER_MC)
		add_limit(text, ", fever above ", SIGN_FEVER_MC);
	else if (age_ms >= 0)
		add_limit(text, cold ? ", normal from " : ", normal to ", cold ? band.low_mc : band.high_mc);
}

static void add_sign(struct text *text, enum sign_rule rule, const struct sign_view *view, const struct sign_seen *seen)
{
	char word[16];

	sign_format(&seen->value, word, sizeof word);
	add(text, text->used > 0 ? ", " : "");
	add(text, sign_row(seen->value.kind)->word);
	add(text, " ");
	add(text, word);
	if (seen->value.kind == SIGN_TEMPERATURE)
		add_band(text, rule, seen->value.value, view->age_ms);
	add(text, " (");
	add_ago(text, view->now_ms - seen->at_ms);
	if (!sign_tells(seen->value.kind, view->age_ms))
		add(text, "; tells little at this age");
	add(text, ")");
}

static void describe(enum sign_rule rule, const struct sign_view *view, const struct newest *newest,
		     const struct weighed *weighed, struct text *text)
{
	const char *before = "; with ";

	for (int weight = SIGN_WORST; weight > SIGN_WELL; weight--)
		for (int kind = 0; kind < SIGN_KINDS; kind++)
			if ((int)weighed->own[kind] == weight)
				add_sign(text, rule, view, newest->seen[kind]);
	for (int kind = 0; kind < SIGN_KINDS; kind++) {
		char word[16];
		if (!(weighed->companions & BIT(kind)))
			continue;
		sign_format(&newest->seen[kind]->value, word, sizeof word);
		add(text, before);
		add(text, sign_row((enum sign_kind)kind)->word);
		add(text, " ");
		add(text, word);
		before = ", ";
	}
	if (view->losing)
		add(text, "; loses weight");
	else if (view->flat && rule == SIGN_RULE_NURSING)
		add(text, "; doesn't gain");
	if (view->age_ms < 0)
		add(text, "; age not known: judged strictly");
}

bool sign_rule_holds(enum sign_rule rule, const struct sign_view *view, enum concern_level *ret_level, char *ret_text,
		     size_t n_text)
{
	struct newest newest = newest_of(view);
	struct weighed weighed = weigh(rule, view, &newest);
	struct text text = { ret_text, n_text, 0 };

	if (weighed.worst == SIGN_WELL)
		return false;
	*ret_level = level_of(&weighed);
	ret_text[0] = '\0';
	describe(rule, view, &newest, &weighed, &text);
	return true;
}
