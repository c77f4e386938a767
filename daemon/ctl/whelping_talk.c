// SPDX-License-Identifier: MIT
/* The dialogue of `bismar whelping L`: a key or a word each, for wet hands; the weight comes off the scale. */
#include "daemon/ctl/field.h"
#include "daemon/ctl/prose.h"
#include "daemon/ctl/request.h"
#include "daemon/ctl/show.h"
#include "daemon/ctl/terminal.h"
#include "daemon/ctl/when.h"
#include "daemon/ctl/whelping.h"
#include "daemon/ctl/whelping_keys.h"
#include "daemon/litter/apgar.h"
#include <ctype.h>
#include <errno.h>
#include <poll.h>
#include <strings.h>
#include <unistd.h>

#define REMIND_MS (15 * 60 * 1000) /* how often the time since the last pup is told by itself */
#define ASKS 9                     /* weighings that are offered by number */

enum step { STEP_MENU, STEP_SEX, STEP_COLLAR, STEP_WEIGHT, STEP_SCORE_WHO, STEP_SCORE, STEP_LOST, STEP_END };

struct talk {
	const struct ctl *ctl;
	const char *litter;
	struct socket *socket;
	enum step step;
	enum ctl_status status;
	bool over, ended; /* ended: standard input */
	bool stillborn;
	char sex[2], collar[128], who[128];
	char asks[ASKS][64];
	size_t n_asks;
	struct terminal *terminal; /* NULL: lines */
	struct whelping_line line;
};

/* ---- requests ---- */

/* False: it was refused (and said why), or the daemon is gone, which ends the dialogue. */
static bool call(struct talk *talk, const char *method, json_t *params, json_t **ret_result)
{
	enum ctl_status status = request_on(talk->ctl, talk->socket, method, params, ret_result);

	if (status == CTL_ABSENT) {
		talk->status = status;
		talk->over = true;
	}
	return status == CTL_DONE;
}

static void show(struct talk *talk)
{
	json_t *params = json_object(), *result = NULL;
	const json_t *list;

	(void)field_put(params, "litter", talk->litter); /* left out for lack of memory, all are shown */
	if (!call(talk, "whelping", params, &result))
		return;
	list = json_object_get(result, "whelpings");
	if (json_array_size(list))
		whelping_print(talk->ctl, json_array_get(list, 0), ctl_now_ms());
	if (json_array_size(list) == 0 || field_true(json_array_get(list, 0), "ended"))
		prose_printf(talk->ctl, 0, "No whelping of %s is open: b begins one.", talk->litter);
	json_decref(result);
}

static void simple(struct talk *talk, const char *method)
{
	json_t *params = request_params(talk->ctl), *result = NULL;

	(void)field_put(params, "litter",
			talk->litter); /* left out for lack of memory, it is refused or the only one */
	if (call(talk, method, params, &result))
		whelping_print(talk->ctl, result, ctl_now_ms());
	json_decref(result);
}

/* ask, birth: at most one isn't NULL. */
static void add_pup(struct talk *talk, const char *ask, const char *birth)
{
	json_t *params = request_params(talk->ctl), *result = NULL;

	if (field_put(params, "litter", talk->litter) < 0 || field_put(params, "ask", ask) < 0 ||
	    field_put(params, "birth", birth) < 0 || field_put(params, "sex", *talk->sex ? talk->sex : NULL) < 0 ||
	    field_put(params, "collar", *talk->collar ? talk->collar : NULL) < 0 ||
	    field_put(params, "stillborn", talk->stillborn ? "yes" : NULL) < 0) {
		json_decref(params); /* without them it would be another pup */
		params = NULL;
	}
	if (call(talk, "whelping.pup", params, &result))
		whelping_print_pup(talk->ctl, result);
	json_decref(result);
	talk->step = STEP_MENU;
}

/* ---- questions ---- */

static void ask_weight(struct talk *talk)
{
	json_t *result = NULL, *one;
	size_t i;

	talk->n_asks = 0;
	if (!call(talk, "asks", json_object(), &result))
		return;
	json_array_foreach (json_object_get(result, "asks"), i, one) {
		char mass[SHOW_SIZE], when[WHEN_SIZE] = "?";
		int64_t mg = 0, at_ms;
		if (talk->n_asks == ASKS)
			break;
		field_copy(one, "ask", talk->asks[talk->n_asks++], sizeof *talk->asks);
		(void)field_mg(one, "net_g", &mg); /* stays 0 */
		if (field_time(one, "at", &at_ms))
			when_show_near(when, at_ms, ctl_now_ms());
		(void)printf("  %zu: %s, weighed %s%s\n", talk->n_asks, show_mass(mass, mg, talk->ctl->unit), when,
			     strcmp(field_text(one, "state"), "restless") == 0 ? ", restless" : "");
	}
	json_decref(result);
	(void)printf("Weight? %s, or type it (305g). -: not yet.\n", talk->n_asks == 0 ? "Put it on the scale"
								     : talk->n_asks == 1
									     ? "Enter: the one above"
									     : "The number of a weighing above");
}

