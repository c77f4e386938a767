// SPDX-License-Identifier: MIT
/* What is said to the fake bluetoothd, and what is heard from it, from bismard's log and from the database. */
#include "rig.h"
#include <sqlite3.h>
#include <unistd.h>

#define LOOK_MS 10 /* between two looks at the database, which tells nobody that it has changed */

/* ---- scale-sim ---- */

static bool is_answer(const struct tape_line *line, const void *wanted)
{
	(void)wanted;
	return strncmp(line->text, "ok ", 3) == 0 || strncmp(line->text, "error ", 6) == 0;
}

__attribute__((format(printf, 2, 0))) static void send_command(struct rig *rig, const char *format, va_list list)
{
	char line[2048];
	int n = vsnprintf(line, sizeof line - 1, format, list);

	deck_note(rig->deck, "> sim", "%s", line);
	line[n] = '\n';
	if (write(rig->sim_in, line, (size_t)n + 1) != n + 1)
		deck_fail(rig->deck, "scale-sim takes no commands any more");
}

void rig_sim_send(struct rig *rig, const char *format, ...)
{
	va_list list;

	va_start(list, format);
	send_command(rig, format, list);
	va_end(list);
}

const char *rig_sim_answer(struct rig *rig)
{
	const struct tape_line *line = tape_take(rig->sim_out, is_answer, NULL, "the answer to a command");
	const char *rest;

	if (*line->text == 'e')
		deck_fail(rig->deck, "scale-sim: %s", line->text);
	rest = strchr(line->text + 3, ' ');
	return rest ? rest + 1 : "";
}

const char *rig_sim(struct rig *rig, const char *format, ...)
{
	va_list list;

	va_start(list, format);
	send_command(rig, format, list);
	va_end(list);
	return rig_sim_answer(rig);
}

static bool is_event(const struct tape_line *line, const void *begin)
{
	return strncmp(line->text, "event ", 6) == 0 && strncmp(line->text + 6, begin, strlen(begin)) == 0;
}

const char *rig_event(struct rig *rig, const char *begin)
{
	char what[128];

	(void)snprintf(what, sizeof what, "the event \"%s\"", begin);
	return tape_take(rig->sim_out, is_event, begin, what)->text + 6;
}

size_t rig_events(struct rig *rig, const char *begin)
{
	return tape_count(rig->sim_out, is_event, begin);
}

/* ---- the log ---- */

static bool has_words(const struct tape_line *line, const void *words)
{
	return strstr(line->text, words) != NULL;
}

const char *rig_log(struct rig *rig, const char *words)
{
	char what[256];

	(void)snprintf(what, sizeof what, "\"%s\" in the log", words);
	return tape_take(rig->log, has_words, words, what)->text;
}

size_t rig_logged(struct rig *rig, const char *words)
{
	deck_turn(rig->deck, 0);
	return tape_count(rig->log, has_words, words);
}

size_t rig_news(struct rig *rig)
{
	const struct tape_line *line;
	const char *before = "";
	size_t n = 0;

	deck_turn(rig->deck, 0);
	for (; (line = tape_line(rig->log, rig->n_log)); rig->n_log++) {
		if (strncmp(line->text, "bismard: debug: ", 16) == 0)
			continue;
		if (strcmp(line->text, before) == 0)
			deck_fail(rig->deck, "logged twice in a row: %s", line->text);
		before = line->text;
		n++;
	}
	return n;
}

/* ---- the database ---- */

static void read_columns(sqlite3_stmt *row, char *ret, size_t size)
{
	size_t n = 0;

	*ret = '\0';
	for (int i = 0; i < sqlite3_column_count(row) && n < size; i++) {
		const char *text = (const char *)sqlite3_column_text(row, i);
		n += (size_t)snprintf(ret + n, size - n, "%s%s", i ? "|" : "", text ? text : "");
	}
}

static void query(struct rig *rig, const char *sql, char *ret, size_t size)
{
	sqlite3_stmt *row = NULL;
	sqlite3 *db = NULL;
	char path[128];
	int rc;

	(void)snprintf(path, sizeof path, "%s/bismar.db", rig->state);
	rc = sqlite3_open_v2(path, &db, SQLITE_OPEN_READONLY, NULL);
	if (rc == SQLITE_OK)
		rc = sqlite3_busy_timeout(db, TAPE_PATIENCE_MS);
	if (rc == SQLITE_OK)
		rc = sqlite3_prepare_v2(db, sql, -1, &row, NULL);
	if (rc == SQLITE_OK)
		rc = sqlite3_step(row);
	if (rc == SQLITE_ROW)
		read_columns(row, ret, size);
	else if (rc == SQLITE_DONE)
		(void)snprintf(ret, size, "(none)");
	else
		(void)snprintf(ret, size, "(%s)", db ? sqlite3_errmsg(db) : "no memory");
	(void)sqlite3_finalize(row); /* repeats the error of the step */
	(void)sqlite3_close(db);
}

__attribute__((format(printf, 2, 0))) static void query_list(struct rig *rig, const char *format, va_list list,
							     char *ret, size_t size)
{
	char sql[1024];

	(void)vsnprintf(sql, sizeof sql, format, list);
	query(rig, sql, ret, size);
}

const char *rig_row(struct rig *rig, const char *format, ...)
{
	static char row[4096];
	va_list list;

	va_start(list, format);
	query_list(rig, format, list, row, sizeof row);
	va_end(list);
	return row;
}

void rig_expect_row(struct rig *rig, const char *row, const char *format, ...)
{
	char got[4096];
	va_list list;

	va_start(list, format);
	query_list(rig, format, list, got, sizeof got);
	va_end(list);
	if (strcmp(got, row) != 0)
		deck_fail(rig->deck, "%s\n  is       %s\n  expected %s", format, got, row);
}

void rig_await_row(struct rig *rig, const char *row, const char *format, ...)
{
	int64_t until_ms = deck_ms(rig->deck) + TAPE_PATIENCE_MS;
	char got[4096], sql[1024];
	va_list list;

	va_start(list, format);
	(void)vsnprintf(sql, sizeof sql, format, list);
	va_end(list);
	for (query(rig, sql, got, sizeof got); strcmp(got, row) != 0; query(rig, sql, got, sizeof got)) {
		if (deck_ms(rig->deck) > until_ms)
			deck_fail(rig->deck, "waited in vain: %s\n  is       %s\n  expected %s", sql, got, row);
		deck_turn(rig->deck, LOOK_MS);
	}
}

void rig_await_frames(struct rig *rig, size_t n)
{
	char count[32];

	(void)snprintf(count, sizeof count, "%zu", n);
	rig_await_row(rig, count, "SELECT count(*) FROM frame_log");
}
