// SPDX-License-Identifier: MIT
#include "daemon/litter/concern_sign.h"

/*
 * Published values conflict; where we chose, the row says so. Handbook: Dog Owner's Home Veterinary Handbook, by
 * printed page. SACN: Small Animal Clinical Nutrition, 5th ed., ch. 16.
 */
#define CALL_NOW "Call your vet now; don't wait for the next weighing. "
#define SEE "See whether it is warm, nurses and swallows, has a moist mouth, passes urine and stool. "
/* Feeding a cold pup is what goes wrong on the way to the vet (several sources: facts, 4.2). */
#define COLD "A cold pup must not be fed. "
#define OR_CALL "Call your vet at once if it is weak, cold, crying, not nursing, or simply wrong."

static const struct concern_row rows[CONCERN_CHILLED] = {
	[CONCERN_EARLY_LOSS] = {
		.word = "early-loss", .least = CONCERN_LOOK, .worst = CONCERN_LOOK,
		.looks_at = "the reading nearest to 48 h of age (36 to 60 h) against the birth weight, until it has "
			  "made up for it",
		.threshold = "-4 % or worse, decided in integers; a limit of statistics, and not yet the handbook's "
			  "alarm of -10 %",
		.source = "Mila 2015, J Anim Sci, doi 10.2527/jas.2015-8971 (477 pups: more deaths from day 2 to 21)",
		.advice = "Weigh again within 12 hours, at the same stage of feeding. " SEE OR_CALL,
	},
	[CONCERN_TENTH_LOST] = {
		.word = "tenth-lost", .least = CONCERN_VET, .worst = CONCERN_VET,
		.looks_at = "the newest reading of the first 72 h against the birth weight",
		.threshold = "10 % below the birth weight or more, decided in integers",
		.source = "Dog Owner's Home Veterinary Handbook, p. 493 (below 10 % in 48 h is tolerated; so too the "
			  "Great Dane study air.unimi.it/handle/2434/408397)",
		.advice = CALL_NOW "Until then: " SEE COLD "Check the weighing: right pup, right container.",
	},
	[CONCERN_NO_GAIN_72H] = {
		.word = "no-gain-72h", .least = CONCERN_VET, .worst = CONCERN_VET,
		.looks_at = "the newest reading from 66 h of age on against the birth weight, from 72 h on",
		.threshold = "not above the birth weight",
		.source = "Dog Owner's Home Veterinary Handbook, p. 493, and p. 492 (a pup that fails to gain: tell "
			  "the vet at once)",
		.advice = CALL_NOW "Until then: " SEE COLD "Check the weighing: right pup, right container.",
	},
	[CONCERN_LOSING] = {
		.word = "losing", .least = CONCERN_LOOK, .worst = CONCERN_VET,
		.looks_at = "a loss that the log shows and the growth model believes in (less clear it counts as no gain), "
			  "from 48 h of age to 12 weeks; one begun in the first 24 h counts from 72 h on; and how far the "
			  "newest weighing is below those of the 60 h before",
		.threshold = "any loss once feeding is established. Look when it is likelier than not, act from 80 % "
			     "sure on; vet from 95 %, by two weighings since, 12 h after it began or more (how sure: our "
			     "choice). Whatever the model says, beyond what the scale leaves open: act 5 % below two of "
			     "those weighings, vet 10 % when two in a row say so; look 7 % below the one before, act 10 %; "
			     "from day 21 on 8, 13, 9, 13 (ours: a stomach holds about 4 %; of fluid lost 5 to 7 % show)",
		.source = "Dog Owner's Home Veterinary Handbook, pp. 492-493; neonates to two weeks: Lee & Cohn 2017, "
			  "Vet Clin North Am 47(2); stomach: Chastant & Mila 2019, Anim Reprod Sci 207:162; fluid: BSAVA "
			  "2008, VIN id 3862872",
		.advice = CALL_NOW "Until then: " SEE COLD "Check the weighing: right pup, right container.",
	},
	[CONCERN_NO_GAIN_24H] = {
		.word = "no-gain-24h", .least = CONCERN_LOOK, .worst = CONCERN_VET,
		.looks_at = "whether the growth model believes that it stopped gaining, from 72 h of age to 12 weeks",
		.threshold = "no gain in a day; the model may tell before. Look when it is likelier than not, act from "
			  "80 % sure on; vet from 95 %, by two weighings since, 12 h after it began or more (how sure: "
			  "our choice)",
		.source = "Dog Owner's Home Veterinary Handbook, p. 492; Vet Focus 32.1, Chastant (85 % of pups that "
			  "died in month 1 showed signs for less than 5 days)",
		.advice = CALL_NOW "Until then: " SEE COLD "Check the weighing: right pup, right container.",
	},
	[CONCERN_BELOW_BAND] = {
		.word = "below-band", .least = CONCERN_LOOK, .worst = CONCERN_ACT,
		.looks_at = "the growth model's daily rate, from 72 h to 28 days of age, of a pup that gains",
		.threshold = "below 5 % a day in week 1, 3.5 % in weeks 2 to 4, with 95 % certainty; act when it gains less "
			  "than 0.5 % (our choice)",
		.source = "Small Animal Clinical Nutrition, 5th ed., p. 292 (8 %, 5 to 10, in week 1; 5 %, 3.5 to 6, "
			  "in weeks 2 to 4)",
		.advice = "Watch one whole nursing: is it at a teat, and does it swallow? " SEE
			  "Call your vet today if it gains nothing, and tell them if it stays below for two days. " OR_CALL,
	},
	[CONCERN_LATE_DOUBLING] = {
		.word = "late-doubling", .least = CONCERN_LOOK, .worst = CONCERN_LOOK,
		.looks_at = "the newest reading from the limit on against twice the birth weight",
		.threshold = "14 days, the latest that is published; 16 from 40 kg of adult mass on (healthy giants take "
			  "13.3 days). Late isn't ill: at the low end of the daily band it takes 17 days (5 % a day, 3.5 % "
			  "after week 1), so its present gain is told with it",
		.source = "7 to 14 days: Dog Owner's Home Veterinary Handbook, p. 492 (10 to 12), Small Animal Clinical "
			  "Nutrition, 5th ed., p. 292 (8 to 10), a vet text (14, formula-fed); Great Danes' "
			  "curve air.unimi.it/handle/2434/408397; the choice among them is ours",
		.advice = "Compare with its littermates, and its daily gain with the band: one that gains steadily within "
			  "it may be small or have been slow at first. Mention it to your vet. "
			  OR_CALL,
	},
	[CONCERN_BEHIND] = {
		.word = "behind", .least = CONCERN_LOOK, .worst = CONCERN_ACT,
		.looks_at = "the mass that the growth model believes in, against the litter's mean, of three pups or "
			  "more that were born within two days",
		.threshold = "25 % below or more; act when it is 15 points further behind than at birth in the first two "
			  "weeks (our choice)",
		.source = "Dog Owner's Home Veterinary Handbook, p. 493 (25 % below at birth; another vet text says "
			  "20 %); gaining less than littermates: Neonatal emergencies, dvm360",
		.advice = "See whether it is pushed off the teats, and has time at one of its own. " SEE
			  "Call your vet today if it goes on falling behind. " OR_CALL,
	},
	[CONCERN_LOW_BIRTH] = {
		.word = "low-birth", .least = CONCERN_LOOK, .worst = CONCERN_ACT,
		.looks_at = "the birth weight, until it has doubled or day 21; act in the first three days",
		.threshold = "adult to 5 kg: below 115.5 g, below 10 kg: 128.5 g, below 25 kg: 142.5 g, below 40 kg: "
			  "248 g, from 40 kg on: 345 g (of each size the breed with the most pups); or 25 % below the "
			  "litter's mean or more",
		.source = "Mugnier 2020, BMC Vet Res 16:345, tables 1 and 2 (very low: 55 % died by day 21); sizes: "
			  "Alonge 2023, Animals 13:3397; litter's mean: Dog Owner's Home Veterinary Handbook, p. 493",
		.advice = "Weigh it every 8 to 12 hours, see that it is warm and gets to a teat, first of all. " SEE
			  "Ask your vet today how to look after it. " OR_CALL,
	},
	[CONCERN_OVERDUE] = {
		.word = "overdue", .least = CONCERN_LOOK, .worst = CONCERN_LOOK,
		.looks_at = "the time since its newest reading, or birth, in the first two weeks",
		.threshold = "26 h (a day, and two hours for people)",
		.source = "Dog Owner's Home Veterinary Handbook, p. 492 (at birth, at 12 h, daily for two weeks)",
		.advice = "Weigh it now. " OR_CALL,
	},
	[CONCERN_LITTER_SLOW] = {
		.word = "litter-slow", .least = CONCERN_LOOK, .worst = CONCERN_VET,
		.looks_at = "what the growth model says of the litter as a whole, from 72 h on",
		.threshold = "no gain or a loss of all: look when it is likelier than not, act from 60 % sure on, vet from "
			  "90 % after 12 h (our choice); or below the daily band (5 %, then 3.5 %) with 95 % certainty: act",
		.source = "Dog Owner's Home Veterinary Handbook, p. 492 (a litter that gains too little: look at the "
			  "dam and her milk); band: Small Animal Clinical Nutrition, 5th ed., p. 292",
		.advice = CALL_NOW "Look at the dam first: does she eat and drink, has she fever, are her teats hot, "
			  "hard or sore, is there milk at each? Are all pups warm and nursing? Check the scale with a "
			  "known mass.",
	},
	[CONCERN_ADULT_RATE] = {
		.word = "adult-rate", .least = CONCERN_LOOK, .worst = CONCERN_LOOK,
		.looks_at = "the growth model's gain in grams against the adult mass (the dam's when no other is "
			  "known), to 10 weeks",
		.threshold = "2 g a day for each kg, with 95 % certainty; from day 21 on below 25 kg of adult mass, "
			  "else from day 28 on (it can't be met by large breeds before)",
		.source = "Small Animal Clinical Nutrition, 5th ed., p. 292 (2 g, weeks 5 to 10; others say 2.2 to "
			  "4.4 g)",
		.advice = "Compare with its littermates, and over a week. See whether it eats. Mention it to your "
			  "vet. " OR_CALL,
	},
};

