// SPDX-License-Identifier: MIT
/* export csv, jsonl: the view `reading`, a row at a time. */
#include "daemon/ctl/args.h"
#include "daemon/ctl/commands.h"
#include "daemon/ctl/csv.h"
#include "daemon/ctl/database.h"
#include "daemon/ctl/field.h"

/* 0 when every row was written, SQLITE_... of a failed step. Both stop early when standard output fails. */
static int as_csv(sqlite3_stmt *row)
{
	int n = sqlite3_column_count(row), r;

	for (int i = 0; i < n; i++) {
		const char *name = sqlite3_column_name(row, i);
		csv_field(stdout, name, strlen(name));
		(void)fputs(i + 1 < n ? "," : "\r\n", stdout);
	}
	while ((r = sqlite3_step(row)) == SQLITE_ROW && !ferror(stdout)) {
		for (int i = 0; i < n; i++) {
			const char *text = (const char *)sqlite3_column_text(row, i);
			if (text)
				csv_field(stdout, text, (size_t)sqlite3_column_bytes(row, i));
			(void)fputs(i + 1 < n ? "," : "\r\n", stdout);
		}
	}
	return r == SQLITE_DONE || r == SQLITE_ROW ? 0 : r;
}

static int as_jsonl(sqlite3_stmt *row)
{
	int r;

	while ((r = sqlite3_step(row)) == SQLITE_ROW && !ferror(stdout)) {
		json_t *object = database_json(row);
		if (!object)
			return SQLITE_NOMEM;
		field_print(object);
		json_decref(object);
	}
	return r == SQLITE_DONE || r == SQLITE_ROW ? 0 : r;
}

/* Whether there is such a litter; a misspelt one must not look like an empty one. */
static enum ctl_status check_litter(const struct ctl *ctl, sqlite3 *db, const char *litter)
{
	sqlite3_stmt *row = database_ask(
		db, "SELECT 1 FROM litter_now WHERE litter = ?1 COLLATE NOCASE OR litter_id = ?1", &litter, 1);
	int r = row ? sqlite3_step(row) : SQLITE_ERROR;
	enum ctl_status status = CTL_DONE;

	if (r == SQLITE_DONE) {
		ctl_error("No litter is called \"%s\"; `bismar litter list` shows them.", litter);
		status = CTL_REFUSED;
	} else if (r != SQLITE_ROW) {
		status = database_trouble(ctl, db);
	}
	(void)sqlite3_finalize(row); /* repeats the error of the step */
	return status;
}

static enum ctl_status write_readings(const struct ctl *ctl, sqlite3 *db, bool csv, const char *const texts[2])
{
	sqlite3_stmt *row = database_ask(db,
					 "SELECT * FROM reading WHERE (?1 IS NULL OR litter = ?1 COLLATE NOCASE"
					 " OR litter_id = ?1) AND at_ms >= CAST(?2 AS INTEGER)"
					 " ORDER BY at_ms, reading_id",
					 texts, 2);
	int r = !row ? SQLITE_ERROR : csv ? as_csv(row) : as_jsonl(row);
	enum ctl_status status = r == 0 ? ctl_flush() : database_trouble(ctl, db);

	(void)sqlite3_finalize(row); /* repeats the error of the step */
	return status;
}

enum ctl_status export_run(struct ctl *ctl, int argc, char **argv)
{
	const char *litter = NULL, *since = NULL;
	const struct args_option options[] = {
		{ .name = "--litter", .value = &litter },
		{ .name = "--since", .value = &since },
	};
	enum ctl_status status;
	struct args args;
	char since_text[24];
	int64_t since_ms = 0;
	sqlite3 *db;

	if (!args_parse(ctl, argc, argv, options, 2, 1, 1, &args))
		return CTL_USAGE;
	if (strcmp(args.words[0], "csv") != 0 && strcmp(args.words[0], "jsonl") != 0)
		return args_wrong(ctl, "The form is csv or jsonl, not \"%s\".", args.words[0]);
	if (!args_time(ctl, since, &since_ms))
		return CTL_USAGE;
	(void)snprintf(since_text, sizeof since_text, "%lld", (long long)since_ms);
	status = database_for(ctl, &db);
	if (status != CTL_DONE)
		return status;
	if (litter)
		status = check_litter(ctl, db, litter);
	if (status == CTL_DONE)
		status = write_readings(ctl, db, args.words[0][0] == 'c', (const char *const[2]){ litter, since_text });
	database_close(db);
	return status;
}
