// SPDX-License-Identifier: MIT
#include "daemon/ctl/list.h"
#include "daemon/ctl/database.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/show.h"
#include "daemon/ctl/table.h"
#include "daemon/ctl/when.h"

static void add_cell(const struct ctl *ctl, struct table *table, sqlite3_stmt *row, const struct list_column *column)
{
	char buffer[SHOW_SIZE] = "-", u_name[40];
	const char *text = buffer;
	int64_t value, u = 0;

	switch (column->kind) {
	case LIST_TEXT:
	case LIST_EXTRA:
	case LIST_WORD:
		text = *database_text(row, column->name) ? database_text(row, column->name) : "-";
		break;
	case LIST_TAIL:
		text = show_tail(database_text(row, column->name));
		break;
	case LIST_WHOLE:
		if (database_whole(row, column->name, &value))
			(void)snprintf(buffer, sizeof buffer, "%lld", (long long)value);
		break;
	case LIST_MASS:
		if (database_mg(row, column->name, &value))
			(void)show_mass(buffer, value, ctl->unit);
		break;
	case LIST_HEAVY:
		if (database_mg(row, column->name, &value))
			(void)show_heavy(buffer, value, ctl->unit);
		break;
	case LIST_DAILY:
		(void)snprintf(u_name, sizeof u_name, "u_%s", column->name);
		(void)database_mg(row, u_name, &u); /* stays 0: not known */
		if (database_mg(row, column->name, &value))
			(void)show_gain(buffer, value, u, ctl->unit, NULL);
		break;
	case LIST_NEAR:
		if (database_whole(row, column->name, &value))
			when_show_near(buffer, value, ctl->now_ms);
		break;
	case LIST_TIME:
		if (database_whole(row, column->name, &value))
			when_show(buffer, value);
		break;
	case LIST_YES:
		if (database_whole(row, column->name, &value))
			(void)snprintf(buffer, sizeof buffer, "%s", value ? "yes" : "no");
		break;
	}
	table_add(table, text);
}

static bool right(const struct list_column *column)
{
	return column->kind == LIST_MASS || column->kind == LIST_HEAVY || column->kind == LIST_DAILY ||
	       column->kind == LIST_WHOLE;
}

/* Both return the last code of sqlite3_step(), SQLITE_DONE when all is well. */
static int print_table(const struct ctl *ctl, const struct list *list, sqlite3_stmt *row)
{
	struct table_column columns[TABLE_COLUMNS];
	const struct list_column *shown[TABLE_COLUMNS];
	struct table table;
	size_t n = 0;
	int r;

	for (size_t c = 0; c < list->n_columns && n < TABLE_COLUMNS; c++) {
		const struct list_column *column = &list->columns[c];
		if (database_column(row, column->name) < 0)
			continue;
		columns[n] = (struct table_column){
			.title = column->title,
			.right = right(column),
			.gives = column->kind == LIST_TEXT || column->kind == LIST_EXTRA,
			.goes = column->kind == LIST_EXTRA,
		};
		shown[n++] = column;
	}
	table_init(&table, columns, n);
	while ((r = sqlite3_step(row)) == SQLITE_ROW && !table.failed)
		for (size_t c = 0; c < n; c++)
			add_cell(ctl, &table, row, shown[c]);
	if (r == SQLITE_DONE && table.n == 0 && !table.failed)
		(void)printf("%s\n", list->nothing);
	else if (r == SQLITE_DONE && !table_print(&table, ctl))
		r = SQLITE_NOMEM;
	table_done(&table);
	return r == SQLITE_ROW ? SQLITE_NOMEM : r; /* it stopped for lack of memory */
}

static int print_json(sqlite3_stmt *row)
{
	int r;

	while ((r = sqlite3_step(row)) == SQLITE_ROW) {
		json_t *object = database_json(row);
		if (!object)
			return SQLITE_NOMEM;
		field_print(object);
		json_decref(object);
	}
	return r;
}

enum ctl_status list_print(const struct ctl *ctl, const struct list *list)
{
	enum ctl_status status;
	sqlite3_stmt *row;
	sqlite3 *db;
	int r;

	status = database_for(ctl, &db);
	if (status != CTL_DONE)
		return status;
	row = database_ask(db, list->sql, list->texts, list->n_texts);
	r = !row ? SQLITE_ERROR : ctl->json ? print_json(row) : print_table(ctl, list, row);
	status = r == SQLITE_DONE ? ctl_flush() : database_trouble(ctl, db);
	(void)sqlite3_finalize(row); /* repeats the error of the step */
	database_close(db);
	return status;
}

_Static_assert(SHOW_SIZE >= WHEN_SIZE, "a cell holds a time too");
