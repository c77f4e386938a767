// SPDX-License-Identifier: MIT
/* scale find, adopt, list, forget. */
#include "daemon/ctl/args.h"
#include "daemon/ctl/commands.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/list.h"
#include "daemon/ctl/request.h"
#include "daemon/ctl/text.h"

#define FIND_S 10
#define FIND_MAX_S 120 /* as the daemon's radio has it */

static const char *offers(const json_t *found)
{
	bool weight = false, body = false;
	size_t i;
	json_t *word;

	json_array_foreach(json_object_get(found, "offers"), i, word)
	{
		const char *text = json_string_value(word);
		weight = weight || (text && strcmp(text, "weight-scale") == 0);
		body = body || (text && strcmp(text, "body-composition") == 0);
	}
	return weight && body ? "weight, body" : weight ? "weight" : body ? "body" : "-";
}

/* One line as it comes, so the columns' widths are set beforehand. */
static void show_found(const struct ctl *ctl, const json_t *found)
{
	char buffer[512], signal[16] = "-";
	struct text_line line;
	int64_t rssi;

	if (field_whole(found, "rssi_dbm", &rssi))
		(void)snprintf(signal, sizeof signal, "%d dBm", (int)rssi);
	text_begin(&line, buffer, sizeof buffer, 200, ctl->utf8);
	text_cell(&line, field_text(found, "address"), 17);
	text_putf(&line, "  %8s  ", signal);
	text_cell(&line, offers(found), 12);
	text_put(&line, "  ");
	text_put(&line, *field_text(found, "name") ? field_text(found, "name") : "(no name)");
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
	status = request_open(ctl, &socket);
	if (status != CTL_DONE)
		return status;
	status = request_on(ctl, socket, "follow", json_pack("{s:[s]}", "topics", "found"), &result);
	json_decref(result);
	result = NULL;
	if (status == CTL_DONE)
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

enum ctl_status scale_adopt(struct ctl *ctl, int argc, char **argv)
{
	const char *container = NULL;
	const struct args_option options[] = { { .name = "--container", .value = &container } };
	enum ctl_status status;
	struct args args;
	json_t *params, *result = NULL;

	if (!args_parse(ctl, argc, argv, options, 1, 2, 2, &args))
		return CTL_USAGE;
	params = request_params(ctl);
	(void)field_put(params, "address", args.words[0]); /* a member left out for lack of memory is refused */
	(void)field_put(params, "name", args.words[1]);
	(void)field_put(params, "container", container);
	status = request_call(ctl, "scale.adopt", params, &result);
	if (status != CTL_DONE)
		return status;
	if (ctl->json)
		field_print(result);
	else
		(void)printf("The scale %s (%s) is listened to from now on. Weigh once to wake it; `bismar status` "
			     "shows when it is connected.\n",
			     field_text(result, "scale"), field_text(result, "address"));
	json_decref(result);
	return ctl_flush();
}

enum ctl_status scale_list(struct ctl *ctl, int argc, char **argv)
{
	static const struct list_column columns[] = {
		{ "SCALE", "name", LIST_TEXT },          { "ADDRESS", "address", LIST_TEXT },
		{ "CONTAINER", "container", LIST_TEXT }, { "ADOPTED", "adopted_at_ms", LIST_TIME },
		{ "NEWEST", "newest_at_ms", LIST_TIME },
	};
	const struct list list = {
		.sql = "SELECT * FROM scale_now ORDER BY name COLLATE NOCASE",
		.columns = columns,
		.n_columns = sizeof columns / sizeof *columns,
		.nothing = "No scale is adopted: `bismar scale find` shows those in reach, `bismar scale adopt` takes "
			   "one.",
	};
	struct args args;

	if (!args_parse(ctl, argc, argv, NULL, 0, 0, 0, &args))
		return CTL_USAGE;
	return list_print(ctl, &list);
}

enum ctl_status scale_forget(struct ctl *ctl, int argc, char **argv)
{
	enum ctl_status status;
	struct args args;
	json_t *params, *result = NULL;

	if (!args_parse(ctl, argc, argv, NULL, 0, 1, 1, &args))
		return CTL_USAGE;
	params = request_params(ctl);
	(void)field_put(params, "name", args.words[0]); /* left out for lack of memory, it is refused */
	status = request_call(ctl, "scale.forget", params, &result);
	if (status != CTL_DONE)
		return status;
	if (ctl->json)
		field_print(result);
	else
		(void)printf("The scale %s is no longer listened to. Its readings stay.\n", args.words[0]);
	json_decref(result);
	return ctl_flush();
}
