// SPDX-License-Identifier: MIT
/* The table of checks, and the command. */
#include "daemon/ctl/checkup.h"
#include "daemon/ctl/args.h"
#include "daemon/ctl/commands.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/text.h"
#include <stdarg.h>

#define WIDTH 80
#define MARK 7 /* "to do" and its gap */
#define INDENT (MARK + 12)

/* In the order of the chain: what comes first is the likeliest cause of what comes after. */
const struct checkup_check checkup_checks[] = {
	{ "kernel", checkup_kernel },         /* Bluetooth in the kernel */
	{ "adapter", checkup_adapter },       /* an adapter that it drives */
	{ "switch", checkup_rfkill },         /* not switched off */
	{ "bluetoothd", checkup_bluetoothd }, /* runs */
	{ "policy", checkup_policy },         /* and may be spoken to */
	{ "power", checkup_power },           /* the adapter is on */
	{ "service", checkup_service },       /* bismard is run, and will be after a restart */
	{ "socket", checkup_socket },         /* and answers */
	{ "rights", checkup_group },          /* this user */
	{ "version", checkup_version },       /* the daemon's is this program's */
	{ "database", checkup_database },     /* readable and sound */
	{ "disk", checkup_disk },             /* has room for it */
	{ "clock", checkup_clock },           /* so that times are right */
	{ "scale", checkup_scales },          /* each adopted one has spoken */
	{ "container", checkup_containers },  /* weighs what it weighed */
};
const size_t checkup_n_checks = sizeof checkup_checks / sizeof *checkup_checks;

void checkup_look(struct checkup *checkup)
{
	for (size_t i = 0; i < checkup_n_checks; i++) {
		checkup->check = checkup_checks[i].name;
		checkup_checks[i].look(checkup);
	}
}

void checkup_good(struct checkup *checkup, const char *format, ...)
{
	struct checkup_line line = { .check = checkup->check, .good = true };
	va_list list;

	va_start(list, format);
	(void)vsnprintf(line.say, sizeof line.say, format, list);
	va_end(list);
	checkup->said(checkup->userdata, &line);
}

void checkup_todo(struct checkup *checkup, const char *todo, const char *format, ...)
{
	struct checkup_line line = { .check = checkup->check };
	va_list list;

	va_start(list, format);
	(void)vsnprintf(line.say, sizeof line.say, format, list);
	va_end(list);
	(void)snprintf(line.todo, sizeof line.todo, "%s", todo);
	checkup->n_todo++;
	checkup->said(checkup->userdata, &line);
}

/* ---- the command ---- */

static void print_json(const struct checkup_line *line)
{
	json_t *object = json_pack("{s:s, s:b, s:s, s:o}", "check", line->check, "good", line->good, "say", line->say,
				   "todo", line->good ? json_null() : json_string(line->todo));

	field_print(object);
	json_decref(object);
}

static void print_wrapped(const struct ctl *ctl, const char *mark, const char *check, const char *text)
{
	char buffer[1024], piece[512];
	struct text_line line;

	do {
		text_begin(&line, buffer, sizeof buffer, WIDTH, ctl->utf8);
		text_cell(&line, mark, MARK);
		text_cell(&line, check, INDENT - MARK);
		text = text_wrap(piece, sizeof piece, text, WIDTH - INDENT, ctl->utf8);
		text_put(&line, piece);
		(void)puts(buffer); /* a failure stays in the error flag */
		mark = check = "";
	} while (*text);
}

static void print_line(void *userdata, const struct checkup_line *line)
{
	const struct ctl *ctl = userdata;

	if (ctl->json) {
		print_json(line);
	} else {
		print_wrapped(ctl, line->good ? "good" : "to do", line->check, line->say);
		if (!line->good)
			print_wrapped(ctl, "", "", line->todo);
	}
	(void)fflush(stdout); /* a check may take a while; a failure stays in the error flag */
}

enum ctl_status checkup_run(struct ctl *ctl, int argc, char **argv)
{
	struct checkup checkup = {
		.ctl = ctl,
		.sys = "/sys",
		.proc = "/proc",
		.etc = "/etc",
		.said = print_line,
		.userdata = ctl,
	};
	enum ctl_status status;
	struct args args;

	if (!args_parse(ctl, argc, argv, NULL, 0, 0, 0, &args))
		return CTL_USAGE;
	checkup_ask(&checkup);
	checkup_look(&checkup);
	checkup_forget(&checkup);
	if (!ctl->json && checkup.n_todo == 0)
		(void)puts("All is good.");
	else if (!ctl->json)
		(void)printf("%u %s to do; begin with the first.\n", checkup.n_todo,
			     checkup.n_todo == 1 ? "thing is" : "things are");
	status = ctl_flush();
	return status == CTL_DONE && checkup.n_todo ? CTL_REFUSED : status;
}
