// SPDX-License-Identifier: MIT
#include "daemon/litter/order.h"

/* Common practice (facts, 10.4): trade knowledge that no publication was read for. */
#define COMMON "common practice"
#define WSU "Washington State University, vetmed.wsu.edu, fluids at home (dogs in general)"
#define NEONATAL "dvm360, Neonatal emergencies"
#define CRITICAL "Clinician's Brief, Pediatric critical care, part 2"
#define SACN_303 "Small Animal Clinical Nutrition, 5th ed., p. 303"

static const struct order_caution under_skin[] = {
	{ "If nobody has shown you how to do this, don't: have your vet show you first.", COMMON },
	{ "A pup that is cold, limp or too weak to nurse gets nothing under the skin: call your vet now.", CRITICAL },
	{ "Use only the sterile fluid that your vet named, unopened or kept as your vet said.", COMMON },
	{ "Look at the label for sugar: fluid with dextrose isn't meant for under the skin.", CRITICAL },
	{ "Take a new sterile needle for every pup and every time.", COMMON },
	{ "Warm the fluid to body temperature, 35 to 37 C (95 to 99 F), and no hotter.", NEONATAL },
	{ "Mix it by turning it over a few times once it is warm.", COMMON },
	{ "Try a few drops on your wrist: they should feel neither hot nor cold.", COMMON },
	{ "Push all the air out of syringe and needle.", COMMON },
	{ "Feel first whether the last fluid is gone, which takes 6 to 8 hours; if it isn't, give none and call your "
	  "vet.",
	  WSU },
	{ "Clean the skin where the needle goes in.", COMMON },
	{ "Under the skin only, where it is loose at neck or flank, as your vet showed you; never into a vein or a "
	  "muscle.",
	  COMMON },
	{ "No more than 20 mL per kg goes into one place.", WSU },
	{ "Watch the swelling and the breathing while you give it and after: too much fluid comes easily at this age.",
	  NEONATAL },
	{ "Stop and call your vet if it breathes fast or hard, goes limp, cries without end, if blood shows, or if the "
	  "swelling turns hard, hot, pale or dark, or is still there after 8 hours.",
	  COMMON },
	{ NULL, NULL },
};

static const struct order_caution by_mouth[] = {
	{ "A cold pup gets nothing by mouth: warm it slowly first.",
	  "Quist-Rybachuk, PetFeeding proceedings, p. 35; " CRITICAL },
	{ "A pup too weak to swallow gets nothing by mouth: call your vet now.",
	  COMMON "; too weak to nurse means badly dry: dogbreedstandards.com, reviving" },
	{ "If nobody has shown you how to do this, don't; above all not with a tube.", COMMON },
	{ "Warm it to body temperature, 35 to 37 C (95 to 99 F), mix it, and try a few drops on your wrist.",
	  COMMON "; the temperature: " NEONATAL },
	{ "Keep it on its belly with the head level, as when it nurses; never on its back.", COMMON },
	{ "Give it slowly, a few drops at a time, and see it swallow before the next.", COMMON },
	{ "Stop when its belly is taut, whatever is left.", SACN_303 },
	{ "Stop and call your vet if milk or fluid comes out of its nose, if it coughs, chokes, turns blue or breathes "
	  "hard.",
	  COMMON },
	{ "Call your vet if it vomits or its belly stays taut.", COMMON },
	{ NULL, NULL },
};

const struct order_caution *order_cautions(enum order_route route)
{
	switch (route) {
	case ORDER_UNDER_SKIN:
		return under_skin;
	case ORDER_BY_MOUTH:
		return by_mouth;
	}
	return under_skin;
}
