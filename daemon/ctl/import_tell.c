// SPDX-License-Identifier: MIT
#include "daemon/ctl/import_tell.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/prose.h"
#include "daemon/ctl/text.h"
#include "daemon/ctl/when.h"

static const char *separator_text(char separator)
{
	return separator == '\t' ? "tabs" : separator == ';' ? "semicolons" : "commas";
}

static void span(const struct import_table *table, int64_t *ret_from_ms, int64_t *ret_to_ms)
{
	*ret_from_ms = INT64_MAX;
	*ret_to_ms = INT64_MIN;
	for (size_t i = 0; i < table->n; i++) {
		int64_t at_ms = table->entries[i].at_ms;
		*ret_from_ms = at_ms < *ret_from_ms ? at_ms : *ret_from_ms;
		*ret_to_ms = at_ms > *ret_to_ms ? at_ms : *ret_to_ms;
	}
}

static bool is_ignored(const struct import_table *table, size_t i)
{
	return table->layout.columns[i].kind == IMPORT_IGNORED;
}

/* ---- for people ---- */

static void tell_file(const struct ctl *ctl, const char *file, const struct import_table *table)
{
	char from[WHEN_SIZE], to[WHEN_SIZE], name[128];
	int64_t from_ms, to_ms;

	(void)text_fit(name, sizeof name, file, 80, ctl->utf8);
	if (!table->n) {
		prose_printf(ctl, 0, "%s: no weighing could be read.", name);
		return;
	}
	span(table, &from_ms, &to_ms);
	when_show(from, from_ms);
	when_show(to, to_ms);
	prose_printf(ctl, 0, "%s: %zu weighing%s from %s to %s, %s, columns parted by %s.", name, table->n,
		     table->n == 1 ? "" : "s", from, to, table->layout.wide ? "a column a pup" : "a row each",
		     separator_text(table->csv.separator));
	for (size_t i = 0; i < table->layout.n; i++)
		if (is_ignored(table, i)) {
			(void)text_fit(name, sizeof name, table->layout.columns[i].name, 64, ctl->utf8);
			prose_printf(ctl, 0, "Column \"%s\" is ignored.", name);
		}
}

static void place(const struct ctl *ctl, const struct import_table *table, const struct import_issue *issue, char *to,
		  size_t size)
{
	char name[128];

	if (issue->column < table->layout.n && *table->layout.columns[issue->column].name) {
		(void)text_fit(name, sizeof name, table->layout.columns[issue->column].name, 64, ctl->utf8);
		(void)snprintf(to, size, "Row %u, column %s: ", issue->row, name);
	} else if (issue->column != IMPORT_NO_COLUMN) {
		(void)snprintf(to, size, "Row %u, column %zu: ", issue->row, issue->column + 1);
	} else if (issue->row) {
		(void)snprintf(to, size, "Row %u: ", issue->row);
	} else {
		*to = '\0';
	}
}

static void tell_issue(const struct ctl *ctl, const struct import_table *table, const struct import_issue *issue)
{
	char where[200], text[640], more[64] = "";

	place(ctl, table, issue, where, sizeof where);
	(void)text_fit(text, sizeof text, issue->text, sizeof text, ctl->utf8);
	if (issue->more)
		(void)snprintf(more, sizeof more, " (and %u row%s below)", issue->more, issue->more == 1 ? "" : "s");
	prose_printf(ctl, 2, "%s%s%s%s", issue->doubt ? "Doubtful: " : "", where, text, more);
}

static void tell_issues(const struct ctl *ctl, const struct import_table *table)
{
	unsigned told = 0;

	for (size_t i = 0; i < table->n_issues; i++) {
		tell_issue(ctl, table, &table->issues[i]);
		told += 1 + table->issues[i].more;
	}
	if (told < table->n_mistakes + table->n_doubts)
		prose_printf(ctl, 2, "And %u more.", table->n_mistakes + table->n_doubts - told);
}

static void tell_sent(const struct ctl *ctl, const struct import_sent *sent)
{
	char on_record[64] = "", repeated[64] = "";

	if (sent->on_record)
		(void)snprintf(on_record, sizeof on_record, ", %lld on record already", (long long)sent->on_record);
	if (sent->repeated)
		(void)snprintf(repeated, sizeof repeated, ", %lld twice in the file", (long long)sent->repeated);
	prose_printf(ctl, 0, "%lld %s%s%s.", (long long)sent->new_, sent->committed ? "added" : "new", on_record,
		     repeated);
}

/* ---- as JSON ---- */

static json_t *issue_json(const struct import_table *table, const struct import_issue *issue)
{
	bool named = issue->column < table->layout.n && *table->layout.columns[issue->column].name;

	return json_pack("{s:o, s:o, s:b, s:s, s:i}", "row", issue->row ? json_integer(issue->row) : json_null(),
			 "column",
			 named                               ? json_string(table->layout.columns[issue->column].name)
			 : issue->column != IMPORT_NO_COLUMN ? json_integer((json_int_t)issue->column + 1)
							     : json_null(),
			 "doubtful", issue->doubt, "text", issue->text, "more", (int)issue->more);
}

static json_t *count_json(const struct import_sent *sent, int64_t n)
{
	return sent->checked ? json_integer(n) : json_null();
}

static void tell_json(const char *file, const struct import_table *table, const struct import_sent *sent)
{
	json_t *issues = json_array(), *ignored = json_array(), *object;

	for (size_t i = 0; i < table->n_issues; i++)
		(void)json_array_append_new(issues, issue_json(table, &table->issues[i]));
	for (size_t i = 0; i < table->layout.n; i++)
		if (is_ignored(table, i))
			(void)json_array_append_new(ignored, json_string(table->layout.columns[i].name));
	object = json_pack("{s:s, s:i, s:i, s:i, s:o, s:o, s:o, s:o, s:o, s:o}", "file", file, "weighings",
			   (int)table->n, "mistakes", (int)table->n_mistakes, "doubts", (int)table->n_doubts, "new",
			   count_json(sent, sent->new_), "on_record", count_json(sent, sent->on_record), "repeated",
			   count_json(sent, sent->repeated), "added", json_integer(sent->committed ? sent->new_ : 0),
			   "ignored", ignored, "issues", issues);
	if (object)
		field_print(object);
	json_decref(object);
}

void import_tell(const struct ctl *ctl, const char *file, const struct import_table *table,
		 const struct import_sent *sent)
{
	if (ctl->json) {
		tell_json(file, table, sent);
		return;
	}
	tell_file(ctl, file, table);
	tell_issues(ctl, table);
	if (sent->checked)
		tell_sent(ctl, sent);
}
