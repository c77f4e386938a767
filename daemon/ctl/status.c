// SPDX-License-Identifier: MIT
/* status: what the daemon sees, and what the ledger holds. */
#include "daemon/ctl/args.h"
#include "daemon/ctl/commands.h"
#include "daemon/ctl/database.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/request.h"
#include "daemon/ctl/show.h"
#include "daemon/ctl/text.h"
#include "daemon/ctl/when.h"
#include <stdarg.h>

#define LABEL 11

__attribute__((format(printf, 3, 4))) static void line(const struct ctl *ctl, const char *label, const char *format,
						       ...)
{
	char text[1024], safe[2048];
	struct text_line out;
	va_list list;

	va_start(list, format);
	(void)vsnprintf(text, sizeof text, format, list);
	va_end(list);
	text_begin(&out, safe, sizeof safe, 1000, ctl->utf8);
	text_cell(&out, label, LABEL);
	text_put(&out, text);
	(void)puts(safe); /* failures stay in stdout's error flag */
}

static void show_scales(const struct ctl *ctl, const json_t *scales)
{
	const char *label = "Scales";
	size_t i;
	json_t *scale;

	if (json_array_size(scales) == 0)
		line(ctl, label, "none adopted: `bismar scale find` shows those in reach");
	json_array_foreach(scales, i, scale)
	{
		const char *container = field_text(scale, "container");
		char battery[32] = "";
		int64_t percent;
		if (field_whole(scale, "battery", &percent))
			(void)snprintf(battery, sizeof battery, ", battery %d %%", (int)percent);
		line(ctl, label, "%s (%s): %s%s%s%s%s", field_text(scale, "scale"), field_text(scale, "address"),
		     show_link(field_text(scale, "state")), battery,
		     field_true(scale, "battery_low") ? ", battery low" : "", *container ? ", container " : "", container);
		label = "";
	}
}

static void show_daemon(const struct ctl *ctl, const json_t *status)
{
	const json_t *radio = json_object_get(status, "radio");
	bool fine = strcmp(field_text(radio, "trouble"), "fine") == 0;
	int64_t n = 0;

	line(ctl, "Daemon", "%s at %s", field_text(status, "version"), ctl->socket_path);
	line(ctl, "Radio", "%s", fine ? "fine" : field_text(radio, "text"));
	show_scales(ctl, json_object_get(status, "scales"));
	if (field_whole(status, "asks", &n))
		line(ctl, "Open asks", "%lld%s", (long long)n, n ? ": `bismar watch` answers them" : "");
	if (field_whole(status, "clients", &n))
		line(ctl, "Clients", "%lld", (long long)n);
	if (field_whole(status, "pending", &n) && n > 0)
		line(ctl, "Waiting", "%lld results, because the database can't be written: %s", (long long)n,
		     field_text(status, "database"));
}

static int count(sqlite3 *db, const char *view, int64_t *ret_n, int64_t *ret_newest_ms)
{
	char sql[96];
	sqlite3_stmt *row;
	int r;

	(void)snprintf(sql, sizeof sql, "SELECT count(*) AS n, max(at_ms) AS newest FROM %s", view);
	row = database_ask(db, sql, NULL, 0);
	r = row ? sqlite3_step(row) : SQLITE_ERROR;
	if (r == SQLITE_ROW) {
		(void)database_whole(row, "n", ret_n); /* stay 0 */
		(void)database_whole(row, "newest", ret_newest_ms);
	}
	(void)sqlite3_finalize(row); /* repeats the error of the step */
	return r == SQLITE_ROW ? 0 : r;
}

/* Also without a daemon: what is recorded can be seen. */
static void show_ledger(const struct ctl *ctl)
{
	char text[512], when[WHEN_SIZE] = "";
	int64_t readings = 0, unanswered = 0, newest_ms = 0, ignored = 0;
	sqlite3 *db;

	if (database_open(ctl->database_path, &db, text, sizeof text) < 0) {
		line(ctl, "Ledger", "%s", text);
		return;
	}
	if (count(db, "reading", &readings, &newest_ms) == 0 && count(db, "unanswered", &unanswered, &ignored) == 0) {
		if (newest_ms)
			when_show_near(when, newest_ms, ctl->now_ms);
		line(ctl, "Ledger", "%s", ctl->database_path);
		line(ctl, "", "%lld readings%s%s, %lld unanswered%s", (long long)readings, newest_ms ? ", newest " : "",
		     when, (long long)unanswered, unanswered ? " (`bismar ask list`)" : "");
	} else {
		line(ctl, "Ledger", "%s: %s", ctl->database_path, sqlite3_errmsg(db));
	}
	database_close(db);
}

enum ctl_status status_run(struct ctl *ctl, int argc, char **argv)
{
	enum ctl_status status;
	struct args args;
	json_t *result = NULL;

	if (!args_parse(ctl, argc, argv, NULL, 0, 0, 0, &args))
		return CTL_USAGE;
	status = request_call(ctl, "status", json_object(), &result);
	if (ctl->json) {
		if (status == CTL_DONE)
			field_print(result);
	} else {
		if (status == CTL_DONE)
			show_daemon(ctl, result);
		show_ledger(ctl);
	}
	json_decref(result);
	return status == CTL_DONE ? ctl_flush() : status;
}
