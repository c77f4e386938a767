// SPDX-License-Identifier: MIT
#include "daemon/ctl/import_send.h"
#include "daemon/ctl/database.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/request.h"
#include "daemon/ctl/when.h"
#include "daemon/weigh/quantity.h"

#define REQUEST_BYTES (LIMIT_LINE_BYTES - 1024) /* of rows in one request; the rest is for what stands around them */

/* Ten thousand rows take a second on a desktop machine, a small board with a memory card several times that. */
#define PATIENCE_MS 60000

/* ---- what the daemon refuses ---- */

static size_t animal_column(const struct import_table *table, const struct import_entry *entry)
{
	size_t column = import_layout_find(&table->layout, IMPORT_ANIMAL);

	if (table->layout.wide)
		return entry->column;
	return column < table->layout.n ? column : import_layout_find(&table->layout, IMPORT_COLLAR);
}

static size_t time_column(const struct import_table *table)
{
	size_t column = import_layout_find(&table->layout, IMPORT_DATE);

	return column < table->layout.n ? column : import_layout_find(&table->layout, IMPORT_TIME);
}

/* Whether the ledger knows one of this name that can't be weighed any more; why, then. Silent without a database. */
static bool explain_gone(const struct ctl *ctl, const char *word, char *to, size_t size)
{
	const char *slash = strchr(word, '/'), *name = slash ? slash + 1 : word;
	char trouble[512], when[WHEN_SIZE];
	sqlite3_stmt *row;
	sqlite3 *db;
	int64_t gone_ms;
	bool found;

	if (database_open(ctl->database_path, &db, trouble, sizeof trouble) < 0)
		return false;
	row = database_ask(
		db,
		"SELECT a.animal AS animal, a.gone_at_ms AS gone_at_ms, l.litter AS litter FROM animal_log AS a"
		" JOIN litter_now AS l ON l.litter_id = a.litter_id WHERE (a.animal = ?1 COLLATE NOCASE OR a.collar = "
		"?1"
		" COLLATE NOCASE) AND (a.gone_at_ms IS NOT NULL OR NOT l.open) ORDER BY a.noted_at_ms DESC LIMIT 1",
		&name, 1);
	found = row && sqlite3_step(row) == SQLITE_ROW;
	if (found && database_whole(row, "gone_at_ms", &gone_ms)) {
		when_show(when, gone_ms);
		(void)snprintf(to, size, "%s is gone since %s: nothing can be added to it any more",
			       database_text(row, "animal"), when);
	} else if (found) {
		(void)snprintf(to, size, "the litter %s of %s is closed: nothing can be added to it any more",
			       database_text(row, "litter"), database_text(row, "animal"));
	}
	(void)sqlite3_finalize(row);
	database_close(db);
	return found;
}

static void take_refused(const struct ctl *ctl, struct import_table *table, const json_t *refused)
{
	const char *code = field_text(refused, "code"), *message = field_text(refused, "message"),
		   *hint = field_text(refused, "hint");
	const struct import_entry *entry;
	char gone[300];
	int64_t index;

	if (!field_whole(refused, "row", &index) || index < 0 || (size_t)index >= table->n)
		return;
	entry = &table->entries[index];
	if (strcmp(code, "not-found") == 0 && explain_gone(ctl, entry->animal, gone, sizeof gone))
		import_table_issue(table, false, entry->row, animal_column(table, entry), "%s", gone);
	else if (strcmp(code, "not-found") == 0 || strcmp(code, "ambiguous") == 0)
		import_table_issue(table, false, entry->row, animal_column(table, entry), "%s. %s", message, hint);
	else
		import_table_issue(table, false, entry->row,
				   strcmp(code, "bad-value") == 0 ? time_column(table) : entry->column, "%s. %s",
				   message, hint);
}

/* ---- rows ---- */

static json_t *row_of(const struct import_entry *entry)
{
	unsigned offset_min = (unsigned)abs(entry->offset_min) % (24 * 60);
	char utc[QUANTITY_RFC3339_SIZE], at[QUANTITY_RFC3339_SIZE + 8];
	json_t *row;

	/* in the time that stood on the clock, with its offset, which is kept */
	quantity_rfc3339_utc(utc, entry->at_ms + (int64_t)entry->offset_min * 60000);
	(void)snprintf(at, sizeof at, "%.*s%c%02u:%02u", (int)strcspn(utc, "Z"), utc, entry->offset_min < 0 ? '-' : '+',
		       offset_min / 60, offset_min % 60);
	row = json_pack("{s:s, s:s, s:s}", "animal", entry->animal, "mass", entry->mass, "at", at);
	if (row && entry->fed && field_put(row, "fed", entry->fed == 'b' ? "before" : "after") < 0) {
		json_decref(row); /* without it, it would say less */
		return NULL;
	}
	return row;
}

