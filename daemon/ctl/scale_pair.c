// SPDX-License-Identifier: MIT
#include "daemon/ctl/scale_pair.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/request.h"
#include "daemon/ctl/text.h"
#include <errno.h>
#include <poll.h>
#include <stdarg.h>
#include <unistd.h>

#define LINE_SIZE 128

/* What the scale has asked, and the person hasn't answered. */
enum question { QUESTION_NONE, QUESTION_DIGITS, QUESTION_SAME };

struct talk {
	const struct ctl *ctl;
	struct socket *socket;
	const char *scale;
	enum scale_wait wait;
	enum question question;
	char line[LINE_SIZE]; /* of standard input, as far as it has come */
	size_t n;
	bool mute; /* standard input has ended */
	bool over;
	enum ctl_status status;
};

static void finish(struct talk *talk, enum ctl_status status)
{
	talk->over = true;
	talk->status = status;
}

static void trouble(struct talk *talk, int r)
{
	char text[256];

	request_trouble(talk->ctl->socket_path, r, text, sizeof text);
	ctl_error("%s", text);
	finish(talk, CTL_ABSENT);
}

/* Its answer is looked at with everything else that comes. */
static void send_request(struct talk *talk, const char *method, json_t *params)
{
	int64_t id;
	int r = params ? socket_send(talk->socket, method, params, &id) : -ENOMEM;

	json_decref(params);
	if (r < 0)
		trouble(talk, r);
}

/* For people. */
__attribute__((format(printf, 2, 3))) static void say(const struct talk *talk, const char *format, ...)
{
	va_list list;

	if (talk->ctl->json)
		return;
	va_start(list, format);
	(void)vprintf(format, list);
	va_end(list);
	(void)fflush(stdout); /* a failure stays in the error flag */
}

/* ---- what the daemon tells ---- */

static void ask(struct talk *talk, enum question question)
{
	if (talk->mute) { /* nobody will ever say */
		send_request(talk, "scale.passkey", json_pack("{s:s}", "yes", "no"));
		return;
	}
	talk->question = question;
}

static void take_failure(struct talk *talk, const json_t *params)
{
	talk->question = QUESTION_NONE;
	if (!talk->ctl->json)
		ctl_error("%s.", field_text(params, "say"));
	finish(talk, CTL_REFUSED);
}

static void take_pairing(struct talk *talk, const json_t *params)
{
	const char *what = field_text(params, "what");
	char digits[16];

	field_copy(params, "passkey", digits, sizeof digits);
	if (talk->ctl->json)
		field_print(params);
	if (strcmp(what, "needed") == 0) {
		if (talk->wait != SCALE_WAIT_READY)
			return;
		say(talk, "It wants to be paired; doing that.\n");
		send_request(talk, "scale.pair", json_pack("{s:s}", "scale", talk->scale));
	} else if (strcmp(what, "passkey") == 0) {
		say(talk, "The scale shows six digits. Type them: ");
		ask(talk, QUESTION_DIGITS);
	} else if (strcmp(what, "confirm") == 0) {
		say(talk, "Does the scale show %s? (yes or no) ", digits);
		ask(talk, QUESTION_SAME);
	} else if (strcmp(what, "show") == 0) {
		say(talk, "Type %s on the scale.\n", digits);
	} else if (strcmp(what, "done") == 0) {
		talk->question = QUESTION_NONE;
		say(talk, "It is paired.\n");
		if (talk->wait == SCALE_WAIT_PAIRED)
			finish(talk, CTL_DONE);
	} else if (strcmp(what, "failed") == 0) {
		take_failure(talk, params);
	}
}

static void take_state(struct talk *talk, const json_t *params)
{
	const char *state = field_text(params, "state");

	if (talk->wait != SCALE_WAIT_READY || (strcmp(state, "subscribed") != 0 && strcmp(state, "listening") != 0))
		return;
	say(talk, "It is %s; weigh away.\n", *state == 's' ? "connected" : "heard");
	finish(talk, CTL_DONE);
}

static void take_message(struct talk *talk, const json_t *message)
{
	const json_t *params = json_object_get(message, "params"), *error = json_object_get(message, "error");
	const char *topic = field_text(message, "method");
	char text[1024];

	if (error) { /* of a request of ours: a wrong passkey's form, or that nothing waits for it */
		request_refusal(error, text, sizeof text);
		ctl_error("%s", text);
		if (talk->wait == SCALE_WAIT_READY && talk->question == QUESTION_NONE)
			finish(talk, CTL_REFUSED);
	} else if (strcmp(field_text(params, "scale"), talk->scale) != 0) {
		return;
	} else if (strcmp(topic, "pairing") == 0) {
		take_pairing(talk, params);
	} else if (strcmp(topic, "scale") == 0) {
		take_state(talk, params);
	}
}

