// SPDX-License-Identifier: MIT
/* look: what to see and feel at a pup, one key each; and what that means. */
#include "daemon/ctl/args.h"
#include "daemon/ctl/care.h"
#include "daemon/ctl/commands.h"
#include "daemon/ctl/concerns.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/look_keys.h"
#include "daemon/ctl/prose.h"
#include "daemon/ctl/request.h"
#include "daemon/ctl/show.h"
#include "daemon/ctl/terminal.h"
#include <unistd.h>

#define NOT_YET "It doesn't tell at this age: it can wait."

struct look {
	const struct ctl *ctl;
	struct socket *socket;
	const char *who;
	size_t n, at, noted; /* questions; the one that is asked, from 1 on; answers that were kept */
};

/* ---- a question ---- */

static void print_question(const struct ctl *ctl, const json_t *question)
{
	char when[CARE_SIZE];

	prose_print(ctl, 2, field_text(question, "how"));
	if (!field_true(question, "tells_now"))
		prose_print(ctl, 2, NOT_YET);
	if (*field_text(question, "newest"))
		prose_printf(ctl, 2, "Last: %s, %s", field_text(question, "newest"),
			     care_when(when, ctl, question, "newest_at"));
}

/* with_key: the letter that stands for it is shown. */
static void print_answers(const struct ctl *ctl, const json_t *question, bool with_key)
{
	json_t *answer;
	size_t i;

	json_array_foreach (json_object_get(question, "answers"), i, answer) {
		const char *word = field_text(answer, "value");
		char letter[4] = "";
		if (with_key && word[0] != LOOK_QUIT)
			(void)snprintf(letter, sizeof letter, " %c", word[0]);
		prose_printf(ctl, 4, "%zu%*s  %s: %s", i + 1, with_key ? -2 : 0, letter, word,
			     field_text(answer, "plain"));
	}
}

static void print_one(const struct ctl *ctl, const json_t *question)
{
	prose_printf(ctl, 0, "%s: %s", field_text(question, "sign"), field_text(question, "question"));
	print_question(ctl, question);
	print_answers(ctl, question, false);
	if (json_array_size(json_object_get(question, "answers")) == 0)
		prose_print(ctl, 4, "a temperature with its unit: 37.1C or 98.8F");
	prose_printf(ctl, 2, "%s (%s)", field_text(question, "tells"), field_text(question, "source"));
}

/* Those that tell at this age first. Returns a new list. */
static json_t *in_order(const json_t *signs)
{
	json_t *list = json_array(), *one;
	size_t i;

	for (int tells = 1; tells >= 0; tells--)
		json_array_foreach (signs, i, one)
			if (field_true(one, "tells_now") == (tells == 1))
				(void)json_array_append(list, one); /* without memory it isn't asked */
	return list;
}

/* ---- at a terminal ---- */

/* Keeps an answer. CTL_REFUSED was told, and it may be asked again. */
static enum ctl_status note(struct look *look, const json_t *question, const char *value)
{
	json_t *params = request_params(look->ctl), *result = NULL;
	enum ctl_status status;

	(void)field_put(params, "animal", look->who); /* left out for lack of memory, it is refused */
	(void)field_put(params, "sign", field_text(question, "sign"));
	(void)field_put(params, "value", value);
	status = request_on(look->ctl, look->socket, "sign", params, &result);
	if (status != CTL_DONE)
		return status;
	look->noted++;
	prose_printf(look->ctl, 2, "noted: %s%s", field_text(result, "value"),
		     strcmp(field_text(result, "counts"), "worst") == 0
			     ? ". By itself this is a reason to call your vet NOW."
			     : "");
	json_decref(result);
	terminal_drop(); /* a key pressed twice doesn't answer the next question */
	return CTL_DONE;
}

/* The value that was typed, LOOK_SKIPPED or LOOK_STOPPED. */
static enum look_said listen(const json_t *question, char *value, size_t size)
{
	struct look_typed typed = { 0 };
	enum look_said said = LOOK_GOES_ON;
	char key;

	while (said == LOOK_GOES_ON) {
		if (terminal_key(&key) < 0)
			return LOOK_STOPPED;
		said = look_keys_take(&typed, json_object_get(question, "answers"), key);
		(void)printf("\r> %s\033[K", typed.text);
		(void)fflush(stdout); /* told by ctl_flush() */
	}
	(void)putchar('\n');
	(void)snprintf(value, size, "%s", typed.text);
	return said;
}

