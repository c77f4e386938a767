// SPDX-License-Identifier: MIT
#include "daemon/ctl/watch_ledger.h"
#include "daemon/ctl/database.h"
#include "daemon/ctl/watch_care.h"

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
		WATCH_COPY(reading->id, database_text(row, "reading_id"));
		WATCH_COPY(reading->name, database_text(row, "animal"));
		WATCH_COPY(reading->by, database_text(row, "answered_by"));
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
		WATCH_COPY(animal->name, database_text(row, "animal"));
		WATCH_COPY(animal->collar, database_text(row, "collar"));
		WATCH_COPY(animal->litter, database_text(row, "litter"));
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

/* A ledger that an older daemon wrote last has no such views yet: nothing is open then. */
static bool has_view(sqlite3 *db, const char *name)
{
	sqlite3_stmt *row = database_ask(db, "SELECT 1 FROM sqlite_schema WHERE name = ?1", &name, 1);
	bool has = row && sqlite3_step(row) == SQLITE_ROW;

	(void)sqlite3_finalize(row);
	return has;
}

static int load_concerns(sqlite3 *db, struct watch_board *board)
{
	sqlite3_stmt *row;
	int r = SQLITE_DONE;

	if (!has_view(db, "concern_now"))
		return r;
	row = database_ask(db, "SELECT concern_id, animal, litter, level, text FROM concern_now ORDER BY since_ms", NULL, 0);
	board->n_concerns = 0;
	while (row && (r = sqlite3_step(row)) == SQLITE_ROW) {
		struct watch_concern concern = { 0 };
		WATCH_COPY(concern.id, database_text(row, "concern_id"));
		WATCH_COPY(concern.name, database_text(row, "animal"));
		WATCH_COPY(concern.litter, database_text(row, "litter"));
		WATCH_COPY(concern.level, database_text(row, "level"));
		WATCH_COPY(concern.text, database_text(row, "text"));
		watch_care_worry(board, &concern);
	}
	(void)sqlite3_finalize(row); /* repeats the error of the step */
	return row ? r : SQLITE_ERROR;
}

static int load_rounds(sqlite3 *db, struct watch_board *board)
{
	sqlite3_stmt *row;
	int r = SQLITE_DONE;

	if (!has_view(db, "round_now"))
		return r;
	row = database_ask(db, "SELECT litter, begun_at_ms, fed FROM round_now ORDER BY begun_at_ms DESC", NULL, 0);
	board->n_rounds = 0;
	while (row && (r = sqlite3_step(row)) == SQLITE_ROW && board->n_rounds < WATCH_ROUNDS) {
		struct watch_round *round = &board->rounds[board->n_rounds++];
		*round = (struct watch_round){ 0 };
		WATCH_COPY(round->litter, database_text(row, "litter"));
		WATCH_COPY(round->fed, database_text(row, "fed"));
		(void)database_whole(row, "begun_at_ms", &round->begun_ms); /* stays 0 */
	}
	(void)sqlite3_finalize(row); /* repeats the error of the step */
	return !row ? SQLITE_ERROR : r == SQLITE_ROW ? SQLITE_DONE : r;
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
	if (r == SQLITE_DONE)
		r = load_concerns(db, board);
	if (r == SQLITE_DONE)
		r = load_rounds(db, board);
	if (r != SQLITE_DONE)
		(void)snprintf(board->database, sizeof board->database, "The ledger can't be read: %s.",
			       sqlite3_errmsg(db));
	database_close(db);
}
