// SPDX-License-Identifier: MIT
#pragma once
/*
 * Which one key was meant. A wet hand, or a pup's foot, presses two at once or leans on one; a switch bounces: a key
 * counts when it was pressed alone, let go in time, and nothing else was pressed just after it. Pure.
 * Above: pad.c. Below: nothing. Codes are the kernel's (linux/input-event-codes.h), times of one clock, which one
 * doesn't matter.
 */
#include <stdbool.h>
#include <stdint.h>

/* After it was let go: another key within this spoils both ("12" typed for the twelfth mustn't be a 1). */
#define STROKE_SETTLE_MS 250
/* Held longer, something lies on it. Both are our judgement. */
#define STROKE_LONG_MS 1500
/* Keys that can be held at once; further ones spoil the stroke, and are forgotten. */
#define STROKE_HELD 16

enum stroke_outcome {
	STROKE_NONE,    /* not yet, or nothing */
	STROKE_KEY,     /* *ret_code alone */
	STROKE_SEVERAL, /* more than one: none is meant */
	STROKE_LONG,    /* held too long */
};

struct stroke {
	unsigned held[STROKE_HELD];
	unsigned n_held;
	bool active, spoiled;
	unsigned code; /* the first of it */
	int64_t began_ms, due_ms;
};

void stroke_clear(struct stroke *stroke); /* all keys are up, nothing is under way: a new device, or events were lost */
/* value as in struct input_event: 1 pressed, 0 let go, 2 repeated (ignored). Call stroke_elapse() for its time before.
 */
void stroke_event(struct stroke *stroke, unsigned code, int value, int64_t at_ms);
/* When stroke_elapse() has something to say if no event comes before; INT64_MAX: never. */
int64_t stroke_due_ms(const struct stroke *stroke);
enum stroke_outcome stroke_elapse(struct stroke *stroke, int64_t now_ms, unsigned *ret_code);
