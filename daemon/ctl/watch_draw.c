// SPDX-License-Identifier: MIT
#include "daemon/ctl/watch_draw.h"
#include "daemon/ctl/ctl.h"
#include "daemon/ctl/show.h"
#include "daemon/ctl/watch_digits.h"
#include "daemon/ctl/when.h"

#define SUGGESTED 9 /* there are keys for */
#define RECENT 5
#define NOTICES 12 /* lines of them */
#define CONCERNS 4 /* told in full; the worst */
#define MESSAGE 3
#define LOW_BATTERY 20

struct notice { /* one line */
	char text[WATCH_TEXT];
	bool bold;
};

/* How the rows are shared out. */
struct plan {
	unsigned digits, detail, candidates, more, input, message, notices, rounds, recent, keys;
	unsigned gaps; /* empty rows, for the eye */
	enum watch_digits size;
};

struct page {
	const struct watch_board *board;
	const struct watch_look *look;
	const struct watch_ask *ask; /* NULL: none is open */
	struct screen *screen;
	unsigned row; /* the next one */
	struct notice notices[NOTICES];
	unsigned n_notices;
	char rounds[2][WATCH_TEXT];
	unsigned n_rounds;
	struct notice message[MESSAGE];
	unsigned n_message;
	char mass[SHOW_SIZE]; /* the one in large; "" for none */
};

static bool next_row(struct page *page, bool bold, struct text_line *line)
{
	return screen_row(page->screen, page->row++, bold, line);
}

static const char *plus_minus(bool utf8)
{
	return utf8 ? "\xc2\xb1" : "+-"; /* U+00B1 */
}

/* ---- what there is to tell ---- */

void watch_draw_detail(const struct watch_ask *ask, const struct watch_look *look, bool utf8, char *buffer, size_t size)
{
	char when[WHEN_SIZE], gross[SHOW_SIZE], tare[SHOW_SIZE], u[SHOW_SIZE];
	struct text_line line;

	text_begin(&line, buffer, size, SCREEN_COLUMNS, true);
	when_show_near(when, ask->at_ms, look->now_ms);
	text_put(&line, when);
	if (*ask->scale)
		text_putf(&line, " on %s", ask->scale);
	if (ask->tare_mg)
		text_putf(&line, "   %s less %s %s", show_mass(gross, ask->gross_mg, look->unit),
			  *ask->container ? ask->container : "container", show_mass(tare, ask->tare_mg, look->unit));
	if (ask->u_mg)
		text_putf(&line, "   %s %s", plus_minus(utf8), show_mass(u, ask->u_mg, look->unit));
	if (ask->restless)
		text_put(&line, "   restless: less sure");
}

/* "vet: Fern has lost 31 g ..."; a text that names nobody gets the name before it. */
void watch_draw_concern(const struct watch_concern *concern, char *buffer, size_t size)
{
	const char *who = *concern->name ? concern->name : concern->litter;
	bool named = !*who || strstr(concern->text, who);

	(void)snprintf(buffer, size, "%s%s%s%s%s", concern->level, *concern->level ? ": " : "", named ? "" : who,
		       named ? "" : ": ", concern->text);
}

static void round_text(const struct watch_board *board, const char *litter, int64_t now_ms, char *buffer, size_t size)
{
	struct text_line line;
	unsigned left = 0;

	text_begin(&line, buffer, size, SCREEN_COLUMNS, true);
	text_putf(&line, "Still to weigh in %s: ", litter);
	for (size_t i = 0; i < board->n_animals; i++) {
		const struct watch_animal *animal = &board->animals[i];
		if (strcmp(animal->litter, litter) != 0 || watch_board_weighed(board, animal, now_ms))
			continue;
		text_putf(&line, "%s%s", left++ ? ", " : "", animal->name);
	}
	if (left == 0)
		(void)snprintf(buffer, size, "All of %s are weighed.", litter);
}

/* A round of this litter is on: one was begun, or some were weighed lately. */
static bool round_on(const struct watch_board *board, const char *litter, int64_t now_ms)
{
	for (size_t i = 0; i < board->n_rounds; i++)
		if (strcmp(board->rounds[i].litter, litter) == 0)
			return true;
	for (size_t i = 0; i < board->n_animals; i++)
		if (strcmp(board->animals[i].litter, litter) == 0 && watch_board_weighed(board, &board->animals[i], now_ms))
			return true;
	return false;
}

