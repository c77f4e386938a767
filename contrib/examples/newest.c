// SPDX-License-Identifier: MIT
/* The newest mass of each pup, and what it gains. cc newest.c -lsqlite3 -o newest; usage: newest [DATABASE] */
#include <sqlite3.h>
#include <stdio.h>

int main(int argc, char **argv)
{
	const char *path = argc > 1 ? argv[1] : "/var/lib/bismar/bismar.db";
	sqlite3_stmt *row = NULL;
	sqlite3 *record;
	int r = sqlite3_open_v2(path, &record, SQLITE_OPEN_READONLY, NULL);

	if (r == SQLITE_OK)
		r = sqlite3_prepare_v2(
			record,
			"SELECT litter, animal, newest_g, gain_g_per_day, u_gain_g_per_day, coalesce(verdict, '')"
			" FROM animal_now WHERE newest_g IS NOT NULL ORDER BY litter, animal",
			-1, &row, NULL);
	while (row && (r = sqlite3_step(row)) == SQLITE_ROW) {
		printf("%s\t%s\t%.1f g\t", sqlite3_column_text(row, 0), sqlite3_column_text(row, 1),
		       sqlite3_column_double(row, 2));
		if (sqlite3_column_type(row, 3) == SQLITE_NULL)
			printf("%s\n", sqlite3_column_text(row, 5));
		else
			printf("%+.1f +- %.1f g/d\n", sqlite3_column_double(row, 3), sqlite3_column_double(row, 4));
	}
	if (r != SQLITE_DONE)
		fprintf(stderr, "newest: %s: %s\n", path, sqlite3_errmsg(record));
	sqlite3_finalize(row);
	sqlite3_close(record);
	return r == SQLITE_DONE ? 0 : 1;
}
