// SPDX-License-Identifier: MIT
#include "books.h"

void books_open(struct books *books, struct rig *rig)
{
	*books = (struct books){ .rig = rig, .client = client_open(rig) };
	(void)client_call(books->client, "follow", "{s:[s, s, s, s, s]}", "topics", "ask", "withdraw", "scale", "live",
			  "found");
	(void)rig_news(rig);
}

void books_scale(struct books *books, const char *address, const char *name, const char *options)
{
	nursery_scale(books->rig, books->client, address, name, options);
	books_await_link(books, name);
}

void books_await_link(struct books *books, const char *name)
{
	const json_t *notice;

	do
		notice = client_notice_of(books->client, "scale", "scale", name);
	while (strcmp(client_text(books->client, notice, "state"), "subscribed") != 0);
}

void books_weigh(struct books *books, const char *address, int grams)
{
	nursery_weigh(books->rig, address, grams);
	books->sent++;
	books->weighings++;
	while (client_mg(books->client, client_notice(books->client, "ask"), "net_g") != grams * 1000)
		continue; /* those before it are counted in the ledger */
}

void books_indicate(struct books *books, const char *address, const char *uuid, const char *hex, bool new)
{
	(void)rig_sim(books->rig, "indicate %s %s %s", address, uuid, hex);
	books->sent++;
	books->weighings += new;
}

void books_check(struct books *books, size_t news)
{
	struct rig *rig = books->rig;
	char frames[32], weighings[32];
	size_t lines, open;

	(void)snprintf(frames, sizeof frames, "%zu", books->sent);
	(void)snprintf(weighings, sizeof weighings, "%zu", books->weighings);
	rig_await_frames(rig, books->sent);
	(void)client_notices(books->client, "ask"); /* all that it was at is done */
	rig_expect_row(rig, frames, "SELECT count(*) FROM frame_log");
	rig_expect_row(rig, weighings, "SELECT (SELECT count(*) FROM unanswered) + (SELECT count(*) FROM reading)");
	open = json_array_size(json_object_get(client_call(books->client, "asks", NULL), "asks"));
	if (open != books->weighings - books->closed)
		deck_fail(rig->deck, "%zu questions are open of %zu", open, books->weighings - books->closed);
	lines = rig_news(rig);
	deck_note(rig->deck, "test", "%zu lines of news", lines);
	if (lines > news)
		deck_fail(rig->deck, "%zu lines in the log, and %zu are enough", lines, news);
}

void books_await_trouble(struct books *books, const char *word)
{
	int64_t until_ms = deck_ms(books->rig->deck) + TAPE_PATIENCE_MS;

	for (;;) {
		const json_t *radio = json_object_get(client_call(books->client, "status", NULL), "radio");
		const char *trouble = client_text(books->client, radio, "trouble");
		if (strcmp(trouble, word) == 0)
			return;
		if (deck_ms(books->rig->deck) > until_ms)
			deck_fail(books->rig->deck, "the radio's trouble is %s, not %s", trouble, word);
	}
}

void books_close(struct books *books)
{
	books->client = client_close(books->client);
}