static void read_socket(struct talk *talk)
{
	int r = socket_fill(talk->socket), next = SOCKET_MESSAGE;

	/* what came before the end counts */
	while (next == SOCKET_MESSAGE && !talk->over) {
		json_t *message = NULL;
		next = socket_next(talk->socket, &message);
		if (next == SOCKET_MESSAGE)
			take_message(talk, message);
		json_decref(message);
	}
	if (!talk->over && (r < 0 || next < 0))
		trouble(talk, r < 0 ? r : next);
}

/* ---- what the person says ---- */

static bool is_yes(const char *word)
{
	return strcmp(word, "y") == 0 || strcmp(word, "yes") == 0;
}

static void answer_digits(struct talk *talk, const char *word)
{
	if (strlen(word) < 1 || strlen(word) > 6 || strspn(word, "0123456789") != strlen(word)) {
		say(talk, "Six digits, as the scale shows them: ");
		return;
	}
	talk->question = QUESTION_NONE;
	send_request(talk, "scale.passkey", json_pack("{s:s}", "passkey", word));
}

static void answer_same(struct talk *talk, const char *word)
{
	if (!is_yes(word) && strcmp(word, "n") != 0 && strcmp(word, "no") != 0) {
		say(talk, "Yes or no? ");
		return;
	}
	talk->question = QUESTION_NONE;
	send_request(talk, "scale.passkey", json_pack("{s:s}", "yes", is_yes(word) ? "yes" : "no"));
}

static void take_line(struct talk *talk, char *line)
{
	char *end = line + strlen(line);

	while (*line == ' ' || *line == '\t')
		line++;
	while (end > line && (end[-1] == ' ' || end[-1] == '\t' || end[-1] == '\r'))
		*--end = '\0';
	switch (talk->question) {
	case QUESTION_DIGITS:
		answer_digits(talk, line);
		break;
	case QUESTION_SAME:
		answer_same(talk, line);
		break;
	case QUESTION_NONE: /* Enter, or impatience */
		if (talk->wait != SCALE_WAIT_READY)
			break;
		say(talk, "Not waiting any longer; `bismar status` shows when it is connected.\n");
		finish(talk, CTL_DONE);
		break;
	}
}

static void read_person(struct talk *talk)
{
	ssize_t n = read(STDIN_FILENO, talk->line + talk->n, sizeof talk->line - 1 - talk->n);

	if (n < 0 && (errno == EINTR || errno == EAGAIN))
		return;
	if (n <= 0) {
		talk->mute = true;
		if (talk->question != QUESTION_NONE)
			send_request(talk, "scale.passkey", json_pack("{s:s}", "yes", "no"));
		talk->question = QUESTION_NONE;
		return;
	}
	talk->n += (size_t)n;
	if (talk->n == sizeof talk->line - 1 && !memchr(talk->line, '\n', talk->n))
		talk->n = 0; /* no answer is that long */
}

/* Whether a line would be taken now: one that comes before its question waits. */
static bool is_asked(const struct talk *talk)
{
	return !talk->over && (talk->question != QUESTION_NONE || talk->wait == SCALE_WAIT_READY);
}

static void take_lines(struct talk *talk)
{
	char *end;

	while (is_asked(talk) && (end = memchr(talk->line, '\n', talk->n))) {
		size_t length = (size_t)(end - talk->line) + 1;
		*end = '\0';
		take_line(talk, talk->line);
		talk->n -= length;
		memmove(talk->line, talk->line + length, talk->n);
	}
}

enum ctl_status scale_pair_wait(const struct ctl *ctl, struct socket *socket, const char *scale, enum scale_wait wait)
{
	struct talk talk = { .ctl = ctl, .socket = socket, .scale = scale, .wait = wait };
	enum ctl_status flushed;

	read_socket(&talk); /* what has come with the answer before */
	while (take_lines(&talk), !talk.over) {
		struct pollfd fds[] = { { .fd = socket_fd(socket), .events = POLLIN },
					{ .fd = !talk.mute && is_asked(&talk) ? STDIN_FILENO : -1, .events = POLLIN } };

		if (poll(fds, 2, -1) < 0) {
			if (errno == EINTR)
				continue;
			trouble(&talk, -errno);
			break;
		}
		if (fds[0].revents)
			read_socket(&talk);
		if (fds[1].revents && !talk.over)
			read_person(&talk);
	}
	flushed = ctl_flush();
	return talk.status == CTL_DONE ? flushed : talk.status;
}
