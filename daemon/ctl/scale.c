// SPDX-License-Identifier: MIT
/* scale find, list, forget; scale_pair.c has the others. */
#include "daemon/ctl/args.h"
#include "daemon/ctl/commands.h"
#include "daemon/ctl/database.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/list.h"
#include "daemon/ctl/prose.h"
#include "daemon/ctl/request.h"
#include "daemon/ctl/scale_fit.h"
#include "daemon/ctl/text.h"

#define FIND_S 10
#define FIND_MAX_S 120 /* as the daemon's radio has it */

/* One line as it comes, so the columns' widths are set beforehand. */
static void show_found(const struct ctl *ctl, const json_t *found)
{
	char buffer[512], signal[16] = "-", offers[128];
	struct text_line line;
	int64_t rssi;

	if (field_whole(found, "rssi_dbm", &rssi))
		(void)snprintf(signal, sizeof signal, "%d dBm", (int)rssi);
	text_begin(&line, buffer, sizeof buffer, 200, ctl->utf8);
	text_cell(&line, field_text(found, "address"), 17);
	text_putf(&line, "  %8s  ", signal);
	text_cell(&line, *field_text(found, "name") ? field_text(found, "name") : "(no name)", 16);
	text_put(&line, "  ");
	scale_fit_offers(json_object_get(found, "offers"), offers, sizeof offers);
	text_put(&line, offers);
	if (*field_text(found, "adopted"))
		text_putf(&line, "  (adopted as %s)", field_text(found, "adopted"));
	(void)puts(buffer);
	(void)fflush(stdout); /* a failure stays in the error flag */
}

static enum ctl_status follow_find(const struct ctl *ctl, struct socket *socket, long seconds)
{
	unsigned n = 0;

	for (;;) {
		json_t *found = NULL;
		enum ctl_status status =
			request_notice(ctl, socket, "found", (int)seconds * 1000 + SOCKET_PATIENCE_MS, &found);
		if (status != CTL_DONE)
			return status;
		if (field_true(found, "done")) {
			json_decref(found);
			break;
		}
		n++;
		if (ctl->json)
			field_print(found);
		else
			show_found(ctl, found);
		json_decref(found);
	}
	if (n == 0 && !ctl->json)
		(void)puts("No weight scale was heard. Most are silent until they are pressed or loaded: do that, and "
			   "look again.");
	return ctl_flush();
}

enum ctl_status scale_find(struct ctl *ctl, int argc, char **argv)
{
	struct args args;
	struct socket *socket;
	enum ctl_status status;
	json_t *result = NULL;
	long seconds = FIND_S;

	if (!args_parse(ctl, argc, argv, NULL, 0, 0, 1, &args))
		return CTL_USAGE;
	if (args.n && !args_whole(args.words[0], 1, FIND_MAX_S, &seconds))
		return args_wrong(ctl, "SECONDS is a whole number from 1 to %d.", FIND_MAX_S);
	status = request_follow(ctl, json_pack("[s]", "found"), &socket);
	if (status != CTL_DONE)
		return status;
	status = request_on(ctl, socket, "scale.find", json_pack("{s:i}", "seconds", (int)seconds), &result);
	json_decref(result);
	if (status == CTL_DONE) {
		if (!ctl->json)
			(void)fprintf(stderr, "Looking for %ld seconds; press or load the scale now.\n", seconds);
		status = follow_find(ctl, socket, seconds);
	}
	socket_free(socket);
	return status;
}

/* Adopted scales with the step of their newest weighing, answered or not. Who has sent nothing isn't looked for. */
#define SCALES                                                                                                         \
	"SELECT s.*, CASE WHEN s.newest_at_ms IS NOT NULL THEN coalesce("                                              \
	"(SELECT u.step_g FROM unanswered AS u WHERE u.scale = s.name AND u.step_g IS NOT NULL "                       \
	"ORDER BY u.at_ms DESC LIMIT 1), "                                                                             \
	"(SELECT r.step_g FROM reading AS r WHERE r.scale = s.name AND r.step_g IS NOT NULL "                          \
	"ORDER BY r.at_ms DESC LIMIT 1)) END AS step_g FROM scale_now AS s ORDER BY s.name COLLATE NOCASE"

/* Below the table: what the step of each allows to be told. */
static void tell_fit(const struct ctl *ctl)
{
	char words[SCALE_FIT_SIZE], why[512];
	sqlite3_stmt *row;
	sqlite3 *db;

	if (database_open(ctl->database_path, &db, why, sizeof why) < 0)
		return; /* the list has said it */
	row = database_ask(db, SCALES, NULL, 0);
	while (row && sqlite3_step(row) == SQLITE_ROW) {
		int64_t step_mg = 0;
		(void)database_mg(row, "step_g", &step_mg); /* stays 0: not known */
		prose_printf(ctl, 0, "%s: %s", database_text(row, "name"), scale_fit_words(words, step_mg, ctl->unit));
	}
	(void)sqlite3_finalize(row); /* repeats the error of the step */
	database_close(db);
}

enum ctl_status scale_list(struct ctl *ctl, int argc, char **argv)
{
	static const struct list_column columns[] = {
		{ "SCALE", "name", LIST_TEXT },          { "ADDRESS", "address", LIST_TEXT },
		{ "CONTAINER", "container", LIST_TEXT }, { "ADOPTED", "adopted_at_ms", LIST_NEAR },
		{ "NEWEST", "newest_at_ms", LIST_NEAR }, { "STEP", "step_g", LIST_MASS },
	};
	const struct list list = {
		.sql = SCALES,
		.columns = columns,
		.n_columns = sizeof columns / sizeof *columns,
		.nothing = "No scale is adopted: `bismar scale find` shows those in reach, `bismar scale adopt` takes "
			   "one.",
	};
	enum ctl_status status;
	struct args args;

	if (!args_parse(ctl, argc, argv, NULL, 0, 0, 0, &args))
		return CTL_USAGE;
	status = list_print(ctl, &list);
	if (status == CTL_DONE && !ctl->json) {
		tell_fit(ctl);
		status = ctl_flush();
	}
	return status;
}

enum ctl_status scale_forget(struct ctl *ctl, int argc, char **argv)
{
	return request_named(ctl, argc, argv, "scale.forget", "The scale", "is no longer listened to. Its readings stay.");
}
