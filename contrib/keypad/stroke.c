// SPDX-License-Identifier: MIT
#include "contrib/keypad/stroke.h"

void stroke_clear(struct stroke *stroke)
{
	*stroke = (struct stroke){ 0 };
}

static unsigned index_of(const struct stroke *stroke, unsigned code)
{
	unsigned i = 0;

	while (i < stroke->n_held && stroke->held[i] != code)
		i++;
	return i;
}

static void press(struct stroke *stroke, unsigned code, int64_t at_ms)
{
	if (!stroke->active)
		*stroke = (struct stroke){ .active = true, .code = code, .began_ms = at_ms };
	else if (code != stroke->code)
		stroke->spoiled = true;
	if (index_of(stroke, code) < stroke->n_held)
		return; /* it was pressed already: its release was lost */
	if (stroke->n_held < STROKE_HELD)
		stroke->held[stroke->n_held++] = code;
}

static void release(struct stroke *stroke, unsigned code, int64_t at_ms)
{
	unsigned i = index_of(stroke, code);

	if (i == stroke->n_held)
		return; /* it was pressed before we listened */
	stroke->held[i] = stroke->held[--stroke->n_held];
	stroke->due_ms = at_ms + STROKE_SETTLE_MS;
}

void stroke_event(struct stroke *stroke, unsigned code, int value, int64_t at_ms)
{
	if (value == 1)
		press(stroke, code, at_ms);
	else if (value == 0)
		release(stroke, code, at_ms);
}

int64_t stroke_due_ms(const struct stroke *stroke)
{
	return stroke->active && stroke->n_held == 0 ? stroke->due_ms : INT64_MAX;
}

enum stroke_outcome stroke_elapse(struct stroke *stroke, int64_t now_ms, unsigned *ret_code)
{
	bool late;

	if (now_ms < stroke_due_ms(stroke))
		return STROKE_NONE;
	stroke->active = false;
	if (stroke->spoiled)
		return STROKE_SEVERAL;
	late = stroke->due_ms - STROKE_SETTLE_MS - stroke->began_ms > STROKE_LONG_MS;
	if (late)
		return STROKE_LONG;
	*ret_code = stroke->code;
	return STROKE_KEY;
}
