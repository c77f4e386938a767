// SPDX-License-Identifier: MIT
#include "daemon/prompt/prompt.h"
#include "daemon/limits.h"
#include "daemon/log.h"
#include "daemon/prompt/client.h"
#include "daemon/prompt/listener.h"
#include <errno.h>
#include <sys/epoll.h>
#include <sys/socket.h>
#include <systemd/sd-event.h>
#include <unistd.h>

#define ACCEPTS_AT_ONCE 16        /* then the others have their turn */
#define PAUSE_US UINT64_C(1000000) /* without accepting, when there is no descriptor or memory left */

struct prompt {
	sd_event *event;
	struct prompt_ops ops;
	struct client_host host;
	struct listener listener;
	sd_event_source *accepting; /* the listener is readable */
	sd_event_source *pause;     /* until accepting goes on */
	sd_event_source *reaping;   /* frees clients that are done with, from the loop */
	struct client **clients;
	size_t n_clients, room; /* clients in the list, those that are done with included */
	bool was_full;          /* said once */
};

/* A notice in the forms in which it is sent, made when first needed. */
struct telling {
	const struct prompt_notice *notice;
	char *json, *text;
	size_t n_json, n_text;
};

/* ---- notices ---- */

static void make_json(struct telling *telling)
{
	json_t *json = json_pack("{s:s, s:s, s:O}", "jsonrpc", "2.0", "method",
				 prompt_topic_text(telling->notice->topic), "params", telling->notice->params);
	/* 15 digits print each mass as it was meant (a whole number of milligrams) */
	char *line = json ? json_dumps(json, JSON_COMPACT | JSON_REAL_PRECISION(15)) : NULL;

	json_decref(json);
	if (line && asprintf(&telling->json, "%s\n", line) >= 0)
		telling->n_json = strlen(telling->json);
	else
		telling->json = NULL;
	free(line);
}

static void make_text(struct telling *telling)
{
	if (asprintf(&telling->text, "%s\n", telling->notice->text) < 0) {
		telling->text = NULL;
		return;
	}
	telling->n_text = strlen(telling->text);
	telling->text[telling->n_text - 1] = '\0';
	rpc_plain(telling->text);
	telling->text[telling->n_text - 1] = '\n';
}

static void telling_send(struct telling *telling, struct client *client, enum client_kind kind)
{
	bool as_text = client_caller(client)->text && telling->notice->text;

	if (as_text && !telling->text)
		make_text(telling);
	if (!as_text && !telling->json)
		make_json(telling);
	if (as_text ? !telling->text : !telling->json) {
		if (telling->notice->topic != PROMPT_LIVE) /* of which the next one comes at once */
			client_lose(client);
		return;
	}
	client_send(client, as_text ? telling->text : telling->json, as_text ? telling->n_text : telling->n_json,
		    kind);
}

static void telling_done(struct telling *telling)
{
	free(telling->json);
	free(telling->text);
}

static bool follows(const struct client *client, enum prompt_topic topic)
{
	return client_is_open(client) && client_caller(client)->topics & 1u << topic;
}

void prompt_tell(struct prompt *prompt, const struct prompt_notice *notice)
{
	struct telling telling = { .notice = notice };

	/* Sending takes nobody off the list (see on_reap), so the index stays right. */
	for (size_t i = 0; i < prompt->n_clients; i++)
		if (follows(prompt->clients[i], notice->topic))
			telling_send(&telling, prompt->clients[i], CLIENT_NOTICE);
	telling_done(&telling);
}

static void tell_one(void *context, const struct prompt_notice *notice)
{
	struct telling telling = { .notice = notice };

	telling_send(&telling, context, CLIENT_DUE);
	telling_done(&telling);
}

static void on_snapshot(void *userdata, struct client *client)
{
	struct prompt *prompt = userdata;

	prompt->ops.open_asks(prompt->ops.service.userdata, tell_one, client);
}

/* ---- clients ---- */

size_t prompt_clients(const struct prompt *prompt)
{
	size_t n = 0;

	for (size_t i = 0; i < prompt->n_clients; i++)
		n += client_is_open(prompt->clients[i]);
	return n;
}

static void on_gone(void *userdata)
{
	struct prompt *prompt = userdata;

	/* can fail for our bugs only; the client then stays in memory */
	(void)sd_event_source_set_enabled(prompt->reaping, SD_EVENT_ONESHOT);
}

static int on_reap(sd_event_source *source, void *userdata)
{
	struct prompt *prompt = userdata;
	size_t kept = 0;

	(void)source;
	for (size_t i = 0; prompt->ops.left && i < prompt->n_clients; i++)
		if (!client_is_open(prompt->clients[i]))
			prompt->ops.left(prompt->ops.service.userdata, client_caller(prompt->clients[i]));
	for (size_t i = 0; i < prompt->n_clients; i++)
		if (client_is_open(prompt->clients[i]))
			prompt->clients[kept++] = prompt->clients[i];
		else
			client_free(prompt->clients[i]);
	prompt->n_clients = kept;
	return 0;
}

static int make_room(struct prompt *prompt)
{
	size_t room = prompt->room ? 2 * prompt->room : 16;
	struct client **clients;

	if (prompt->n_clients < prompt->room)
		return 0;
	clients = reallocarray(prompt->clients, room, sizeof *clients);
	if (!clients)
		return -ENOMEM;
	prompt->clients = clients;
	prompt->room = room;
	return 0;
}

