// SPDX-License-Identifier: MIT
#include "daemon/ctl/watch_words.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/level.h"
#include "daemon/ctl/screen.h"
#include "daemon/ctl/show.h"
#include "daemon/ctl/watch_care.h"
#include "daemon/ctl/when.h"

void watch_words_detail(const struct watch_ask *ask, const struct watch_look *look, bool utf8, char *buffer, size_t size)
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
		text_putf(&line, "   %s %s", show_plus_minus(utf8), show_mass(u, ask->u_mg, look->unit));
	if (ask->restless)
		text_put(&line, "   restless: less sure");
}

/* "ACT: Fern: not weighed ..."; a text that names nobody gets the name before it. */
void watch_words_concern(const struct watch_concern *concern, char *buffer, size_t size)
{
	const char *who = *concern->name ? concern->name : concern->litter;
	bool named = !*who || strstr(concern->text, who);

	(void)snprintf(buffer, size, "%s%s%s%s%s", level_words(concern->level), *concern->level ? ": " : "", named ? "" : who,
		       named ? "" : ": ", concern->text);
}

void watch_words_round(const struct watch_board *board, const char *litter, int64_t now_ms, char *buffer, size_t size)
{
	struct text_line line;
	unsigned left = 0;

	text_begin(&line, buffer, size, SCREEN_COLUMNS, true);
	text_putf(&line, "Still to weigh in %s: ", litter);
	for (size_t i = 0; i < board->n_animals; i++) {
		const struct watch_animal *animal = &board->animals[i];
		if (strcmp(animal->litter, litter) != 0 || watch_care_weighed(board, animal, now_ms))
			continue;
		text_putf(&line, "%s%s", left++ ? ", " : "", animal->name);
	}
	if (left == 0)
		(void)snprintf(buffer, size, "All of %s are weighed.", litter);
}

bool watch_words_exchange(const json_t *params, char *buffer, size_t size)
{
	const json_t *first = json_array_get(json_object_get(params, "exchanges"), 0);

	if (!first)
		return false;
	(void)snprintf(buffer, size, "Exchanged? %s. Look at `bismar round`.", field_text(first, "say"));
	return true;
}
