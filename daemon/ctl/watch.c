// SPDX-License-Identifier: MIT
/*
 * watch: the loop around the board. One poll(2) over signals, the socket and the keys; what is seen and said is in
 * watch_board.c, watch_input.c, watch_draw.c and watch_lines.c.
 */
#include "daemon/ctl/args.h"
#include "daemon/ctl/commands.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/request.h"
#include "daemon/ctl/terminal.h"
#include "daemon/ctl/watch_asks.h"
#include "daemon/ctl/watch_draw.h"
#include "daemon/ctl/watch_input.h"
#include "daemon/ctl/watch_ledger.h"
#include "daemon/ctl/watch_lines.h"
#include <errno.h>
#include <poll.h>
#include <signal.h>
#include <sys/signalfd.h>
#include <unistd.h>

#define RECONNECT_MS 2000
#define STATUS_MS 30000 /* the radio's trouble has no notification */
#define INPUT 512

struct watch {
	const struct ctl *ctl;
	struct watch_board board;
	struct socket *socket;     /* NULL: not connected */
	struct terminal *terminal; /* NULL: lines */
	int signals;
	bool quiet, leave;
	bool synced;    /* the open asks have been told: they come before the answer to `status` */
	bool told_down; /* lines: the lost connection was told */
	int64_t reconnect_at, status_at, give_up_at; /* monotonic ms */
	int64_t status_id, action_id;                /* requests under way; 0 none */
	struct watch_action action;
	bool input_open;
	char input[INPUT]; /* lines: what has no end yet */
	size_t n_input;
	char told_ask[WATCH_ID]; /* lines: the question that was printed last */
	struct screen now, before;
	bool painted; /* before is what the terminal shows */
	char paint[SCREEN_PAINT_SIZE];
};

