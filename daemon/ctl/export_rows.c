// SPDX-License-Identifier: MIT
/* The forms that show the view `reading` as it is: csv and jsonl. */
#include "daemon/ctl/csv.h"
#include "daemon/ctl/export.h"
#include "daemon/ctl/field.h"

sqlite3_stmt *export_readings(sqlite3 *db, const struct export_ask *ask)
{
	return database_ask(db,
			    "SELECT * FROM reading WHERE (?1 IS NULL OR litter = ?1 COLLATE NOCASE OR litter_id = ?1)"
			    " AND at_ms >= CAST(?2 AS INTEGER) ORDER BY at_ms, reading_id",
			    (const char *const[2]){ ask->litter, ask->since }, 2);
}

/* Each step's row to the file by one(), which returns 0 or SQLITE_NOMEM. */
static int each(FILE *to, sqlite3_stmt *row, int (*one)(FILE *to, sqlite3_stmt *row))
{
	int r = SQLITE_ERROR;

	while (row && (r = sqlite3_step(row)) == SQLITE_ROW && !ferror(to))
		if (one(to, row) != 0) {
			r = SQLITE_NOMEM;
			break;
		}
	(void)sqlite3_finalize(row); /* repeats the error of the step */
	return r == SQLITE_DONE || r == SQLITE_ROW ? 0 : r;
}

static int csv_row(FILE *to, sqlite3_stmt *row)
{
	int n = sqlite3_column_count(row);

	for (int i = 0; i < n; i++) {
		const char *text = (const char *)sqlite3_column_text(row, i);
		if (text)
			csv_field(to, text, (size_t)sqlite3_column_bytes(row, i));
		(void)fputs(i + 1 < n ? "," : "\r\n", to);
	}
	return 0;
}

int export_csv(FILE *to, sqlite3 *db, const struct export_ask *ask)
{
	sqlite3_stmt *row = export_readings(db, ask);
	int n = row ? sqlite3_column_count(row) : 0;

	for (int i = 0; i < n; i++) {
		const char *name = sqlite3_column_name(row, i);
		csv_field(to, name, strlen(name));
		(void)fputs(i + 1 < n ? "," : "\r\n", to);
	}
	return each(to, row, csv_row);
}

static int json_row(FILE *to, sqlite3_stmt *row)
{
	json_t *object = database_json(row);

	if (!object)
		return SQLITE_NOMEM;
	field_write(to, object);
	(void)fputc('\n', to);
	json_decref(object);
	return 0;
}

int export_jsonl(FILE *to, sqlite3 *db, const struct export_ask *ask)
{
	return each(to, export_readings(db, ask), json_row);
}
