// SPDX-License-Identifier: MIT
#include "daemon/ctl/watch_plan.h"
#include "daemon/ctl/watch_care.h"

#define SUGGESTED 9 /* there are keys for */
#define RECENT 5
#define CONCERNS 4 /* told in full; the worst */
#define LOW_BATTERY 20

/* Text as lines of the screen's width. */
static void wrap(const struct watch_page *page, bool bold, const char *text, struct watch_notice *lines, unsigned *n, unsigned max)
{
	while (*text && *n < max) {
		struct watch_notice *line = &lines[(*n)++];
		text = text_wrap(line->text, sizeof line->text, text, page->screen->width ? page->screen->width : 1,
				 page->screen->utf8);
		line->bold = bold;
	}
}

static void notice(struct watch_page *page, bool bold, const char *text)
{
	wrap(page, bold, text, page->notices, &page->n_notices, PLAN_NOTICES);
}

static void collect_concerns(struct watch_page *page)
{
	const struct watch_board *board = page->board;
	char text[WATCH_TEXT];

	if (board->n_concerns)
		notice(page, true, SHOW_VET);
	for (size_t i = 0; i < board->n_concerns && i < CONCERNS; i++) {
		watch_words_concern(&board->concerns[i], text, sizeof text);
		notice(page, true, text);
	}
	if (board->n_concerns > CONCERNS) {
		(void)snprintf(text, sizeof text, "and %zu more: bismar concerns", board->n_concerns - CONCERNS);
		notice(page, false, text);
	}
}

static void collect_batteries(struct watch_page *page)
{
	char text[WATCH_TEXT];

	for (size_t i = 0; i < page->board->n_scales; i++) {
		const struct watch_scale *scale = &page->board->scales[i];
		if (scale->battery >= 0 && scale->battery <= LOW_BATTERY)
			(void)snprintf(text, sizeof text, "The battery of %s is at %d %%.", scale->name, scale->battery);
		else if (scale->battery_low)
			(void)snprintf(text, sizeof text, "The battery of %s is low.", scale->name);
		else
			continue;
		notice(page, false, text);
	}
}

static unsigned rows_of(const struct watch_page *page, const char *text)
{
	char line[WATCH_TEXT];
	unsigned n = 0;

	for (; *text; n++)
		text = text_wrap(line, sizeof line, text, page->screen->width ? page->screen->width : 1, page->screen->utf8);
	return n;
}

/* The litters in whose round we are. */
static void collect_rounds(struct watch_page *page)
{
	const struct watch_board *board = page->board;

	for (size_t i = 0; i < board->n_animals && page->n_rounds < PLAN_ROUNDS; i++) {
		const char *litter = board->animals[i].litter;
		char *text = page->rounds[page->n_rounds];
		bool told = false;
		for (size_t j = 0; j < i; j++)
			told = told || strcmp(board->animals[j].litter, litter) == 0;
		if (told || !watch_care_round_on(board, litter, page->look->now_ms))
			continue;
		watch_words_round(board, litter, page->look->now_ms, text, WATCH_TEXT);
		page->round_rows += rows_of(page, text);
		page->n_rounds++;
	}
}

void watch_plan_collect(struct watch_page *page)
{
	const struct watch_board *board = page->board;

	wrap(page, board->message_bad, board->message, page->message, &page->n_message, PLAN_MESSAGE);
	notice(page, false, board->connected ? "" : board->trouble);
	collect_concerns(page);
	if (board->connected)
		notice(page, true, board->radio);
	for (size_t i = 0; i < board->n_notes; i++)
		if (page->look->now_ms - board->notes[i].at_ms < WATCH_NOTE_MS)
			notice(page, true, board->notes[i].text);
	collect_batteries(page);
	notice(page, false, board->database);
	collect_rounds(page);
	if (page->ask)
		(void)show_mass(page->mass, page->ask->net_mg, page->look->unit);
	else if (watch_board_live(board, page->look->now_ms))
		(void)show_mass(page->mass, board->live.net_mg, page->look->unit);
}

static void take(unsigned *left, unsigned *to, size_t want)
{
	unsigned n = want < *left ? (unsigned)want : *left;

	*to += n;
	*left -= n;
}

static void enlarge(const struct watch_page *page, struct watch_plan *plan, unsigned *left, enum watch_digits size)
{
	unsigned more = watch_digits_rows(size) - plan->digits;

	if (!*page->mass || more > *left || watch_digits_width(page->mass, size) > page->screen->width)
		return;
	if (size == WATCH_DIGITS_HALF && !page->screen->utf8)
		return;
	plan->size = size;
	plan->digits += more;
	*left -= more;
}

struct watch_plan watch_plan_rows(const struct watch_page *page)
{
	struct watch_plan plan = { .size = WATCH_DIGITS_PLAIN };
	unsigned left = page->screen->height ? page->screen->height - 1 : 0; /* the header has one */
	size_t n = page->ask ? page->ask->n_candidates : 0, keyed = n < SUGGESTED ? n : SUGGESTED;
	size_t first = keyed < 3 ? keyed : 3, recent = page->board->n_recent;

	/* what is needed to answer; then what is needed to answer well; then what is pleasant */
	take(&left, &plan.digits, *page->mass ? 1 : 0);
	take(&left, &plan.input, 1);
	take(&left, &plan.keys, 1);
	take(&left, &plan.candidates, first);
	take(&left, &plan.message, page->n_message);
	take(&left, &plan.detail, *page->mass ? 1 : 0);
	take(&left, &plan.notices, page->n_notices < 2 ? page->n_notices : 2);
	take(&left, &plan.recent, recent ? 1 : 0);
	take(&left, &plan.rounds, page->n_rounds ? 1 : 0);
	enlarge(page, &plan, &left, WATCH_DIGITS_HALF);
	take(&left, &plan.candidates, keyed - first);
	take(&left, &plan.more, n > keyed ? 1 : 0);
	enlarge(page, &plan, &left, WATCH_DIGITS_FULL);
	take(&left, &plan.gaps, 3);
	take(&left, &plan.notices, page->n_notices - plan.notices);
	take(&left, &plan.rounds, page->round_rows - plan.rounds);
	take(&left, &plan.recent, (recent < RECENT ? recent : RECENT) - plan.recent);
	take(&left, &plan.message, plan.message ? 0 : 1); /* so that the rest doesn't jump when there is one */
	take(&left, &plan.gaps, 2);
	return plan;
}