static int64_t monotonic_ms(void)
{
	struct timespec now = { 0 };

	(void)clock_gettime(CLOCK_MONOTONIC, &now); /* can't fail for this clock */
	return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

static struct watch_look look_of(const struct watch *watch)
{
	return (struct watch_look){ .now_ms = ctl_now_ms(), .unit = watch->ctl->unit };
}

/* ---- the connection ---- */

static void disconnect(struct watch *watch, int r)
{
	char why[WATCH_TEXT];

	watch->socket = socket_free(watch->socket);
	request_trouble(watch->ctl->socket_path, r, why, sizeof why);
	watch_board_down(&watch->board, why);
	watch->status_id = watch->action_id = 0;
	watch->synced = false;
	watch->told_ask[0] = '\0';
	watch->reconnect_at = monotonic_ms() + RECONNECT_MS;
	if (!watch->terminal && !watch->told_down)
		ctl_error("%s Trying again every 2 s.", why);
	watch->told_down = true;
}

static void request(struct watch *watch, const char *method, json_t *params, int64_t *ret_id)
{
	int r = params ? socket_send(watch->socket, method, params, ret_id) : -ENOMEM;

	json_decref(params);
	if (r < 0)
		disconnect(watch, r);
}

static void ask_status(struct watch *watch)
{
	watch->status_at = monotonic_ms() + STATUS_MS;
	if (watch->status_id == 0)
		request(watch, "status", json_object(), &watch->status_id);
}

static void connect_again(struct watch *watch)
{
	int64_t id = 0;
	int r = socket_new(watch->ctl->socket_path, &watch->socket);

	if (r < 0) {
		disconnect(watch, r);
		return;
	}
	if (watch->told_down && !watch->terminal)
		ctl_error("Connected again.");
	watch->told_down = false;
	watch_board_up(&watch->board);
	request(watch, "follow",
		json_pack("{s:[s, s, s, s, s, s, s, s, s]}", "topics", "ask", "withdraw", "recorded", "live", "concern",
			  "scale", "container", "round", "imported"),
		&id);
	if (watch->socket)
		ask_status(watch);
}

/* ---- what comes in ---- */

static void take_notice(struct watch *watch, const char *topic, json_t *params)
{
	struct watch_look look = look_of(watch);
	const char *id = field_text(params, "ask");
	bool was_open = false; /* and isn't closed from here */

	if (watch->ctl->json) {
		watch_lines_json(topic, params);
		return;
	}
	for (size_t i = 0; i < watch->board.n_asks; i++)
		was_open = was_open || (strcmp(watch->board.asks[i].id, id) == 0 &&
					!(watch->action_id && strcmp(watch->action.ask, id) == 0));
	(void)watch_board_notice(&watch->board, topic, params, look.now_ms); /* drawn anew anyway */
	if (!watch->terminal)
		watch_lines_notice(&look, topic, params, was_open);
}

static void take_message(struct watch *watch, const json_t *message)
{
	const char *topic = field_text(message, "method");

	if (*topic) {
		take_notice(watch, topic, json_object_get(message, "params"));
	} else if (watch->status_id && socket_answers(message, watch->status_id)) {
		watch->status_id = 0;
		watch->synced = true;
		watch_board_status(&watch->board, json_object_get(message, "result"));
	} else if (watch->action_id && socket_answers(message, watch->action_id)) {
		watch->action_id = 0;
		watch_board_result(&watch->board, &watch->action, json_object_get(message, "result"),
				   json_object_get(message, "error"), ctl_now_ms());
		/* lines: what was recorded has been told by its notification */
		if (watch->action.what == WATCH_ANSWER && !watch->board.message_bad && !watch->terminal)
			watch->board.message[0] = '\0';
	}
}

static void take_socket(struct watch *watch)
{
	int r = socket_fill(watch->socket);

	while (r == 0 && watch->socket) {
		json_t *message = NULL;
		r = socket_next(watch->socket, &message);
		if (r == SOCKET_EMPTY)
			return;
		if (r == SOCKET_MESSAGE)
			take_message(watch, message);
		json_decref(message);
	}
	if (r < 0 && watch->socket)
		disconnect(watch, r);
}

/* ---- what the person does ---- */

static void act(struct watch *watch, const struct watch_action *action)
{
	json_t *params;

	if (action->what == WATCH_NOTHING)
		return;
	if (action->what == WATCH_LEAVE) {
		watch->leave = true;
		return;
	}
	if (action->what == WATCH_REDRAW) {
		watch->painted = false;
		return;
	}
	params = request_params(watch->ctl);
	(void)field_put(params, "ask", action->ask); /* left out for lack of memory, it is refused */
	if (action->what == WATCH_ANSWER)
		(void)field_put(params, "animal", action->word);
	watch->action = *action;
	watch->give_up_at = monotonic_ms() + SOCKET_PATIENCE_MS;
	if (action->what == WATCH_BIRTH)
		(void)field_put(params, "litter", action->word); /* left out: of the only whelping that is open */
	request(watch,
		action->what == WATCH_ANSWER  ? "answer"
		: action->what == WATCH_ASIDE ? "aside"
		: action->what == WATCH_BIRTH ? "whelping.pup"
					      : "reopen",
		params, &watch->action_id);
}

static void take_keys(struct watch *watch, const char *octets, size_t n)
{
	while (n > 0) {
		struct watch_action action;
		struct watch_key key;
		size_t used = watch_keys_next(octets, n, &key);
		watch_input_key(&watch->board, &key, ctl_now_ms(), &action);
		act(watch, &action);
		octets += used;
		n -= used;
	}
}

/* One line at a time: the next is taken once the answer to this one has come. */
static void take_line(struct watch *watch)
{
	char *end = memchr(watch->input, '\n', watch->n_input);
	struct watch_look look = look_of(watch);
	struct watch_action action;
	size_t n;

	if (!end && watch->n_input == INPUT) {
		watch->n_input = 0; /* longer than any name: not an answer */
		ctl_error("That line is too long.");
	}
	if (!end)
		return;
	*end = '\0';
	n = strlen(watch->input);
	while (n > 0 && (watch->input[n - 1] == '\r' || watch->input[n - 1] == ' '))
		watch->input[--n] = '\0';
	if (strcmp(watch->input, "?") == 0) {
		watch_lines_ask(&watch->board, &look);
	} else {
		watch_input_line(&watch->board, watch->input, look.now_ms, &action);
		act(watch, &action);
	}
	n = (size_t)(end - watch->input) + 1;
	memmove(watch->input, end + 1, watch->n_input - n);
	watch->n_input -= n;
}

static void take_input(struct watch *watch)
{
	char octets[256];
	size_t room = watch->terminal ? sizeof octets : INPUT - watch->n_input;
	ssize_t n = read(STDIN_FILENO, watch->terminal ? octets : watch->input + watch->n_input, room);

	if (n < 0 && (errno == EINTR || errno == EAGAIN))
		return;
	if (n <= 0) {
		watch->input_open = false;
		/* a person's end of input is the wish to go; a script's only means that it has no more to say */
		watch->leave = watch->leave || watch->terminal || isatty(STDIN_FILENO);
		return;
	}
	if (watch->terminal)
		take_keys(watch, octets, (size_t)n);
	else
		watch->n_input += (size_t)n;
}

static void take_signal(struct watch *watch)
{
	struct signalfd_siginfo info;

	if (read(watch->signals, &info, sizeof info) != sizeof info)
		return;
	if (info.ssi_signo != SIGWINCH && info.ssi_signo != SIGCONT) {
		watch->leave = true;
		return;
	}
	if (watch->terminal)
		terminal_resume(watch->terminal);
	watch->painted = false;
}

/* ---- what is shown ---- */

static void show_screen(struct watch *watch)
{
	struct watch_look look = look_of(watch);
	unsigned width, height;
	size_t n;

	if (watch->board.bell && watch->synced && !watch->quiet)
		watch->leave = watch->leave || terminal_write("\a", 1) < 0;
	watch->board.bell = false;
	terminal_size(&width, &height);
	screen_clear(&watch->now, width, height, watch->ctl->utf8);
	watch_draw(&watch->board, &look, &watch->now);
	n = screen_paint(&watch->now, watch->painted ? &watch->before : NULL, watch->paint, sizeof watch->paint);
	if (terminal_write(watch->paint, n) < 0)
		watch->leave = true;
	watch->before = watch->now;
	watch->painted = true;
}

static void show_lines(struct watch *watch)
{
	struct watch_look look = look_of(watch);
	const struct watch_ask *ask = watch_asks_shown(&watch->board);

	if (*watch->board.message && watch->board.message_bad)
		ctl_error("%s", watch->board.message);
	else if (*watch->board.message)
		watch_lines_print(watch->board.message);
	watch->board.message[0] = '\0';
	if (ask && strcmp(ask->id, watch->told_ask) != 0 && watch->synced)
		watch_lines_ask(&watch->board, &look);
	if (watch->synced)
		(void)snprintf(watch->told_ask, sizeof watch->told_ask, "%s", ask ? ask->id : "");
	if (fflush(stdout) != 0)
		watch->leave = true;
}

static int timeout_ms(const struct watch *watch)
{
	int64_t now = monotonic_ms(), wall = ctl_now_ms();
	int64_t wait = watch->terminal ? watch_board_wake_ms(&watch->board, wall) - wall : STATUS_MS;
	int64_t at = watch->socket ? watch->status_at : watch->reconnect_at;

	if (at - now < wait)
		wait = at - now;
	if (watch->action_id && watch->give_up_at - now < wait)
		wait = watch->give_up_at - now;
	return wait < 0 ? 0 : (int)wait;
}

static void wait_and_take(struct watch *watch)
{
	/* lines: an answer is for the question that was told, so none is read before; and one after the other */
	bool want_input = watch->input_open &&
			  (watch->terminal || (watch->synced && !watch->board.busy && watch->n_input < INPUT));
	struct pollfd fds[] = {
		{ .fd = watch->signals, .events = POLLIN },
		{ .fd = watch->socket ? socket_fd(watch->socket) : -1, .events = POLLIN },
		{ .fd = want_input ? STDIN_FILENO : -1, .events = POLLIN },
		{ .fd = watch->terminal ? -1 : STDOUT_FILENO, .events = 0 }, /* tells when the reader has gone */
	};

	if (poll(fds, sizeof fds / sizeof *fds, timeout_ms(watch)) < 0) {
		watch->leave = watch->leave || errno != EINTR;
		return;
	}
	if (fds[0].revents)
		take_signal(watch);
	if (fds[1].revents)
		take_socket(watch);
	if (fds[2].revents && !watch->leave)
		take_input(watch);
	if (fds[3].revents & (POLLERR | POLLHUP))
		watch->leave = true;
}

static void run(struct watch *watch)
{
	while (!watch->leave) {
		int64_t now = monotonic_ms();
		if (!watch->socket && now >= watch->reconnect_at)
			connect_again(watch);
		else if (watch->socket && now >= watch->status_at)
			ask_status(watch);
		if (watch->action_id && now >= watch->give_up_at)
			disconnect(watch, -ETIMEDOUT);
		if (watch->board.stale && !watch->ctl->json)
			watch_ledger_load(watch->ctl->database_path, &watch->board);
		watch->board.stale = false;
		if (watch->terminal)
			show_screen(watch);
		else
			show_lines(watch);
		if (!watch->terminal && watch->synced && !watch->board.busy &&
		    memchr(watch->input, '\n', watch->n_input))
			take_line(watch);
		else
			wait_and_take(watch);
	}
}

static int open_signals(void)
{
	sigset_t set;

	(void)sigemptyset(&set); /* these four can't fail for valid signals */
	(void)sigaddset(&set, SIGINT);
	(void)sigaddset(&set, SIGTERM);
	(void)sigaddset(&set, SIGHUP);
	(void)sigaddset(&set, SIGWINCH);
	(void)sigaddset(&set, SIGCONT);
	if (sigprocmask(SIG_BLOCK, &set, NULL) < 0)
		return -errno;
	int fd = signalfd(-1, &set, SFD_CLOEXEC | SFD_NONBLOCK);
	return fd < 0 ? -errno : fd;
}

static bool is_terminal(void)
{
	const char *term = getenv("TERM");

	return isatty(STDIN_FILENO) && isatty(STDOUT_FILENO) && term && strcmp(term, "dumb") != 0;
}

enum ctl_status watch_run(struct ctl *ctl, int argc, char **argv)
{
	bool quiet = false;
	const struct args_option options[] = { { .name = "--quiet", .flag = &quiet } };
	struct watch *watch;
	struct args args;
	int r = 0;

	if (!args_parse(ctl, argc, argv, options, 1, 0, 0, &args))
		return CTL_USAGE;
	watch = calloc(1, sizeof *watch);
	if (!watch) {
		ctl_error("Out of memory.");
		return CTL_REFUSED;
	}
	watch->ctl = ctl;
	watch->quiet = quiet;
	watch->input_open = !ctl->json;
	watch->signals = open_signals();
	if (watch->signals < 0)
		r = watch->signals;
	if (r == 0 && !ctl->json && is_terminal())
		r = terminal_new(&watch->terminal);
	if (r == 0)
		run(watch);
	else
		ctl_error("Can't watch here: %s.", strerror(-r));
	watch->terminal = terminal_free(watch->terminal);
	if (watch->signals >= 0)
		(void)close(watch->signals); /* nothing was written to it */
	socket_free(watch->socket);
	watch_board_done(&watch->board);
	free(watch);
	return r == 0 ? CTL_DONE : CTL_REFUSED;
}
