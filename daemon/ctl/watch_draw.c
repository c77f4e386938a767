// SPDX-License-Identifier: MIT
#include "daemon/ctl/watch_draw.h"
#include "daemon/ctl/watch_asks.h"
#include "daemon/ctl/watch_input.h"
#include "daemon/ctl/watch_plan.h"
#include "daemon/ctl/when.h"

static bool next_row(struct watch_page *page, bool bold, struct text_line *line)
{
	return screen_row(page->screen, page->row++, bold, line);
}

static void gap(struct watch_page *page, struct watch_plan *plan)
{
	if (plan->gaps == 0)
		return;
	plan->gaps--;
	page->row++;
}

/* What has been recorded stands at the lower edge, so that it keeps its place whatever is asked above. */
static void to_lower_part(struct watch_page *page, const struct watch_plan *plan)
{
	unsigned rows = plan->keys + plan->recent + plan->rounds + plan->notices + plan->gaps;
	unsigned row = page->screen->height > rows ? page->screen->height - rows : 0;

	if (row > page->row)
		page->row = row;
}

static void header(struct watch_page *page)
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

static void digits(struct watch_page *page, const struct watch_plan *plan)
{
	struct text_line line;

	for (unsigned i = 0; i < plan->digits; i++)
		if (next_row(page, true, &line))
			watch_digits_put(&line, page->mass, plan->size, i);
}

static void detail(struct watch_page *page)
{
	char buffer[WATCH_TEXT];
	struct text_line line;

	if (!next_row(page, false, &line))
		return;
	if (page->ask) {
		watch_words_detail(page->ask, page->look, line.utf8, buffer, sizeof buffer);
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
static void columns(const struct watch_page *page, unsigned *ret_name, unsigned *ret_collar)
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

static void candidate(struct watch_page *page, size_t i, unsigned name, unsigned collar)
{
	const struct watch_candidate *c = &page->ask->candidates[i];
	char mass[SHOW_SIZE], u[SHOW_SIZE];
	struct text_line line;
	bool wide = page->screen->width > 50;

	if (!next_row(page, false, &line))
		return;
	if (watch_input_digits(page->board))
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
				  show_plus_minus(line.utf8), show_about(u, c->u_expected_mg, page->look->unit));
		text_tab(&line, column + 27);
	}
	if (c->probability >= 0)
		text_putf(&line, "%4.0f %%", c->probability * 100);
}

static void candidates(struct watch_page *page, const struct watch_plan *plan)
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

static void input(struct watch_page *page)
{
	const struct watch_board *board = page->board;
	const struct watch_animal *guess = watch_input_guess(board);
	struct text_line line;
	unsigned row = page->row;

	if (!next_row(page, !board->connected, &line))
		return;
	if (!board->connected)
		text_put(&line, *board->trouble ? "No connection; trying again every 2 s." : "Connecting.");
	else if (page->ask)
		text_put(&line, board->busy ? "..." : *page->ask->whelping ? "Who is it, or a new pup (+)? " : "Who is it? ");
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

static void message(struct watch_page *page, const struct watch_plan *plan)
{
	struct text_line line;

	for (unsigned i = 0; i < plan->message; i++)
		if (next_row(page, i < page->n_message && page->message[i].bold, &line) && i < page->n_message)
			text_put(&line, page->message[i].text);
}

static void notices(struct watch_page *page, const struct watch_plan *plan)
{
	struct text_line line;

	for (unsigned i = 0; i < plan->notices; i++)
		if (next_row(page, page->notices[i].bold, &line))
			text_put(&line, page->notices[i].text);
}

/* Whole, or each litter in one row when they don't fit: then the row's end shows that there is more. */
static void rounds(struct watch_page *page, const struct watch_plan *plan)
{
	bool whole = plan->rounds >= page->round_rows;
	char piece[WATCH_TEXT];
	struct text_line line;

	for (unsigned i = 0, used = 0; i < page->n_rounds && used < plan->rounds; i++) {
		const char *text = page->rounds[i];
		do {
			if (!next_row(page, false, &line))
				return;
			used++;
			if (!whole) {
				text_put(&line, text);
				break;
			}
			text = text_wrap(piece, sizeof piece, text, line.width, line.utf8);
			text_put(&line, piece);
		} while (*text);
	}
}

static void recent(struct watch_page *page, const struct watch_plan *plan)
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

static void keys(struct watch_page *page)
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
		if (page->ask && watch_input_digits(board) && page->ask->n_candidates)
			text_put(&line, wide ? "1-9: pick   " : "1-9   ");
		if (page->ask)
			text_put(&line, wide ? "or a name   -: aside   " : "-: aside   ");
		if (page->ask && *page->ask->whelping)
			text_put(&line, wide ? "+: new pup   " : "+: new   ");
		text_put(&line, "<: undo   ");
	}
	text_put(&line, wide ? "Ctrl-C: leave" : "Ctrl-C");
}

void watch_draw(const struct watch_board *board, const struct watch_look *look, struct screen *screen)
{
	struct watch_page page = { .board = board, .look = look, .ask = watch_asks_shown(board), .screen = screen };
	struct watch_plan plan;

	watch_plan_collect(&page);
	plan = watch_plan_rows(&page);
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
