// SPDX-License-Identifier: MIT
#include "contrib/speak/turn.h"
#include "daemon/ctl/text.h"
#include <string.h>

static void take_out(struct turn *turn, size_t i)
{
	memmove(&turn->lines[i], &turn->lines[i + 1], (turn->n - i - 1) * sizeof *turn->lines);
	turn->n--;
}

void turn_drop(struct turn *turn, enum turn_kind kind)
{
	for (size_t i = turn->n; i-- > 0;)
		if (turn->lines[i].kind == kind)
			take_out(turn, i);
}

static bool is_waiting(const struct turn *turn, enum turn_kind kind, const char *text)
{
	for (size_t i = 0; i < turn->n; i++)
		if (turn->lines[i].kind == kind && strcmp(turn->lines[i].text, text) == 0)
			return true;
	return false;
}

/* The oldest of the least urgent kind; the queue isn't empty. */
static size_t least(const struct turn *turn)
{
	size_t found = 0;

	for (size_t i = 1; i < turn->n; i++)
		if (turn->lines[i].kind > turn->lines[found].kind)
			found = i;
	return found;
}

bool turn_forget(struct turn *turn, const char *id)
{
	bool waited = false;

	for (size_t i = turn->n; i-- > 0;) {
		if (*id && strcmp(turn->lines[i].id, id) == 0) {
			take_out(turn, i);
			waited = true;
		}
	}
	return waited;
}

bool turn_add(struct turn *turn, enum turn_kind kind, const char *id, const char *text)
{
	bool lost = false;

	if (kind == TURN_QUESTION || kind == TURN_RECORDED)
		turn_drop(turn, kind);
	if (is_waiting(turn, kind, text))
		return false;
	if (turn->n == TURN_WAITING) {
		size_t i = least(turn);
		lost = true;
		if (turn->lines[i].kind < kind)
			return lost;
		take_out(turn, i);
	}
	turn->lines[turn->n].kind = kind;
	text_copy(turn->lines[turn->n].id, sizeof turn->lines[turn->n].id, id);
	text_copy(turn->lines[turn->n].text, sizeof turn->lines[turn->n].text, text);
	turn->n++;
	return lost;
}

bool turn_next(struct turn *turn, enum turn_kind hold, struct turn_line *ret)
{
	enum turn_kind kind = hold;
	size_t best = 0;

	for (size_t i = 0; i < turn->n; i++) {
		if (turn->lines[i].kind < kind) {
			kind = turn->lines[i].kind;
			best = i;
		}
	}
	if (kind == hold)
		return false;
	*ret = turn->lines[best];
	take_out(turn, best);
	return true;
}
