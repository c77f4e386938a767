// SPDX-License-Identifier: MIT
#include "contrib/keypad/act.h"
#include <linux/input-event-codes.h>
#include <stdio.h>

static const struct row {
	unsigned code;
	enum act_kind kind;
	size_t digit; /* of ACT_ANSWER; 0: Enter */
	const char *word;
} rows[] = {
	{ KEY_KP1, ACT_ANSWER, 1, "1" },         { KEY_KP2, ACT_ANSWER, 2, "2" },
	{ KEY_KP3, ACT_ANSWER, 3, "3" },         { KEY_KP4, ACT_ANSWER, 4, "4" },
	{ KEY_KP5, ACT_ANSWER, 5, "5" },         { KEY_KP6, ACT_ANSWER, 6, "6" },
	{ KEY_KP7, ACT_ANSWER, 7, "7" },         { KEY_KP8, ACT_ANSWER, 8, "8" },
	{ KEY_KP9, ACT_ANSWER, 9, "9" },         { KEY_1, ACT_ANSWER, 1, "1" },
	{ KEY_2, ACT_ANSWER, 2, "2" },           { KEY_3, ACT_ANSWER, 3, "3" },
	{ KEY_4, ACT_ANSWER, 4, "4" },           { KEY_5, ACT_ANSWER, 5, "5" },
	{ KEY_6, ACT_ANSWER, 6, "6" },           { KEY_7, ACT_ANSWER, 7, "7" },
	{ KEY_8, ACT_ANSWER, 8, "8" },           { KEY_9, ACT_ANSWER, 9, "9" },
	{ KEY_KPENTER, ACT_ANSWER, 0, "Enter" }, { KEY_ENTER, ACT_ANSWER, 0, "Enter" },
	{ KEY_KPMINUS, ACT_ASIDE, 0, "-" },      { KEY_MINUS, ACT_ASIDE, 0, "-" },
	{ KEY_KPPLUS, ACT_NEW, 0, "+" },         { KEY_BACKSPACE, ACT_BACK, 0, "Backspace" },
	{ KEY_KPSLASH, ACT_BACK, 0, "/" },       { KEY_SLASH, ACT_BACK, 0, "/" },
	{ KEY_KP0, ACT_AGAIN, 0, "0" },          { KEY_0, ACT_AGAIN, 0, "0" },
};

/* The two of a page turner, as such devices and remote controls for slides type them. */
static const struct {
	unsigned code;
	bool forward;
	const char *word;
} turns[] = {
	{ KEY_PAGEDOWN, true, "page down" },
	{ KEY_RIGHT, true, "right" },
	{ KEY_DOWN, true, "down" },
	{ KEY_SPACE, true, "space" },
	{ KEY_PAGEUP, false, "page up" },
	{ KEY_LEFT, false, "left" },
	{ KEY_UP, false, "up" },
	{ KEY_ENTER, false, "Enter" },
};

#define N_OF(array) (sizeof(array) / sizeof *(array))

bool act_is_lock(unsigned code)
{
	return code == KEY_NUMLOCK || code == KEY_CAPSLOCK || code == KEY_SCROLLLOCK;
}

const char *act_key(unsigned code, char *buffer, size_t size)
{
	const char *word = NULL;

	for (size_t i = 0; i < N_OF(rows) && !word; i++)
		if (rows[i].code == code)
			word = rows[i].word;
	for (size_t i = 0; i < N_OF(turns) && !word; i++)
		if (turns[i].code == code)
			word = turns[i].word;
	if (word)
		(void)snprintf(buffer, size, "%s", word);
	else
		(void)snprintf(buffer, size, "key %u", code);
	return buffer;
}

static struct act no(const char *why)
{
	return (struct act){ .why = why };
}

/* Why nothing at all can be answered now; NULL: it can. */
static const char *closed(const struct act_moment *moment)
{
	if (moment->busy)
		return "The answer before is still under way.";
	if (!moment->question)
		return "No question is open.";
	if (moment->shown_ms < ACT_HEARD_MS)
		return "Too soon: that is another question now.";
	return NULL;
}

static struct act answer(const struct act_moment *moment, size_t n)
{
	if (n >= moment->question->n_suggestions)
		return no("There is no suggestion of that number.");
	return (struct act){ .kind = ACT_ANSWER, .n = n };
}

static struct act enter(const struct act_moment *moment)
{
	const struct question *question = moment->question;

