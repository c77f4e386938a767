// SPDX-License-Identifier: MIT
#include "daemon/litter/sign_rules.h"

/*
 * Sources: as in sign_table.c. That a loss of weight or a second sign makes it worse is our choice throughout: newborns
 * that died had shown signs for less than 5 days (Vet Focus 32.1), and these signs name no cause.
 */
#define CALL_NOW "Call your vet now, at night too. "
/* "Within 4 to 6 h" is a lay first-aid page's. */
#define CALL_SOON "Call your vet within a few hours, at night too; at once if it gets weaker."
#define OR_CALL "Call your vet at once if it is weak, cold, not nursing, or simply wrong."
#define SAY "Say its age, weight, temperature and what you saw."
/* Feeding a cold pup is what goes wrong on the way to the vet (several sources: facts, 4.2). At most 1 C an hour, above
 * 2 C an hour organs suffer: vetreproduction.com. */
#define WARM_FIRST "A cold pup must be warmed slowly first, and not be fed before. "
#define WARM_SLOWLY                                                                                                    \
	"A cold pup must be warmed slowly first, and not be fed before: nothing by mouth. About 1 C an hour: at "      \
	"your skin, or by a lukewarm bottle in a cloth, with room to crawl away. "
#define TOGETHER "by itself look, act or vet by its weight; two bad ones vet; "
#define WORSE "a loss of weight is one level worse (ours)"

static const struct concern_row rows[SIGN_RULES] = {
	[SIGN_RULE_CHILLED] = {
		.word = "chilled", .least = CONCERN_LOOK, .worst = CONCERN_VET,
		.looks_at = "the newest temperature, or touch; nursing and tone beside it",
		.threshold = "below 35.0 C to day 7, 36.0 to day 21, 37.0 after; vet below 34.4 C to day 7, 35.0 "
			     "after, or cold to the touch (not measured: our choice); severe below 31.0. Look: below "
			     "the band of its age. "
			     WORSE,
		.source = "vetreproduction.com, hypothermia; gut and sucking fail at 34.4 C or less: Initially "
			  "treating fading puppies, dvm360, id 197163; severe at 35.0 or less: nelsonroadvet.com (31 "
			  "elsewhere; the higher taken)",
		.advice = CALL_NOW WARM_SLOWLY SAY,
	},
	[SIGN_RULE_HOT] = {
		.word = "hot", .least = CONCERN_LOOK, .worst = CONCERN_VET,
		.looks_at = "the newest temperature, or touch; tone and breathing beside it",
		.threshold = "act above 39.4 C (from memory), vet above 40.0 C (ours); look: above the band of its "
			     "age, or hot to the touch. " WORSE,
		.source = "above 41.1 C it kills: JAVMA 262(1), javma.23.07.0382; fever above 39.4 C: from memory, no "
			  "source",
		.advice = CALL_NOW "Take it from the heat, not into cold water. " SAY,
	},
	[SIGN_RULE_DRY] = {
		.word = "dries-out", .least = CONCERN_LOOK, .worst = CONCERN_VET,
		.looks_at = "gums; tongue; urine to day 21; skin at the neck from 6 weeks on; stool and vomit beside "
			    "them",
		.threshold = "tacky gums, tongue that sticks, urine yellow or missing are bad, "
			     "dry gums worst; " TOGETHER WORSE
			     ". Urine and skin at other ages: look at most",
		.source = "gums, no urine: Neonatal emergencies, dvm360; urine's colour, skin unreliable: Identifying "
			  "dehydration, dvm360, Aug 2008; tacky to dry is 5 to 7 %: BSAVA 2008, VIN id 3862872; "
			  "tongue: common practice (no source)",
		.advice = CALL_NOW "Keep it warm and near the dam. " WARM_FIRST
			  "Nothing under the skin without your vet's order. " SAY,
	},
	[SIGN_RULE_NURSING] = {
		.word = "not-nursing", .least = CONCERN_LOOK, .worst = CONCERN_VET,
		.looks_at = "nursing, a tongue that sticks; gain by the scale; tone beside them",
		.threshold = "weak is bad, none worst; nurses strongly and doesn't gain: act; no gain or a loss is one "
			     "level worse (ours). After six weeks: look at most",
		.source = "Vet Focus 32.1, Chastant; too weak to nurse, and a failure to gain: Dog Owner's Home "
			  "Veterinary Handbook, reviving, and p. 492; tongue: common practice (no source)",
		.advice = CALL_NOW "Is it warm? " WARM_FIRST "Pour nothing into its mouth: it may breathe it in. " SAY,
	},
	[SIGN_RULE_LIMP] = {
		.word = "weak", .least = CONCERN_LOOK, .worst = CONCERN_VET,
		.looks_at = "tone, the colour of gums, breathing",
		.threshold = "weak, white gums, noisy breath are bad; limp, blue, gasping worst; " TOGETHER WORSE,
		.source = "any unwell newborn is an emergency: Vet Focus 32.1, Chastant; colour: Neonatal emergencies, "
			  "dvm360; breaths a minute: Small Animal Clinical Nutrition, 5th ed., p. 292",
		.advice = CALL_NOW "Keep nose and mouth free, keep it warm. " WARM_FIRST SAY,
	},
	[SIGN_RULE_CRYING] = {
		.word = "crying", .least = CONCERN_LOOK, .worst = CONCERN_VET,
		.looks_at = "crying; nursing and belly beside it",
		.threshold = "settles: look; constant: act, within 4 to 6 h; " WORSE,
		.source = "a lay first-aid page (4 to 6 h); urgent, cause open: Vet Focus 32.1, Chastant; Neonatal "
			  "emergencies, dvm360",
		.advice = CALL_NOW "Keep it warm and near the dam. " WARM_FIRST SAY,
	},
	[SIGN_RULE_GUT] = {
		.word = "gut", .least = CONCERN_LOOK, .worst = CONCERN_VET,
		.looks_at = "stool, vomit, belly; gums beside them",
		.threshold = "loose: look; green, vomit, tight belly are bad; grey, "
			     "white, blood worst; " TOGETHER WORSE,
		.source = "Dog Owner's Home Veterinary Handbook, common feeding problems, and dehydration; vomit: a "
			  "lay first-aid page (4 to 6 h); belly: Neonatal emergencies, dvm360; blood: common practice "
			  "(no source)",
		.advice = CALL_NOW "Keep some of the stool to show. Weigh it, feel its gums. " WARM_FIRST SAY,
	},
};

