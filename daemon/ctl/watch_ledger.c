// SPDX-License-Identifier: MIT
#include "daemon/ctl/watch_ledger.h"
#include "daemon/ctl/database.h"
#include "daemon/ctl/text.h"

static void copy(char *to, size_t size, const char *text)
{
	size_t n = text_whole(text, size - 1);

	memcpy(to, text, n);
	to[n] = '\0';
}

#define COPY(field, text) copy(field, sizeof(field), text)

/* Each returns what the last sqlite3_step() did: SQLITE_DONE, or an error; the board is touched only on success. */
static int load_recent(sqlite3 *db, struct watch_board *board)
{
	struct watch_reading recent[WATCH_RECENT] = { 0 };
	size_t n = 0;
	sqlite3_stmt *row =
		database_ask(db,
			     "SELECT reading_id, animal, at_ms, net_g, answered_at_ms, answered_by FROM reading"
			     " ORDER BY answered_at_ms DESC, reading_id DESC LIMIT 16",
			     NULL, 0);
	int r = row ? SQLITE_ROW : SQLITE_ERROR;

	while (row && n < WATCH_RECENT && (r = sqlite3_step(row)) == SQLITE_ROW) {
		struct watch_reading *reading = &recent[n++];
		COPY(reading->id, database_text(row, "reading_id"));
		COPY(reading->name, database_text(row, "animal"));
		COPY(reading->by, database_text(row, "answered_by"));
		(void)database_whole(row, "at_ms", &reading->at_ms); /* stay 0 */
		(void)database_mg(row, "net_g", &reading->net_mg);
		(void)database_whole(row, "answered_at_ms", &reading->answered_ms);
	}
	(void)sqlite3_finalize(row); /* repeats the error of the step */
	if (r != SQLITE_DONE && r != SQLITE_ROW)
		return r;
	memcpy(board->recent, recent, sizeof recent);
	board->n_recent = n;
	return SQLITE_DONE;
}

static int load_animals(sqlite3 *db, struct watch_board *board)
{
	struct watch_animal *animals = calloc(LIMIT_ANIMALS, sizeof *animals);
	size_t n = 0;
	sqlite3_stmt *row = database_ask(db,
					 "SELECT animal, collar, litter, newest_at_ms FROM animal_now"
					 " ORDER BY litter_id, animal_id",
					 NULL, 0);
	int r = row ? SQLITE_ROW : SQLITE_ERROR;

	while (row && animals && n < LIMIT_ANIMALS && (r = sqlite3_step(row)) == SQLITE_ROW) {
		struct watch_animal *animal = &animals[n++];
		COPY(animal->name, database_text(row, "animal"));
		COPY(animal->collar, database_text(row, "collar"));
		COPY(animal->litter, database_text(row, "litter"));
		animal->weighed = database_whole(row, "newest_at_ms", &animal->newest_ms);
	}
	(void)sqlite3_finalize(row); /* repeats the error of the step */
	if (!animals || (r != SQLITE_DONE && r != SQLITE_ROW)) {
		free(animals);
		return animals ? r : SQLITE_NOMEM;
	}
	free(board->animals);
	board->animals = animals;
	board->n_animals = n;
	return SQLITE_DONE;
}

void watch_ledger_load(const char *path, struct watch_board *board)
{
	sqlite3 *db = NULL;
	int r;

	/* opened each time: a connection kept for hours would hold on to a database that was replaced meanwhile */
	if (database_open(path, &db, board->database, sizeof board->database) < 0)
		return;
	board->database[0] = '\0';
	r = load_recent(db, board);
	if (r == SQLITE_DONE)
		r = load_animals(db, board);
	if (r != SQLITE_DONE)
		(void)snprintf(board->database, sizeof board->database, "The ledger can't be read: %s.",
			       sqlite3_errmsg(db));
	database_close(db);
}