	if (question->n_suggestions == 0)
		return no("Nothing is suggested.");
	if (moment->shown_ms < ACT_NAMED_MS)
		return no("Hear the name first.");
	if (moment->age_ms > QUESTION_FRESH_MS)
		return no("That was weighed a while ago: press a number.");
	if (question->restless)
		return no("It didn't hold still: press a number.");
	if (question->whelping)
		return no("It may be a new pup: press a number, or plus.");
	if (!question_is_clear(question))
		return no("It isn't clear which: press a number.");
	return answer(moment, 0);
}

static struct act new_pup(const struct act_moment *moment)
{
	if (!moment->question->whelping)
		return no("No whelping is open.");
	return (struct act){ .kind = ACT_NEW };
}

static struct act back(const struct act_moment *moment)
{
	if (moment->busy)
		return no(closed(moment));
	if (!moment->can_go_back)
		return no("There is nothing to take back here.");
	return (struct act){ .kind = ACT_BACK };
}

struct act act_pad(const struct act_moment *moment, unsigned code)
{
	const struct row *row = rows;
	const char *why = closed(moment);

	while (row < rows + N_OF(rows) && row->code != code)
		row++;
	if (row == rows + N_OF(rows))
		return no(NULL);
	if (row->kind == ACT_BACK)
		return back(moment);
	if (row->kind == ACT_AGAIN && !moment->question)
		return no("No question is open.");
	if (row->kind == ACT_AGAIN)
		return (struct act){ .kind = ACT_AGAIN };
	if (why)
		return no(why);
	if (row->kind == ACT_ASIDE)
		return (struct act){ .kind = ACT_ASIDE };
	if (row->kind == ACT_NEW)
		return new_pup(moment);
	return row->digit ? answer(moment, row->digit - 1) : enter(moment);
}

/* ---- the page turner: suggestions, new pup, aside, back, and from the start ---- */

static bool can_be(const struct act_moment *moment, struct act_mark mark)
{
	const struct question *question = moment->question;

	switch (mark.place) {
	case ACT_UNMARKED:
		return false;
	case ACT_ON_SUGGESTION:
		return question && mark.n < question->n_suggestions; /* a pup that fails is an unlikely one */
	case ACT_ON_NEW:
		return question && question->whelping;
	case ACT_ON_ASIDE:
		return question != NULL;
	case ACT_ON_BACK:
		return moment->can_go_back;
	}
	return false;
}

static struct act_mark after(struct act_mark mark)
{
	if (mark.place == ACT_ON_BACK || mark.place == ACT_UNMARKED)
		return (struct act_mark){ ACT_ON_SUGGESTION, 0 };
	return (struct act_mark){ mark.place + 1, 0 };
}

static struct act forward(const struct act_moment *moment)
{
	struct act_mark mark = moment->mark;

	if (moment->busy)
		return no(closed(moment));
	if (!moment->question && !moment->can_go_back)
		return no("No question is open.");
	mark.n++;
	if (mark.place != ACT_ON_SUGGESTION || !can_be(moment, mark))
		do
			mark = after(mark);
		while (!can_be(moment, mark)); /* one of them can: aside, or back */
	return (struct act){ .kind = ACT_MARK, .mark = mark };
}

static struct act take(const struct act_moment *moment)
{
	const char *why = moment->mark.place == ACT_ON_BACK ? NULL : closed(moment);

	if (why)
		return no(why);
	if (!can_be(moment, moment->mark))
		return no("Nothing is marked: page forward first.");
	if (moment->marked_ms < ACT_MARKED_MS)
		return no("Hear first what is marked.");
	switch (moment->mark.place) {
	case ACT_UNMARKED:
		break;
	case ACT_ON_SUGGESTION:
		return answer(moment, moment->mark.n);
	case ACT_ON_NEW:
		return new_pup(moment);
	case ACT_ON_ASIDE:
		return (struct act){ .kind = ACT_ASIDE };
	case ACT_ON_BACK:
		return back(moment);
	}
	return no(NULL);
}

struct act act_turner(const struct act_moment *moment, unsigned code)
{
	for (size_t i = 0; i < N_OF(turns); i++)
		if (turns[i].code == code)
			return turns[i].forward ? forward(moment) : take(moment);
	return no(NULL);
}

/* ---- a tag ---- */

/* It says which pup is there, not which weighing: with several open it could be another's. */
struct act act_tag(const struct act_moment *moment)
{
	if (moment->busy)
		return no("The answer before is still under way: read the tag again.");
	if (!moment->question)
		return no("No question is open: weigh first, then read the tag.");
	if (moment->n_open > 1)
		return no("Several questions are open: answer or set aside the older ones first.");
	if (moment->age_ms > QUESTION_FRESH_MS)
		return no("The open question is of a while ago: answer or set it aside first.");
	return (struct act){ .kind = ACT_CODE };
}