/* For `look` and `act`; the row's own is for `vet`. */
static const char *const milder[SIGN_RULES][CONCERN_VET] = {
	[SIGN_RULE_CHILLED] = {
		[CONCERN_LOOK] = "Put it between dam and littermates, dry and out of the draught; measure again in "
				 "half an hour. "
				 WARM_FIRST OR_CALL,
		[CONCERN_ACT] = WARM_SLOWLY "Measure every half hour. " CALL_SOON,
	},
	[SIGN_RULE_HOT] = {
		[CONCERN_LOOK] = "Is it too near the heat? Give it room to crawl away; measure again in "
				 "half an hour. " OR_CALL,
		[CONCERN_ACT] = "Take it from the heat, not into cold water. Measure again in a quarter of an hour; "
				"look at the dam and the others too. " CALL_SOON,
	},
	[SIGN_RULE_DRY] = {
		[CONCERN_LOOK] = "Feel its gums in an hour, not straight after nursing, "
				 "and weigh it. " WARM_FIRST OR_CALL,
		[CONCERN_ACT] = "Weigh it now. Is it warm, does it swallow? " WARM_FIRST
				"Look at gums and urine again in two hours. " CALL_SOON,
	},
	[SIGN_RULE_NURSING] = {
		[CONCERN_LOOK] = "Watch one whole nursing: does it swallow? " WARM_FIRST OR_CALL,
		[CONCERN_ACT] = "Is it warm? " WARM_FIRST "Look at its tongue; watch it swallow; weigh it before and "
							  "after. "
				CALL_SOON,
	},
	[SIGN_RULE_LIMP] = {
		[CONCERN_LOOK] = "Look again in half an hour, with the pup awake, warm and at rest. " OR_CALL,
		[CONCERN_ACT] = "Is it warm? " WARM_FIRST "Stay with it and look again every quarter "
							  "of an hour. " CALL_SOON,
	},
	[SIGN_RULE_CRYING] = {
		[CONCERN_LOOK] = "Is it warm, dry, at a teat, among the others? " WARM_FIRST "Weigh it. " OR_CALL,
		[CONCERN_ACT] = "Is it warm? Does it swallow, is its belly soft? Weigh it. " WARM_FIRST CALL_SOON,
	},
	[SIGN_RULE_GUT] = {
		[CONCERN_LOOK] = "Look at the next stool, feel its gums, weigh it. If hand-fed: change nothing in its "
				 "milk without your vet. " WARM_FIRST OR_CALL,
		[CONCERN_ACT] = "Weigh it now and feel its gums: it dries out fast. If hand-fed: change nothing in its "
				"milk without your vet. " WARM_FIRST CALL_SOON,
	},
};

const struct concern_row *sign_rule_row(enum sign_rule rule)
{
	return &rows[rule];
}

const char *sign_rule_advice(enum sign_rule rule, enum concern_level level)
{
	return level < CONCERN_VET ? milder[rule][level] : rows[rule].advice;
}