void watch_draw_rounds(const struct watch_board *board, int64_t now_ms, size_t max,
		       void (*fn)(void *userdata, const char *text), void *userdata)
{
	char text[WATCH_TEXT];

	for (size_t i = 0; i < board->n_animals && max > 0; i++) {
		const char *litter = board->animals[i].litter;
		bool told = false;
		for (size_t j = 0; j < i; j++)
			told = told || strcmp(board->animals[j].litter, litter) == 0;
		if (told || !round_on(board, litter, now_ms))
			continue;
		round_text(board, litter, now_ms, text, sizeof text);
		fn(userdata, text);
		max--;
	}
}

static void keep_round(void *userdata, const char *text)
{
	struct page *page = userdata;

	(void)snprintf(page->rounds[page->n_rounds++], WATCH_TEXT, "%s", text);
}

/* Text as lines of the screen's width. */
static void wrap(const struct page *page, bool bold, const char *text, struct notice *lines, unsigned *n, unsigned max)
{
	while (*text && *n < max) {
		struct notice *line = &lines[(*n)++];
		text = text_wrap(line->text, sizeof line->text, text, page->screen->width ? page->screen->width : 1,
				 page->screen->utf8);
		line->bold = bold;
	}
}

static void notice(struct page *page, bool bold, const char *text)
{
	wrap(page, bold, text, page->notices, &page->n_notices, NOTICES);
}

/* Most urgent first: the last ones give way on a small screen. */
static void collect(struct page *page)
{
	const struct watch_board *board = page->board;
	char text[WATCH_TEXT];

	wrap(page, board->message_bad, board->message, page->message, &page->n_message, MESSAGE);
	notice(page, false, board->connected ? "" : board->trouble);
	if (board->n_concerns)
		notice(page, true, "A pup that is limp, cold or won't suck: stop reading, call the vet now.");
	for (size_t i = 0; i < board->n_concerns && i < CONCERNS; i++) {
		watch_draw_concern(&board->concerns[i], text, sizeof text);
		notice(page, true, text);
	}
	if (board->n_concerns > CONCERNS) {
		(void)snprintf(text, sizeof text, "and %zu more: bismar concerns", board->n_concerns - CONCERNS);
		notice(page, false, text);
	}
	if (board->connected)
		notice(page, true, board->radio);
	for (size_t i = 0; i < board->n_notes; i++)
		if (page->look->now_ms - board->notes[i].at_ms < WATCH_NOTE_MS)
			notice(page, true, board->notes[i].text);
	for (size_t i = 0; i < board->n_scales; i++) {
		const struct watch_scale *scale = &board->scales[i];
		if (scale->battery >= 0 && scale->battery <= LOW_BATTERY)
			(void)snprintf(text, sizeof text, "The battery of %s is at %d %%.", scale->name, scale->battery);
		else if (scale->battery_low)
			(void)snprintf(text, sizeof text, "The battery of %s is low.", scale->name);
		else
			continue;
		notice(page, false, text);
	}
	notice(page, false, board->database);
	watch_draw_rounds(board, page->look->now_ms, 2, keep_round, page);
	if (page->ask)
		(void)show_mass(page->mass, page->ask->net_mg, page->look->unit);
	else if (watch_board_live(board, page->look->now_ms))
		(void)show_mass(page->mass, board->live.net_mg, page->look->unit);
}

/* ---- sharing out the rows ---- */

static void take(unsigned *left, unsigned *to, size_t want)
{
	unsigned n = want < *left ? (unsigned)want : *left;

	*to += n;
	*left -= n;
}

static void enlarge(const struct page *page, struct plan *plan, unsigned *left, enum watch_digits size)
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

static struct plan share_out(const struct page *page)
{
	struct plan plan = { .size = WATCH_DIGITS_PLAIN };
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
	take(&left, &plan.rounds, page->n_rounds - plan.rounds);
	take(&left, &plan.recent, (recent < RECENT ? recent : RECENT) - plan.recent);
	take(&left, &plan.message, plan.message ? 0 : 1); /* so that the rest doesn't jump when there is one */
	take(&left, &plan.gaps, 2);
	return plan;
}

static void gap(struct page *page, struct plan *plan)
{
	if (plan->gaps == 0)
		return;
	plan->gaps--;
	page->row++;
}

/* What has been recorded stands at the lower edge, so that it keeps its place whatever is asked above. */
static void to_lower_part(struct page *page, const struct plan *plan)
{
	unsigned rows = plan->keys + plan->recent + plan->rounds + plan->notices + plan->gaps;
	unsigned row = page->screen->height > rows ? page->screen->height - rows : 0;

	if (row > page->row)
		page->row = row;
}

/* ---- the parts, from top to bottom ---- */

