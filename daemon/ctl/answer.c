// SPDX-License-Identifier: MIT
/* answer, aside, correct, undo. */
#include "daemon/ctl/answer.h"
#include "daemon/ctl/args.h"
#include "daemon/ctl/commands.h"
#include "daemon/ctl/database.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/request.h"
#include "daemon/ctl/show.h"
#include "daemon/ctl/when.h"

enum ctl_status answer_print(const struct ctl *ctl, json_t *result)
{
	char mass[SHOW_SIZE], when[WHEN_SIZE] = "?";
	int64_t net_mg = 0, at_ms;

	if (ctl->json) {
		field_print(result);
	} else {
		(void)field_mg(result, "net_g", &net_mg);
		if (field_time(result, "at", &at_ms))
			when_show_near(when, at_ms, ctl->now_ms);
		(void)printf("%s: %s at %s (reading %s)\n", field_text(result, "name"),
			     show_mass(mass, net_mg, ctl->unit), when, show_tail(field_text(result, "reading")));
	}
	json_decref(result);
	return ctl_flush();
}

enum ctl_status answer_answer(struct ctl *ctl, int argc, char **argv)
{
	const char *ask = NULL;
	const struct args_option options[] = { { .name = "--ask", .value = &ask } };
	enum ctl_status status;
	struct args args;
	json_t *params, *result = NULL;

	if (!args_parse(ctl, argc, argv, options, 1, 1, 1, &args))
		return CTL_USAGE;
	params = request_params(ctl);
	(void)field_put(params, "ask", ask);
	(void)field_put(params, "animal", args.words[0]); /* left out for lack of memory, it is refused */
	status = request_call(ctl, "answer", params, &result);
	return status == CTL_DONE ? answer_print(ctl, result) : status;
}

enum ctl_status answer_aside(struct ctl *ctl, int argc, char **argv)
{
	const char *ask = NULL, *why = NULL;
	const struct args_option options[] = {
		{ .name = "--ask", .value = &ask },
		{ .name = "--why", .value = &why },
	};
	enum ctl_status status;
	struct args args;
	json_t *params, *result = NULL;

	if (!args_parse(ctl, argc, argv, options, 2, 0, 0, &args))
		return CTL_USAGE;
	params = request_params(ctl);
	(void)field_put(params, "ask", ask);
	(void)field_put(params, "why", why);
	status = request_call(ctl, "aside", params, &result);
	if (status != CTL_DONE)
		return status;
	return request_print(ctl, result, "Set aside. `bismar undo --ask %s` takes that back.",
			     show_tail(field_text(result, "ask")));
}

enum ctl_status answer_correct(struct ctl *ctl, int argc, char **argv)
{
	enum ctl_status status;
	struct args args;
	json_t *params, *result = NULL;

	if (!args_parse(ctl, argc, argv, NULL, 0, 2, 2, &args))
		return CTL_USAGE;
	params = request_params(ctl);
	(void)field_put(params, "reading", args.words[0]); /* left out for lack of memory, it is refused */
	(void)field_put(params, "animal", args.words[1]);
	status = request_call(ctl, "correct", params, &result);
	return status == CTL_DONE ? answer_print(ctl, result) : status;
}

/* The reading that was answered last, for undo without --ask. */
static enum ctl_status newest_answered(const struct ctl *ctl, char *ret_id, size_t size)
{
	enum ctl_status status;
	sqlite3_stmt *row;
	sqlite3 *db;
	int r;

	status = database_for(ctl, &db);
	if (status != CTL_DONE)
		return status;
	row = database_ask(db, "SELECT reading_id FROM reading ORDER BY answered_at_ms DESC, reading_id DESC LIMIT 1",
			   NULL, 0);
	r = row ? sqlite3_step(row) : SQLITE_ERROR;
	if (r == SQLITE_ROW) {
		(void)snprintf(ret_id, size, "%s", database_text(row, "reading_id"));
	} else if (r == SQLITE_DONE) {
		ctl_error("There is no answer to take back.");
		status = CTL_REFUSED;
	} else {
		status = database_trouble(ctl, db);
	}
	(void)sqlite3_finalize(row); /* repeats the error of the step */
	database_close(db);
	return status;
}

enum ctl_status answer_undo(struct ctl *ctl, int argc, char **argv)
{
	const char *ask = NULL;
	const struct args_option options[] = { { .name = "--ask", .value = &ask } };
	enum ctl_status status;
	struct args args;
	json_t *params, *result = NULL;
	char newest[64];

	if (!args_parse(ctl, argc, argv, options, 1, 0, 0, &args))
		return CTL_USAGE;
	if (!ask) {
		status = newest_answered(ctl, newest, sizeof newest);
		if (status != CTL_DONE)
			return status;
		ask = newest;
	}
	params = request_params(ctl);
	(void)field_put(params, "ask", ask); /* left out for lack of memory, it is refused */
	status = request_call(ctl, "reopen", params, &result);
	if (status != CTL_DONE)
		return status;
	return request_print(ctl, result, "Taken back; the question %s is open again.",
			     show_tail(field_text(result, "ask")));
}