static void ask_score(struct talk *talk)
{
	for (int i = 0; i < APGAR_ITEMS; i++) {
		const struct apgar_row *row = apgar_row((enum apgar_item)i);
		prose_printf(talk->ctl, 0, "%d. %s", i + 1, row->question);
		for (int points = 0; points < 3; points++)
			prose_printf(talk->ctl, 5, "%d: %s", points, row->points[points]);
	}
	prose_print(talk->ctl, 0,
		    "Five digits in that order, such as 21222. Keep it warm and dry meanwhile. -: not now.");
}

static void ask(struct talk *talk)
{
	switch (talk->step) {
	case STEP_MENU:
		prose_print(talk->ctl, 0, "p pup, s stillborn, a score, l lost, Enter: look, e end, q leave");
		break;
	case STEP_SEX:
		(void)puts("f or m? Enter: not seen.");
		break;
	case STEP_COLLAR:
		(void)puts("Collar? Enter: none.");
		break;
	case STEP_WEIGHT:
		ask_weight(talk);
		break;
	case STEP_SCORE_WHO:
		(void)puts("Score of whom? -: not now.");
		break;
	case STEP_SCORE:
		ask_score(talk);
		break;
	case STEP_END:
		(void)puts("Have all come? y ends the whelping; any other key: no.");
		break;
	case STEP_LOST:
		prose_print(talk->ctl, 0,
			    "Which pup has died? Its name takes it off the list, and can't be taken back. -: none.");
		break;
	}
	(void)fflush(stdout); /* its failure stays in the error flag, for ctl_flush() */
}

/* ---- answers ---- */

static void take_menu(struct talk *talk, const char *line)
{
	if (line[0] && line[1] && strcasecmp(line, "quit") != 0) {
		(void)puts("One letter.");
		return;
	}
	*talk->sex = *talk->collar = '\0';
	talk->stillborn = strcasecmp(line, "s") == 0;
	switch (tolower((unsigned char)*line)) {
	case 'p':
	case 's':
		talk->step = STEP_SEX;
		break;
	case 'a':
		talk->step = STEP_SCORE_WHO;
		break;
	case 'l':
		talk->step = STEP_LOST;
		break;
	case 'b':
		simple(talk, "whelping.begin");
		break;
	case 'e':
		talk->step = STEP_END;
		break;
	case 'q':
		talk->over = true;
		break;
	case '\0':
		show(talk);
		break;
	default:
		(void)puts("That is none of them.");
	}
}

static void take_sex(struct talk *talk, const char *line)
{
	if (*line && strcasecmp(line, "f") != 0 && strcasecmp(line, "m") != 0)
		return; /* asked again */
	(void)snprintf(talk->sex, sizeof talk->sex, "%s", strcasecmp(line, "f") == 0 ? "f" : *line ? "m" : "");
	talk->step = talk->stillborn ? STEP_WEIGHT : STEP_COLLAR;
}

static void take_weight(struct talk *talk, const char *line)
{
	char *end;
	unsigned long number = strtoul(line, &end, 10);

	if (strcmp(line, "-") == 0)
		add_pup(talk, NULL, NULL);
	else if (!*line && talk->n_asks == 1)
		add_pup(talk, talk->asks[0], NULL);
	else if (*line && !*end && number >= 1 && number <= talk->n_asks)
		add_pup(talk, talk->asks[number - 1], NULL);
	else if (*line && *end)
		add_pup(talk, NULL, line); /* the daemon judges it */
	/* a bare number that is none of them, or Enter with none or several, is asked again */
}

static void take_score(struct talk *talk, const char *line)
{
	json_t *params, *result = NULL;
	uint8_t points[APGAR_ITEMS];

	if (strcmp(line, "-") == 0) {
		talk->step = STEP_MENU;
		return;
	}
	if (apgar_parse(line, points) != 0)
		return; /* asked again */
	params = request_params(talk->ctl);
	(void)field_put(params, "animal", talk->who); /* left out for lack of memory, it is refused */
	(void)field_put(params, "points", line);
	if (call(talk, "whelping.score", params, &result))
		whelping_print_score(talk->ctl, result);
	json_decref(result);
	talk->step = STEP_MENU;
}

static void take_lost(struct talk *talk, const char *who)
{
	json_t *params, *result = NULL;

	talk->step = STEP_MENU;
	if (!*who || strcmp(who, "-") == 0)
		return;
	params = request_params(talk->ctl);
	(void)field_put(params, "name", who); /* left out for lack of memory, it is refused */
	(void)field_put(params, "why", "died at whelping");
	if (call(talk, "animal.gone", params, &result))
		prose_printf(talk->ctl, 0, "%s is off the list; its record stays.", field_text(result, "name"));
	json_decref(result);
}