/* From *at on as many as one request holds; *at is then behind them. NULL without memory. */
static json_t *some_rows(const struct import_table *table, size_t *at)
{
	json_t *rows = json_array();
	size_t bytes = 0;

	while (rows && *at < table->n) {
		json_t *row = row_of(&table->entries[*at]);
		size_t n = row ? json_dumpb(row, NULL, 0, JSON_COMPACT) + 1 : 0;
		if (row && bytes && bytes + n > REQUEST_BYTES) {
			json_decref(row);
			break;
		}
		if (!row || json_array_append_new(rows, row) < 0) {
			json_decref(rows);
			return NULL;
		}
		bytes += n;
		(*at)++;
	}
	return rows;
}

static enum ctl_status send_rows(const struct ctl *ctl, struct socket *socket, struct import_table *table)
{
	int64_t n_refused = 0;
	size_t told = 0;
	enum ctl_status status = CTL_DONE;

	for (size_t at = 0; at < table->n && status == CTL_DONE;) {
		json_t *rows = some_rows(table, &at), *params = rows ? json_pack("{s:o}", "rows", rows) : NULL;
		json_t *result = NULL;
		const json_t *refused;
		size_t i;

		status = request_on(ctl, socket, "import.rows", params, &result);
		if (status != CTL_DONE)
			break;
		json_array_foreach (json_object_get(result, "refused"), i, refused) {
			take_refused(ctl, table, refused);
			told++;
		}
		(void)field_whole(result, "n_refused", &n_refused); /* of all so far */
		json_decref(result);
	}
	if (n_refused > (int64_t)told)
		table->n_mistakes += (unsigned)(n_refused - (int64_t)told);
	return status;
}

/* ---- what would come of them ---- */

static void take_doubts(struct import_table *table, const json_t *result)
{
	const json_t *doubt;
	int64_t n = 0, index;
	size_t i;

	json_array_foreach (json_object_get(result, "doubts"), i, doubt) {
		if (!field_whole(doubt, "row", &index) || index < 0 || (size_t)index >= table->n)
			continue;
		const struct import_entry *entry = &table->entries[index];
		bool early = strcmp(field_text(doubt, "code"), "before-birth") == 0;
		import_table_issue(table, true, entry->row, early ? time_column(table) : entry->column, "%s",
				   field_text(doubt, "text"));
	}
	if (field_whole(result, "n_doubts", &n) && n > (int64_t)i)
		table->n_doubts += (unsigned)(n - (int64_t)i);
}

enum ctl_status import_send(const struct ctl *ctl, struct socket *socket, struct import_table *table,
			    struct import_sent *ret)
{
	json_t *result = NULL;
	enum ctl_status status = request_on(ctl, socket, "import.begin", request_params(ctl), &result);

	*ret = (struct import_sent){ 0 };
	if (status == CTL_DONE) {
		json_decref(result);
		status = send_rows(ctl, socket, table);
	}
	if (status == CTL_DONE)
		status = request_within(ctl, socket, PATIENCE_MS, "import.check", json_object(), &result);
	if (status != CTL_DONE)
		return status;
	ret->checked = true;
	(void)field_whole(result, "new", &ret->new_); /* what isn't there is 0 */
	(void)field_whole(result, "on_record", &ret->on_record);
	(void)field_whole(result, "repeated", &ret->repeated);
	take_doubts(table, result);
	json_decref(result);
	return CTL_DONE;
}

enum ctl_status import_commit(const struct ctl *ctl, struct socket *socket, struct import_sent *ret)
{
	json_t *result = NULL;
	enum ctl_status status = request_within(ctl, socket, PATIENCE_MS, "import.commit", json_object(), &result);

	if (status != CTL_DONE)
		return status;
	ret->committed = true;
	(void)field_whole(result, "added", &ret->new_);
	(void)field_whole(result, "on_record", &ret->on_record);
	(void)field_whole(result, "repeated", &ret->repeated);
	json_decref(result);
	return CTL_DONE;
}