static void turn_away(struct prompt *prompt, int fd)
{
	static const char line[] = "error too many connections\n";

	if (!prompt->was_full)
		log_event(LOG_EVENT_CLIENTS_FULL, LOG_WARNING, NULL, NULL, "%d connections are open, turning further ones away",
			  LIMIT_CLIENTS);
	prompt->was_full = true;
	(void)send(fd, line, sizeof line - 1, MSG_NOSIGNAL | MSG_DONTWAIT); /* it may have gone */
	(void)close(fd);
}

static void admit(struct prompt *prompt, int fd)
{
	struct client *client;
	int r;

	if (prompt_clients(prompt) >= LIMIT_CLIENTS) {
		turn_away(prompt, fd);
		return;
	}
	if (prompt_clients(prompt) < LIMIT_CLIENTS / 2) /* not at each coming and going at the cap */
		prompt->was_full = false;
	r = make_room(prompt);
	if (r == 0)
		r = client_new(&prompt->host, fd, &client);
	if (r < 0) {
		log_warning("can't serve a new connection: %s, ignoring", strerror(-r));
		(void)close(fd);
		return;
	}
	prompt->clients[prompt->n_clients++] = client;
	on_snapshot(prompt, client);
}

/* ---- accepting ---- */

static int on_pause_over(sd_event_source *source, uint64_t now_us, void *userdata)
{
	struct prompt *prompt = userdata;

	(void)source;
	(void)now_us;
	return sd_event_source_set_enabled(prompt->accepting, SD_EVENT_ON);
}

/* The connection stays in the backlog, and the listener readable: waiting is the only thing that helps. */
static int pause_accepting(struct prompt *prompt, int error)
{
	int r = sd_event_source_set_time_relative(prompt->pause, PAUSE_US);

	if (r >= 0)
		r = sd_event_source_set_enabled(prompt->pause, SD_EVENT_ONESHOT);
	if (r >= 0)
		r = sd_event_source_set_enabled(prompt->accepting, SD_EVENT_OFF);
	log_warning("can't accept a connection: %s, trying again in a second", strerror(error));
	return r;
}

static int on_accept(sd_event_source *source, int fd, uint32_t revents, void *userdata)
{
	struct prompt *prompt = userdata;

	(void)source;
	(void)revents;
	for (int i = 0; i < ACCEPTS_AT_ONCE; i++) {
		int client_fd = accept4(fd, NULL, NULL, SOCK_NONBLOCK | SOCK_CLOEXEC);

		if (client_fd >= 0)
			admit(prompt, client_fd);
		else if (errno == EAGAIN || errno == EINTR || errno == ECONNABORTED)
			return 0;
		else
			return pause_accepting(prompt, errno);
	}
	return 0;
}

static int start_accepting(struct prompt *prompt)
{
	int r = sd_event_add_io(prompt->event, &prompt->accepting, prompt->listener.fd, EPOLLIN, on_accept, prompt);

	return r < 0 ? r : 0;
}

int prompt_listen(struct prompt *prompt, const char *path)
{
	int r;

	if (prompt->listener.fd >= 0)
		return -EBUSY;
	r = listener_open(&prompt->listener, path);
	if (r < 0)
		return r;
	r = start_accepting(prompt);
	if (r < 0)
		listener_done(&prompt->listener);
	return r;
}

int prompt_listen_fd(struct prompt *prompt, int fd)
{
	int r;

	if (prompt->listener.fd >= 0)
		return -EBUSY;
	r = listener_adopt(&prompt->listener, fd);
	if (r < 0)
		return r;
	r = start_accepting(prompt);
	if (r < 0)
		prompt->listener.fd = -1; /* stays the caller's */
	return r;
}

/* ---- the whole ---- */

static int add_sources(struct prompt *prompt)
{
	int r = sd_event_add_defer(prompt->event, &prompt->reaping, on_reap, prompt);

	if (r >= 0)
		r = sd_event_source_set_enabled(prompt->reaping, SD_EVENT_OFF);
	if (r >= 0)
		r = sd_event_add_time(prompt->event, &prompt->pause, CLOCK_MONOTONIC, UINT64_MAX, 0, on_pause_over,
				      prompt);
	if (r >= 0)
		r = sd_event_source_set_enabled(prompt->pause, SD_EVENT_OFF);
	return r < 0 ? r : 0;
}

int prompt_new(struct sd_event *event, const struct prompt_ops *ops, struct prompt **ret)
{
	struct prompt *prompt = malloc(sizeof *prompt);
	int r;

	if (!prompt)
		return -ENOMEM;
	*prompt = (struct prompt){ .event = sd_event_ref(event), .ops = *ops, .listener = LISTENER_NONE };
	prompt->host = (struct client_host){
		.event = event,
		.service = &prompt->ops.service,
		.snapshot = on_snapshot,
		.gone = on_gone,
		.userdata = prompt,
	};
	r = add_sources(prompt);
	if (r < 0) {
		prompt_free(prompt);
		return r;
	}
	*ret = prompt;
	return 0;
}

struct prompt *prompt_free(struct prompt *prompt)
{
	if (!prompt)
		return NULL;
	for (size_t i = 0; i < prompt->n_clients; i++)
		client_free(prompt->clients[i]);
	free(prompt->clients);
	prompt->accepting = sd_event_source_disable_unref(prompt->accepting);
	prompt->pause = sd_event_source_disable_unref(prompt->pause);
	prompt->reaping = sd_event_source_disable_unref(prompt->reaping);
	listener_done(&prompt->listener);
	prompt->event = sd_event_unref(prompt->event);
	free(prompt);
	return NULL;
}