static void header(struct page *page)
{
	const struct watch_board *board = page->board;
	struct text_line line, right;
	char buffer[WATCH_TEXT], when[WHEN_SIZE];

	if (!next_row(page, false, &line))
		return;
	when_show_near(when, page->look->now_ms, page->look->now_ms);
	text_begin(&right, buffer, sizeof buffer, page->screen->width > 12 ? page->screen->width - 10 : 2, true);
	if (!board->connected)
		text_put(&right, "no daemon   ");
	else if (board->n_scales == 0)
		text_put(&right, "no scale adopted   ");
	for (size_t i = 0; i < board->n_scales; i++)
		text_putf(&right, "%s %s   ", board->scales[i].name, show_link(board->scales[i].state));
	text_put(&right, when);
	text_put(&line, "bismar");
	if (text_width(buffer, line.utf8) + 8 < line.width)
		text_tab(&line, line.width - text_width(buffer, line.utf8));
	else
		text_tab(&line, 8);
	text_put(&line, buffer);
}

static void digits(struct page *page, const struct plan *plan)
{
	struct text_line line;

	for (unsigned i = 0; i < plan->digits; i++)
		if (next_row(page, true, &line))
			watch_digits_put(&line, page->mass, plan->size, i);
}

static void detail(struct page *page)
{
	char buffer[WATCH_TEXT];
	struct text_line line;

	if (!next_row(page, false, &line))
		return;
	if (page->ask) {
		watch_draw_detail(page->ask, page->look, line.utf8, buffer, sizeof buffer);
		text_put(&line, buffer);
		if (page->board->n_asks > 1)
			text_putf(&line, "   %zu more wait%s", page->board->n_asks - 1,
				  page->board->n_asks == 2 ? "s" : "");
	} else {
		text_putf(&line, "now on %s, %s", page->board->live.scale,
			  page->board->live.steady ? "steady" : "moving");
	}
}

/* How wide names and collars may be, so that all rows have their columns in one place. */
static void columns(const struct page *page, unsigned *ret_name, unsigned *ret_collar)
{
	unsigned name = 4, collar = 0, width = page->screen->width;
	unsigned room = width > 50 ? width - 39 : width > 12 ? width - 10 : 2; /* the rest is numbers */

	for (size_t i = 0; i < page->ask->n_candidates; i++) {
		unsigned n = text_width(page->ask->candidates[i].name, page->screen->utf8);
		unsigned c = text_width(page->ask->candidates[i].collar, page->screen->utf8);
		name = n > name ? n : name;
		collar = c > collar ? c : collar;
	}
	if (name + 2 + collar > room) {
		collar = collar < room / 3 ? collar : room / 3;
		name = name < room - collar - 2 ? name : room > collar + 2 ? room - collar - 2 : 1;
	}
	*ret_name = name;
	*ret_collar = collar;
}

static void candidate(struct page *page, size_t i, unsigned name, unsigned collar)
{
	const struct watch_candidate *c = &page->ask->candidates[i];
	char mass[SHOW_SIZE], u[SHOW_SIZE];
	struct text_line line;
	bool wide = page->screen->width > 50;

	if (!next_row(page, false, &line))
		return;
	if (watch_board_digits(page->board))
		text_putf(&line, " %zu  ", i + 1);
	else
		text_put(&line, "    ");
	text_cell(&line, c->name, name);
	text_tab(&line, line.column + 2);
	text_cell(&line, c->collar, collar);
	if (wide) {
		unsigned column = line.column + 2;
		text_tab(&line, column);
		if (c->expects)
			text_putf(&line, "expected %s %s %s", show_about(mass, c->expected_mg, page->look->unit),
				  plus_minus(line.utf8), show_about(u, c->u_expected_mg, page->look->unit));
		text_tab(&line, column + 27);
	}
	if (c->probability >= 0)
		text_putf(&line, "%4.0f %%", c->probability * 100);
}

static void candidates(struct page *page, const struct plan *plan)
{
	struct text_line line;
	unsigned name = 0, collar = 0;

	if (!page->ask)
		return;
	columns(page, &name, &collar);
	for (size_t i = 0; i < plan->candidates; i++)
		candidate(page, i, name, collar);
	if (plan->more && next_row(page, false, &line))
		text_putf(&line, "    and %zu more: type the name", page->ask->n_candidates - plan->candidates);
}

