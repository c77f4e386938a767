// SPDX-License-Identifier: MIT
#include "daemon/litter/sign.h"
#include <string.h>
#include <strings.h>

/*
 * Where sources conflict, or there is none, the row says so. Common practice: what people with litters go by, in no
 * source read. Neonatal emergencies, dvm360: id 703814. No two answers of a sign begin with the same letter: one key
 * each.
 */
#define DAY_MS (INT64_C(24) * 3600 * 1000)
/* Hydration is hard to judge below it: Lee & Cohn 2017. */
#define SIX_WEEKS_MS (42 * DAY_MS)
/* Urine's colour needs dilute urine: the kidney concentrates from week 2 (Animals 10:636, 2020) or week 12 (Macintire
 * 2008). */
#define THREE_WEEKS_MS (21 * DAY_MS)

static const struct sign_row rows[SIGN_KINDS] = {
	[SIGN_TEMPERATURE] = {
		.word = "temperature",
		.question = "What does the thermometer say?",
		.how = "Soft tip, a little oil, just inside the anus, never pushed; hold pup and tip in one hand.",
		.tells = "It decides first of all whether it may be fed: not below 35.0 C. What is normal rises with "
			 "age; it doesn't say why it is cold or hot.",
		.source = "by age, see the band; not fed cold: Quist-Rybachuk, PetFeeding proceedings p. 35, and "
			  "veteriankey.com, husbandry of the neonate (sources stop at 34.4, 35.0 or 35.6 C; 35.0 with "
			  "doubt to 35.6 is our choice); how to measure: common practice (no source)",
		.from_ms = 0, .to_ms = INT64_MAX,
	},
	[SIGN_TOUCH] = {
		.word = "touch",
		.question = "Belly and mouth: warm to your finger?",
		.how = "Warm and dry your hand first; feel its belly, its feet, and the inside of its mouth.",
		.tells = "A rough guess. Skin warms before the inside does: after a chill only a thermometer tells.",
		.source = "common practice (no source); that cold pups don't suck at 34.4 C or less: Initially "
			  "treating fading puppies, dvm360, id 197163",
		.answers = {
			[SIGN_TOUCH_WARM] = { "warm", "belly and feet warm", SIGN_WELL },
			[SIGN_TOUCH_HOT] = { "hot", "hotter than its littermates", SIGN_WATCH },
			[SIGN_TOUCH_COOL] = { "lukewarm", "feet cool, belly and mouth still warm", SIGN_WATCH },
			[SIGN_TOUCH_COLD] = { "cold", "belly or mouth cool or cold", SIGN_WORST },
		},
		.from_ms = 0, .to_ms = INT64_MAX,
	},
	[SIGN_NURSING] = {
		.word = "nursing",
		.question = "At the teat, or your finger: does it suck?",
		.how = "Put it to a teat, or a clean warm finger in its mouth; see its throat swallow. Not while it is "
		       "cold.",
		.tells = "Weak sucking is early and urgent, but says nothing of the cause. Sucking isn't swallowing: "
			 "only the scale says that milk came.",
		.source = "Vet Focus 32.1, Chastant; Neonatal emergencies, dvm360; too weak to nurse: Dog Owner's Home "
			  "Veterinary Handbook, reviving",
		.answers = {
			{ "strong", "holds on, sucks, swallows", SIGN_WELL },
			{ "weak", "lets go, tires, few swallows", SIGN_BAD },
			{ "none", "doesn't take hold", SIGN_WORST },
		},
		.from_ms = 0, .to_ms = SIX_WEEKS_MS,
	},
	[SIGN_TONGUE] = {
		.word = "tongue",
		.question = "Mouth open: is the tongue free?",
		.how = "Open its mouth with a clean fingertip and look; don't pull at the tongue.",
		.tells = "A dry tongue can stick to the palate: then it seems to nurse and gets nothing. A free one "
			 "proves nothing; just after nursing any looks wet.",
		.source = "common practice (no source)",
		.answers = {
			{ "free", "moist, lies in the floor of the mouth", SIGN_WELL },
			{ "dry", "dry, but comes off by itself", SIGN_WATCH },
			{ "sticks", "sticks to the palate", SIGN_BAD },
		},
		.from_ms = 0, .to_ms = SIX_WEEKS_MS,
	},
	[SIGN_GUMS] = {
		.word = "gums",
		.question = "Gums: wet to a clean finger?",
		.how = "Dry your finger, slide it along the gum inside the lip; not straight after nursing.",
		.tells = "The most reliable sign of drying out at this age. Fresh milk makes dry gums feel moist.",
		.source = "most reliable: Neonatal emergencies, dvm360; milk: Identifying dehydration, dvm360, Aug "
			  "2008; tacky to dry, 5 to 7 % dried out: BSAVA 2008, VIN id 3862872",
		.answers = {
			{ "moist", "wet and slippery", SIGN_WELL },
			{ "tacky", "sticky, the finger drags", SIGN_BAD },
			{ "dry", "dry", SIGN_WORST },
		},
		.from_ms = 0, .to_ms = INT64_MAX,
	},
	[SIGN_COLOUR] = {
		.word = "colour",
		.question = "Gums: what colour?",
		.how = "Lift the lip, in good light; compare with a littermate.",
		.tells = "Red is normal to day 7. Later red only says: look again. White or blue is bad at any age.",
		.source = "red to day 4 to 7 is normal, pale is bad: Neonatal emergencies, dvm360; blue worse than "
			  "pale: the newborn score, Theriogenology 72:401 (2009)",
		.answers = {
			{ "pink", "pink", SIGN_WELL },
			{ "red", "red", SIGN_WATCH },
			{ "white", "pale, white or grey", SIGN_BAD },
			{ "blue", "blue or purple", SIGN_WORST },
		},
		.from_ms = 0, .to_ms = INT64_MAX, /* red: see sign_weigh() */
	},
	[SIGN_TONE] = {
		.word = "tone",
		.question = "In your hand: does it wriggle?",
		.how = "Lift it with a whole hand under its chest and belly, low over the box.",
		.tells = "How strong it is, at any age, not why. A pup fast asleep is slack too: wake it. Twitching "
			 "asleep is normal.",
		.source = "Vet Focus 32.1, Chastant; twitching: dvm360, July 2020; limp: the newborn score, "
			  "Theriogenology 72:401 (2009)",
		.answers = {
			{ "active", "wriggles, pushes, holds its head", SIGN_WELL },
			{ "weak", "moves little, once awake", SIGN_BAD },
			{ "limp", "hangs in the hand", SIGN_WORST },
		},
		.from_ms = 0, .to_ms = INT64_MAX,
	},
	[SIGN_CRYING] = {
		.word = "crying",
		.question = "Does it cry?",
		.how = "Listen while it lies warm among the others; lies it apart?",
		.tells = "That it lacks something: warmth, milk, or more. It doesn't say what; a very weak pup is "
			 "quiet.",
		.source = "constant crying, call within 4 to 6 h: a lay first-aid page; non-specific but urgent: Vet "
			  "Focus 32.1, Chastant; Neonatal emergencies, dvm360",
		.answers = {
			{ "quiet", "quiet, or stops by itself", SIGN_WELL },
			{ "settles", "cries, settles when warm and at a teat", SIGN_WATCH },
			{ "constant", "goes on and on, or lies apart and cries", SIGN_BAD },
		},
		.from_ms = 0, .to_ms = INT64_MAX,
	},
	[SIGN_BREATHING] = {
		.word = "breathing",
		.question = "Breath: easy and silent?",
		.how = "Watch its flank at rest, ear close; count 15 s and times four if in doubt.",
		.tells = "15 to 35 a minute at rest is normal; crying, nursing and heat make it faster for a while.",
		.source = "15 to 35: Small Animal Clinical Nutrition, 5th ed., p. 292; Dog Owner's Home Veterinary "
			  "Handbook, p. 489; noise, milk from the nose: common practice (no source)",
		.answers = {
			{ "easy", "easy and silent", SIGN_WELL },
			{ "fast", "more than 35 a minute at rest", SIGN_WATCH },
			{ "noisy", "rattles or clicks, or milk at the nose", SIGN_BAD },
			{ "gasping", "gasps, mouth open, belly heaves", SIGN_WORST },
		},
		.from_ms = 0, .to_ms = INT64_MAX,
	},
	[SIGN_BELLY] = {
		.word = "belly",
		.question = "Belly after nursing: round and soft?",
		.how = "One finger, lightly, from the side.",
		.tells = "Flat after nursing: it got little. Tight as a drum is urgent at any age; a belly just full "
			 "is firm, but gives.",
		.source = "distended belly: Vet Focus 32.1, Chastant; Neonatal emergencies, dvm360; flat: common "
			  "practice (no source)",
		.answers = {
			{ "round", "round and soft", SIGN_WELL },
			{ "flat", "flat or hollow after nursing", SIGN_WATCH },
			{ "tight", "tight as a drum, or it hurts", SIGN_BAD },
		},
		.from_ms = 0, .to_ms = INT64_MAX,
	},
	[SIGN_URINE] = {
		.word = "urine",
		.question = "Wipe it: what comes?",
		.how = "Stroke its lower belly and vent with warm wet cotton or white paper, lightly, for up to a "
		       "minute.",
		.tells = "To about 3 weeks it should be almost without colour; yellow means drying out. Later colour "
			 "says little. Nothing comes if it has just passed some: try again in half an hour.",
		.source = "yellow: Identifying dehydration, dvm360, Aug 2008; none when stimulated: Neonatal "
			  "emergencies, dvm360; to 3 weeks: our choice, since sources have the kidney concentrate from "
			  "week 2 (Animals 10:636, 2020) or week 12 (Macintire 2008)",
		.answers = {
			{ "clear", "like water", SIGN_WELL },
			{ "yellow", "plainly yellow", SIGN_BAD },
			{ "dark", "dark yellow, orange or brown", SIGN_BAD },
			{ "missing", "none comes", SIGN_BAD },
		},
		.from_ms = 0, .to_ms = THREE_WEEKS_MS,
	},
	[SIGN_STOOL] = {
		.word = "stool",
		.question = "Stool: how does it look?",
		.how = "Wipe its vent with warm wet cotton; look at cotton and tail.",
		.tells = "Loose, then green, then grey or white: of hand-fed pups each is worse than the one before. "
			 "The first one after birth is dark.",
		.source = "Dog Owner's Home Veterinary Handbook, common feeding problems (normal: firm to half firm, "
			  "yellow to light brown; grey or white: call); blood, none: common practice (no source)",
		.answers = {
			{ "normal", "formed, yellow to light brown", SIGN_WELL },
			{ "missing", "none today", SIGN_WATCH },
			{ "loose", "soft or runny, yellow", SIGN_WATCH },
			{ "green", "greenish, or runs like water", SIGN_BAD },
			{ "white", "grey or white, or like curdled milk", SIGN_WORST },
			{ "blood", "blood in it, or black as tar after day 2", SIGN_WORST },
		},
		.from_ms = 0, .to_ms = INT64_MAX,
	},
	[SIGN_VOMIT] = {
		.word = "vomit",
		.question = "Does milk come up?",
		.how = "Look at mouth, nose and bedding after it nursed.",
		.tells = "A dribble after nursing may be nothing; more dries it out fast and can get into its lungs.",
		.source = "vomiting, call within 4 to 6 h: a lay first-aid page; drying out: common practice (no "
			  "source)",
		.answers = {
			{ "none", "nothing", SIGN_WELL },
			{ "dribbles", "a little milk, once", SIGN_WATCH },
			{ "vomits", "more, or again and again", SIGN_BAD },
		},
		.from_ms = 0, .to_ms = INT64_MAX,
	},
	[SIGN_SKIN] = {
		.word = "skin",
		.question = "Skin at the neck: lift, let go. Back at once?",
		.how = "A small fold, lifted lightly between two fingers.",
		.tells = "Unreliable in the first weeks (little fat, much water), and hard to judge below 6 weeks: "
			 "quick proves nothing, slow is worth a look at gums and urine.",
		.source = "unreliable: Identifying dehydration, dvm360, Aug 2008; Neonatal emergencies, dvm360; below "
			  "6 weeks: Lee & Cohn 2017, Vet Clin North Am 47(2); against it: lost at about 10 %, BSAVA "
			  "2008, VIN id 3862872; grades of adults: veteriankey.com, fluid therapy",
		.answers = {
			{ "quick", "flat at once", SIGN_WELL },
			{ "slow", "goes back slowly", SIGN_BAD },
			{ "tent", "stays up", SIGN_WORST },
		},
		.from_ms = SIX_WEEKS_MS, .to_ms = INT64_MAX,
	},
};

const struct sign_row *sign_row(enum sign_kind kind)
{
	return &rows[kind];
}

enum sign_kind sign_of(const char *word)
{
	enum sign_kind ret = SIGN_KINDS;
	size_t n = strlen(word);
	int found = 0;

	if (n == 0)
		return SIGN_KINDS;
	for (int kind = 0; kind < SIGN_KINDS; kind++) {
		if (strncasecmp(rows[kind].word, word, n) != 0)
			continue;
		if (rows[kind].word[n] == '\0')
			return (enum sign_kind)kind;
		ret = (enum sign_kind)kind;
		found++;
	}
	return found == 1 ? ret : SIGN_KINDS;
}
