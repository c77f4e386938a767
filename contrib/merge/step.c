// SPDX-License-Identifier: MIT
#include "contrib/merge/step.h"
#include "contrib/merge/tell.h"
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

int step_refuse(struct step *step, const char *format, ...)
{
	char text[768];
	va_list list;

	va_start(list, format);
	(void)vsnprintf(text, sizeof text, format, list);
	va_end(list);
	tell("%s (%s): %s Nothing of it was taken.", step->source->name, step->source->path, text);
	step->told = true;
	return SQLITE_ABORT;
}

/* A statement about one view: in format, {v} is its name, {k} its key, {c} its columns, {s} the column of its position.
 */
static char *fill(const char *format, const struct layout *row)
{
	sqlite3_str *text = sqlite3_str_new(NULL);

	for (; *format; format++) {
		if (*format != '{') {
			sqlite3_str_appendchar(text, 1, *format);
			continue;
		}
		switch (format[1]) {
		case 'v':
			sqlite3_str_appendall(text, row->view);
			break;
		case 'k':
			sqlite3_str_appendall(text, row->key);
			break;
		case 'c':
			sqlite3_str_appendall(text, row->columns);
			break;
		default:
			sqlite3_str_appendall(text, row->seq ? row->seq : row->key);
			break;
		}
		format += 2;
	}
	return sqlite3_str_finish(text);
}

/* Runs it with ?1 = the bridge's number and the rest of values; the first row's columns into rets. */
int step_ask(struct step *step, const struct layout *row, const char *format, const struct step_value *values, size_t n,
	     struct step_value *ret, char ret_text[64])
{
	char *sql = fill(format, row);
	sqlite3_stmt *st = NULL;
	const char *text;
	int r = sql ? sqlite3_prepare_v2(step->db, sql, -1, &st, NULL) : SQLITE_NOMEM;

	if (r == SQLITE_OK && sqlite3_bind_parameter_count(st) > 0)
		r = sqlite3_bind_int64(st, 1, step->b);
	for (size_t i = 0; r == SQLITE_OK && i < n; i++)
		r = values[i].text ? sqlite3_bind_text(st, (int)i + 2, values[i].text, -1, SQLITE_STATIC)
				   : sqlite3_bind_int64(st, (int)i + 2, values[i].number);
	if (r == SQLITE_OK)
		r = sqlite3_step(st);
	if (ret)
		*ret = (struct step_value){ 0 };
	if (r == SQLITE_ROW && ret) {
		ret->number = sqlite3_column_int64(st, 0);
		if (ret_text && (text = (const char *)sqlite3_column_text(st, 1)) && strlen(text) < 64) {
			memcpy(ret_text, text, strlen(text) + 1);
			ret->text = ret_text;
		}
	}
	(void)sqlite3_finalize(st); /* repeats the error of the step */
	sqlite3_free(sql);
	return r == SQLITE_ROW || r == SQLITE_DONE ? SQLITE_OK : r;
}

int step_position(struct step *step, const struct layout *row, struct step_position *ret)
{
	struct step_value value;
	int r = step_ask(step, row, "SELECT seq, id FROM merged_position WHERE b = ?1 AND view = '{v}'", NULL, 0,
			 &value, ret->id);

	ret->at = (struct step_value){ .number = value.number };
	if (!value.text)
		ret->id[0] = '\0';
	if (!row->seq)
		ret->at = (struct step_value){ .text = ret->id };
	ret->n = 0;
	if (r == SQLITE_OK)
		r = step_ask(step, row, "SELECT n FROM merged_position WHERE b = ?1 AND view = '{v}'", NULL, 0, &value,
			     NULL);
	if (r == SQLITE_OK)
		ret->n = value.number;
	return r;
}