static void take_line(struct talk *talk, char *line)
{
	size_t n = strlen(line);

	while (n && (line[n - 1] == ' ' || line[n - 1] == '\r' || line[n - 1] == '\t'))
		line[--n] = '\0';
	line += strspn(line, " \t");
	switch (talk->step) {
	case STEP_MENU:
		take_menu(talk, line);
		break;
	case STEP_SEX:
		take_sex(talk, line);
		break;
	case STEP_COLLAR:
		(void)snprintf(talk->collar, sizeof talk->collar, "%s", line);
		talk->step = STEP_WEIGHT;
		break;
	case STEP_WEIGHT:
		take_weight(talk, line);
		break;
	case STEP_SCORE_WHO:
		(void)snprintf(talk->who, sizeof talk->who, "%s", line);
		talk->step = strcmp(line, "-") == 0 ? STEP_MENU : *line ? STEP_SCORE : STEP_SCORE_WHO;
		break;
	case STEP_SCORE:
		take_score(talk, line);
		break;
	case STEP_LOST:
		take_lost(talk, line);
		break;
	case STEP_END:
		talk->step = STEP_MENU;
		if (strcasecmp(line, "y") == 0)
			simple(talk, "whelping.end");
		break;
	}
	if (!talk->over)
		ask(talk);
}

/* ---- the loop ---- */

static enum whelping_takes takes(const struct talk *talk)
{
	if (!talk->terminal)
		return WHELPING_TEXT;
	switch (talk->step) {
	case STEP_MENU:
	case STEP_SEX:
	case STEP_END:
		return WHELPING_KEY;
	case STEP_SCORE:
		return WHELPING_DIGITS;
	case STEP_COLLAR:
	case STEP_WEIGHT:
	case STEP_SCORE_WHO:
	case STEP_LOST:
		return WHELPING_TEXT;
	}
	return WHELPING_TEXT;
}

/* The terminal doesn't echo by itself, so that one key is enough. */
static void echo(const struct talk *talk)
{
	if (talk->terminal)
		(void)printf("\r> %s\033[K", talk->line.text);
	(void)fflush(stdout); /* its failure stays in the error flag, for ctl_flush() */
}

static void read_person(struct talk *talk)
{
	char octets[256], answer[WHELPING_LINE];
	ssize_t n = read(STDIN_FILENO, octets, sizeof octets);
	enum whelping_typed typed;

	if (n < 0 && errno == EINTR)
		return;
	talk->ended = n <= 0;
	for (ssize_t i = 0; i < n && !talk->over; i++) {
		typed = whelping_keys_take(&talk->line, takes(talk), octets[i]);
		if (typed == WHELPING_LEAVE)
			talk->over = true;
		if (typed == WHELPING_ANSWER) {
			echo(talk);
			if (talk->terminal)
				(void)putchar('\n');
			(void)snprintf(answer, sizeof answer, "%s", talk->line.text);
			talk->line = (struct whelping_line){ .n = 0 };
			take_line(talk, answer);
		}
	}
	if (!talk->over)
		echo(talk);
}

/* While the weight is asked for, a weighing is told at once. */
static void read_socket(struct talk *talk)
{
	bool again = false;
	json_t *message;
	char text[512];
	int r = socket_fill(talk->socket);

	while (r == 0 && (r = socket_next(talk->socket, &message)) == SOCKET_MESSAGE) {
		const char *method = field_text(message, "method");
		again = again || strcmp(method, "ask") == 0 || strcmp(method, "withdraw") == 0;
		json_decref(message);
	}
	if (r < 0) {
		request_trouble(talk->ctl->socket_path, r, text, sizeof text);
		ctl_error("%s", text);
		talk->status = CTL_ABSENT;
		talk->over = true;
	} else if (again && talk->step == STEP_WEIGHT) {
		ask(talk);
		if (talk->line.n)
			echo(talk); /* what was typed so far */
	}
}

enum ctl_status whelping_talk(const struct ctl *ctl, const char *litter)
{
	struct talk talk = { .ctl = ctl, .litter = litter };
	enum ctl_status status = request_open(ctl, &talk.socket), flushed;

	if (status != CTL_DONE)
		return status;
	if (isatty(STDIN_FILENO) && isatty(STDOUT_FILENO) && terminal_new(&talk.terminal) < 0)
		talk.terminal = NULL; /* then each answer is a line */
	show(&talk);
	if (!talk.over)
		ask(&talk);
	while (!talk.over && !talk.ended) {
		struct pollfd fds[] = { { .fd = STDIN_FILENO, .events = POLLIN },
					{ .fd = socket_fd(talk.socket), .events = POLLIN } };
		int n = poll(fds, 2, REMIND_MS);

		if (n < 0 && errno != EINTR)
			break;
		if (n == 0 && talk.step == STEP_MENU) {
			show(&talk);
			if (!talk.over)
				ask(&talk);
		}
		if (n > 0 && fds[1].revents)
			read_socket(&talk);
		if (n > 0 && fds[0].revents && !talk.over)
			read_person(&talk);
	}
	(void)fflush(stdout); /* told by ctl_flush() */
	talk.terminal = terminal_leave(talk.terminal);
	(void)socket_free(talk.socket);
	flushed = ctl_flush();
	return talk.status == CTL_DONE ? flushed : talk.status;
}