static void input(struct page *page)
{
	const struct watch_board *board = page->board;
	const struct watch_animal *guess = watch_board_guess(board);
	struct text_line line;
	unsigned row = page->row;

	if (!next_row(page, !board->connected, &line))
		return;
	if (!board->connected)
		text_put(&line, *board->trouble ? "No connection; trying again every 2 s." : "Connecting.");
	else if (page->ask)
		text_put(&line, board->busy ? "..." : "Who is it? ");
	else
		text_put(&line, *page->mass ? "" : "Nothing to answer. Put a pup on the scale.");
	page->screen->cursor_row = row;
	if (!board->connected || board->busy)
		return;
	if (board->n_word && !page->ask)
		text_put(&line, "  ");
	text_put(&line, board->word);
	page->screen->cursor_column = line.column < line.width ? line.column : line.width ? line.width - 1 : 0;
	if (guess && strcmp(guess->name, board->word) != 0)
		text_putf(&line, "   Tab: %s%s%s%s", guess->name, *guess->collar ? " (" : "", guess->collar,
			  *guess->collar ? ")" : "");
}

static void message(struct page *page, const struct plan *plan)
{
	struct text_line line;

	for (unsigned i = 0; i < plan->message; i++)
		if (next_row(page, i < page->n_message && page->message[i].bold, &line) && i < page->n_message)
			text_put(&line, page->message[i].text);
}

static void notices(struct page *page, const struct plan *plan)
{
	struct text_line line;

	for (unsigned i = 0; i < plan->notices; i++)
		if (next_row(page, page->notices[i].bold, &line))
			text_put(&line, page->notices[i].text);
}

static void rounds(struct page *page, const struct plan *plan)
{
	struct text_line line;

	for (unsigned i = 0; i < plan->rounds; i++)
		if (next_row(page, false, &line))
			text_put(&line, page->rounds[i]);
}

static void recent(struct page *page, const struct plan *plan)
{
	char when[WHEN_SIZE], mass[SHOW_SIZE];
	unsigned times = 0, names = 0, width;
	struct text_line line;

	for (unsigned i = 0; i < plan->recent; i++) {
		const struct watch_reading *reading = &page->board->recent[i];
		when_show_near(when, reading->at_ms, page->look->now_ms);
		times = strlen(when) > times ? (unsigned)strlen(when) : times;
		width = text_width(reading->name, page->screen->utf8);
		names = width > names ? width : names;
	}
	if (names > page->screen->width / 3)
		names = page->screen->width / 3;
	for (unsigned i = 0; i < plan->recent && next_row(page, false, &line); i++) {
		const struct watch_reading *reading = &page->board->recent[i];
		text_put(&line, page->screen->width < 50 ? "" : i == 0 ? "Recorded  " : "          ");
		when_show_near(when, reading->at_ms, page->look->now_ms);
		text_cell(&line, when, times + 2);
		text_cell(&line, reading->name, names);
		text_putf(&line, "  %10s", show_mass(mass, reading->net_mg, page->look->unit));
		if (*reading->by)
			text_putf(&line, "   by %s", reading->by);
	}
}

static void keys(struct page *page)
{
	const struct watch_board *board = page->board;
	struct text_line line;
	bool wide = page->screen->width >= 76;
	char first[64];

	page->row = page->screen->height - 1;
	if (!next_row(page, false, &line))
		return;
	if (!board->connected) {
		text_put(&line, "Ctrl-C leaves");
		return;
	}
	if (page->ask && page->ask->n_candidates)
		(void)text_fit(first, sizeof first, page->ask->candidates[0].name, wide ? 12 : 8, line.utf8);
	if (page->ask && (page->ask->n_candidates || board->n_word))
		text_putf(&line, "Enter: %s   ", board->n_word ? "send" : first);
	if (board->n_word) {
		text_put(&line, "Esc: clear   ");
	} else {
		if (page->ask && watch_board_digits(board) && page->ask->n_candidates)
			text_put(&line, wide ? "1-9: pick   " : "1-9   ");
		if (page->ask)
			text_put(&line, wide ? "or a name   -: aside   " : "-: aside   ");
		text_put(&line, "<: undo   ");
	}
	text_put(&line, wide ? "Ctrl-C: leave" : "Ctrl-C");
}

void watch_draw(const struct watch_board *board, const struct watch_look *look, struct screen *screen)
{
	struct page page = { .board = board, .look = look, .ask = watch_board_shown(board), .screen = screen };
	struct plan plan;

	collect(&page);
	plan = share_out(&page);
	header(&page);
	gap(&page, &plan);
	digits(&page, &plan);
	if (plan.digits > 1)
		gap(&page, &plan);
	if (plan.detail)
		detail(&page);
	gap(&page, &plan);
	candidates(&page, &plan);
	gap(&page, &plan);
	if (plan.input)
		input(&page);
	message(&page, &plan);
	to_lower_part(&page, &plan);
	notices(&page, &plan);
	rounds(&page, &plan);
	recent(&page, &plan);
	gap(&page, &plan);
	if (plan.keys)
		keys(&page);
}
