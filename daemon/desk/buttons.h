// SPDX-License-Identifier: MIT
#pragma once
/*
 * Buttons on devices that broadcast, for hands that are full: a press takes the first suggestion of the newest
 * question, a double press (or a press on a second button) sets it aside.
 * Above: broadcast.c. Below: answers.c.
 *
 * A button on a scale answers for that scale alone; one on a device that never weighs, for any.
 */
#include "daemon/desk/roster.h"
#include "protocols/bthome.h"

struct desk;

/* A question older than this isn't what a press means. Our judgement. */
#define BUTTONS_ASK_MS (10 * 60 * 1000)

/* A press without a packet's number that comes this soon after another is the same one, sent again. Our judgement. */
#define BUTTONS_AGAIN_MS 2000

enum buttons_meaning {
	BUTTONS_NOTHING,
	BUTTONS_ACCEPT,
	BUTTONS_ASIDE,
};

/* What the buttons of one broadcast say; pure. */
enum buttons_meaning buttons_read(const struct bthome *broadcast);
/* The question that is meant, or NULL: none is open, or none is new enough. */
const struct ask *buttons_ask(struct desk *desk, const struct roster_scale *scale);
/* Answers it so. */
void buttons_answer(struct desk *desk, const struct roster_scale *scale, enum buttons_meaning meaning,
		    const struct ask *ask);