/* CTL_DONE and whether to go on; CTL_ABSENT when the daemon has gone. */
static enum ctl_status ask(struct look *look, const json_t *question, bool *ret_on)
{
	const struct ctl *ctl = look->ctl;
	enum ctl_status status = CTL_REFUSED;
	char value[LOOK_SIZE];
	enum look_said said;

	(void)printf("\n%s%zu/%zu %s%s\n", ctl->bold ? "\033[1m" : "", look->at, look->n,
		     field_text(question, "question"), ctl->bold ? "\033[0m" : "");
	print_question(ctl, question);
	print_answers(ctl, question, true);
	if (json_array_size(json_object_get(question, "answers")) == 0)
		prose_print(ctl, 4, "Type it with its unit, 37.1C or 98.8F: C or F ends it.");
	while (status == CTL_REFUSED) {
		(void)printf("> ");
		(void)fflush(stdout); /* told by ctl_flush() */
		said = listen(question, value, sizeof value);
		*ret_on = said != LOOK_STOPPED;
		if (said != LOOK_ANSWERED)
			return CTL_DONE;
		status = note(look, question, value);
	}
	return status;
}

static enum ctl_status walk(struct look *look, const json_t *questions)
{
	enum ctl_status status = CTL_DONE;
	bool on = true;
	json_t *one;
	size_t i;

	prose_print(look->ctl, 0, "A digit or the letter beside it answers; Enter or space skips; q stops. " SHOW_VET);
	json_array_foreach (questions, i, one) {
		look->at = i + 1;
		status = ask(look, one, &on);
		if (!on || status != CTL_DONE)
			break;
	}
	if (status == CTL_DONE)
		(void)printf("\n%s%zu of %zu noted.\n", on ? "" : "Stopped. ", look->noted, look->n);
	return status;
}

static enum ctl_status tell_concerns(struct look *look, const char *name)
{
	json_t *params = json_object(), *result = NULL;
	enum ctl_status status;

	(void)field_put(params, "who", name); /* left out for lack of memory, all are told */
	status = request_on(look->ctl, look->socket, "concerns", params, &result);
	if (status != CTL_DONE)
		return status;
	concerns_print(look->ctl, result);
	json_decref(result);
	return CTL_DONE;
}

static enum ctl_status at_terminal(const struct ctl *ctl, const char *id, const json_t *questions)
{
	struct look look = { .ctl = ctl, .who = id, .n = json_array_size(questions) };
	struct terminal *terminal;
	enum ctl_status status = request_open(ctl, &look.socket);
	int r;

	if (status != CTL_DONE)
		return status;
	r = terminal_new(&terminal);
	if (r < 0) {
		ctl_error("The terminal can't be used: %s.", strerror(-r));
		socket_free(look.socket);
		return CTL_REFUSED;
	}
	status = walk(&look, questions);
	(void)fflush(stdout); /* told by ctl_flush() */
	terminal_leave(terminal);
	if (status == CTL_DONE)
		status = tell_concerns(&look, id);
	socket_free(look.socket);
	return status;
}

static void print_list(const struct ctl *ctl, const json_t *result, const json_t *questions)
{
	json_t *one;
	size_t i;

	json_array_foreach (questions, i, one)
		if (ctl->json)
			field_print(one);
		else
			print_one(ctl, one);
	if (ctl->json)
		return;
	prose_printf(ctl, 0, "What you see goes in by: bismar sign \"%s\" SIGN ANSWER", field_text(result, "name"));
	care_end(ctl, NULL);
}

enum ctl_status look_run(struct ctl *ctl, int argc, char **argv)
{
	bool list = false;
	const struct args_option options[] = { { .name = "--list", .flag = &list } };
	json_t *params, *result = NULL, *questions;
	enum ctl_status status;
	struct args args;

	if (!args_parse(ctl, argc, argv, options, 1, 1, 1, &args))
		return CTL_USAGE;
	params = json_object();
	(void)field_put(params, "animal", args.words[0]); /* left out for lack of memory, it is refused */
	status = request_call(ctl, "look", params, &result);
	if (status != CTL_DONE)
		return status;
	questions = in_order(json_object_get(result, "signs"));
	if (!list && !ctl->json && isatty(STDIN_FILENO) && isatty(STDOUT_FILENO))
		status = at_terminal(ctl, field_text(result, "animal"), questions);
	else
		print_list(ctl, result, questions);
	json_decref(questions);
	json_decref(result);
	return status == CTL_DONE ? ctl_flush() : status;
}