/* For lower levels, where the row's own advice is for a higher one. */
#define NOT_SURE "It isn't sure yet: weigh it again within hours, at the same stage of feeding. "
static const char *const lesser_advice[CONCERN_RULES][CONCERN_VET] = {
	[CONCERN_LOSING] = {
		[CONCERN_LOOK] = NOT_SURE SEE OR_CALL,
		[CONCERN_ACT] = "Weigh it again within hours, at the same stage of feeding. " SEE
				"Call your vet today; now, if the next weighing shows no gain. " OR_CALL,
	},
	[CONCERN_NO_GAIN_24H] = {
		[CONCERN_LOOK] = NOT_SURE SEE OR_CALL,
		[CONCERN_ACT] = "Weigh it again within 12 hours, at the same stage of feeding. " SEE
				"Call your vet today if the next weighing shows no gain. " OR_CALL,
	},
	[CONCERN_LITTER_SLOW] = {
		[CONCERN_LOOK] = "It isn't sure yet: weigh all again within 12 hours, at the same stage of feeding. Look at "
				 "the dam and her teats. Check the scale with a known mass. Call your vet if the dam is "
				 "unwell or a pup weak or cold.",
		[CONCERN_ACT] = "Look at the dam: does she eat and drink, has she fever, are her teats hot, hard or sore, "
				"is there milk at each? Check the scale with a known mass. Call your vet today; now, if the "
				"dam is unwell or a pup weak or cold.",
	},
};

const struct concern_row *concern_row(enum concern_rule rule)
{
	return concern_sign_is(rule) ? concern_sign_row(rule) : &rows[rule];
}

const char *concern_advice(enum concern_rule rule, enum concern_level level)
{
	const char *lesser;

	if (concern_sign_is(rule))
		return concern_sign_advice(rule, level);
	lesser = level < rows[rule].worst ? lesser_advice[rule][level] : NULL;
	return lesser ? lesser : rows[rule].advice;
}
