// SPDX-License-Identifier: MIT
#include "contrib/client/peer.h"
#include "daemon/ctl/request.h"
#include <errno.h>
#include <sys/epoll.h>
#include <sys/socket.h>

/* A daemon that is restarted is back within a second; one that is away for a night is asked rarely. */
#define AGAIN_FIRST_USEC (250 * UINT64_C(1000))
#define AGAIN_LAST_USEC (5 * UINT64_C(1000000))
#define PATIENCE_USEC (SOCKET_PATIENCE_MS * UINT64_C(1000))
/* How exact a timer must be: nobody notices, and the processor sleeps longer. */
#define SLACK_USEC (50 * UINT64_C(1000))

struct wait {
	struct wait *next;
	int64_t id;
	uint64_t until_usec;
	peer_reply reply;
	void *user;
};

struct peer {
	sd_event *event;
	sd_event_source *io, *again, *patience;
	struct socket *socket; /* NULL: not connected */
	char *path;
	json_t *topics;
	struct peer_calls calls;
	void *user;
	struct wait *waits, **waits_end; /* in the order of their end */
	uint64_t again_usec;             /* how long until the next attempt, if this one fails */
	bool up, told_down;
};

/* ---- requests under way ---- */

static void wait_done(struct wait *wait, enum peer_outcome outcome, const json_t *body)
{
	if (wait->reply)
		wait->reply(wait->user, outcome, body);
	free(wait);
}

static void lose_all(struct peer *peer)
{
	struct wait *wait = peer->waits;

	peer->waits = NULL;
	peer->waits_end = &peer->waits;
	while (wait) {
		struct wait *next = wait->next;
		wait_done(wait, PEER_LOST, NULL);
		wait = next;
	}
}

static void match(struct peer *peer, const json_t *message)
{
	const json_t *error = json_object_get(message, "error");

	for (struct wait **at = &peer->waits; *at; at = &(*at)->next) {
		struct wait *wait = *at;
		if (!socket_answers(message, wait->id))
			continue;
		*at = wait->next;
		if (!wait->next)
			peer->waits_end = at;
		wait_done(wait, error ? PEER_REFUSED : PEER_RESULT, error ? error : json_object_get(message, "result"));
		return;
	}
}

/* ---- the connection ---- */

static void later(struct peer *peer)
{
	(void)sd_event_source_set_time_relative(peer->again, peer->again_usec); /* its clock runs since peer_new() */
	(void)sd_event_source_set_enabled(peer->again, SD_EVENT_ONESHOT);
	peer->again_usec = peer->again_usec * 2 < AGAIN_LAST_USEC ? peer->again_usec * 2 : AGAIN_LAST_USEC;
}

static void hang_up(struct peer *peer, const char *say)
{
	peer->io = sd_event_source_disable_unref(peer->io);
	peer->socket = socket_free(peer->socket);
	peer->up = false;
	lose_all(peer);
	later(peer);
	if (peer->told_down)
		return;
	peer->told_down = true;
	if (peer->calls.down)
		peer->calls.down(peer->user, say);
}

static void hang_up_for(struct peer *peer, int r)
{
	char say[512];

	request_trouble(peer->path, r, say, sizeof say);
	hang_up(peer, say);
}

static void on_followed(void *user, enum peer_outcome outcome, const json_t *body)
{
	struct peer *peer = user;
	char say[512];

	if (outcome == PEER_LOST)
		return; /* whoever lost it has hung up */
	if (outcome == PEER_REFUSED) {
		request_refusal(body, say, sizeof say);
		hang_up(peer, say);
		return;
	}
	peer->up = true;
	peer->told_down = false;
	peer->again_usec = AGAIN_FIRST_USEC;
	if (peer->calls.up)
		peer->calls.up(peer->user);
}

static void take(struct peer *peer, const json_t *message)
{
	const char *topic = json_string_value(json_object_get(message, "method"));

	if (!topic)
		match(peer, message);
	else if (peer->up && peer->calls.notice) /* before that it is what every connection follows at its start */
		peer->calls.notice(peer->user, topic, json_object_get(message, "params"));
}

static int on_socket(sd_event_source *source, int fd, uint32_t revents, void *user)
{
	struct peer *peer = user;
	json_t *message;
	int r = socket_fill(peer->socket);

	(void)source, (void)fd, (void)revents;
	/* what had come before the end is handed out before it */
	for (int next; peer->socket;) {
		next = socket_next(peer->socket, &message);
		if (next == SOCKET_EMPTY)
			break;
		if (next < 0) {
			r = next;
			break;
		}
		take(peer, message);
		json_decref(message);
	}
	if (r < 0 && peer->socket)
		hang_up_for(peer, r);
	return 0;
}

static int ask(struct peer *peer, const char *method, json_t *params, peer_reply reply, void *user)
{
	struct wait *wait = malloc(sizeof *wait);
	uint64_t now;
	int r;

	if (!wait) {
		json_decref(params);
		return -ENOMEM;
	}
	(void)sd_event_now(peer->event, CLOCK_MONOTONIC, &now); /* the loop exists, and so does the clock */
	*wait = (struct wait){ .until_usec = now + PATIENCE_USEC, .reply = reply, .user = user };
	r = socket_send(peer->socket, method, params, &wait->id);
	json_decref(params);
	if (r < 0) {
		free(wait);
		return r;
	}
	*peer->waits_end = wait;
	peer->waits_end = &wait->next;
	if (peer->waits == wait) {
		(void)sd_event_source_set_time(peer->patience, wait->until_usec);
		(void)sd_event_source_set_enabled(peer->patience, SD_EVENT_ONESHOT);
	}
	return 0;
}

static int on_patience(sd_event_source *source, uint64_t usec, void *user)
{
	struct peer *peer = user;

	if (!peer->waits) /* all was replied to meanwhile */
		return 0;
	if (peer->waits->until_usec <= usec) {
		hang_up_for(peer, -ETIMEDOUT);
		return 0;
	}
	(void)sd_event_source_set_time(source, peer->waits->until_usec);
	return sd_event_source_set_enabled(source, SD_EVENT_ONESHOT);
}

static int on_again(sd_event_source *source, uint64_t usec, void *user)
{
	struct peer *peer = user;
	int r = socket_new(peer->path, &peer->socket);

	(void)source, (void)usec;
	if (r == 0)
		r = sd_event_add_io(peer->event, &peer->io, socket_fd(peer->socket), EPOLLIN, on_socket, peer);
	if (r >= 0)
		r = ask(peer, "follow", json_pack("{s:[]}", "topics"), NULL, NULL);
	/* only to who follows `ask` anew the open ones come after the reply */
	if (r >= 0)
		r = ask(peer, "follow", json_pack("{s:O}", "topics", peer->topics), on_followed, peer);
	if (r < 0)
		hang_up_for(peer, r);
	return 0;
}

/* ---- from outside ---- */

static json_t *list_of(const char *const topics[])
{
	json_t *list = json_array();

	for (size_t i = 0; list && topics[i]; i++)
		if (json_array_append_new(list, json_string(topics[i])) < 0) {
			json_decref(list);
			return NULL;
		}
	return list;
}

int peer_new(struct peer **ret, sd_event *event, const char *path, const char *const topics[],
	     const struct peer_calls *calls, void *user)
{
	struct peer *peer = calloc(1, sizeof *peer);
	int r = -ENOMEM;

	if (!peer)
		return r;
	*peer = (struct peer){
		.event = sd_event_ref(event), .calls = *calls, .user = user, .again_usec = AGAIN_FIRST_USEC
	};
	peer->waits_end = &peer->waits;
	peer->path = strdup(path);
	peer->topics = list_of(topics);
	if (peer->path && peer->topics)
		r = sd_event_add_time_relative(event, &peer->again, CLOCK_MONOTONIC, 0, SLACK_USEC, on_again, peer);
	if (r >= 0)
		r = sd_event_add_time(event, &peer->patience, CLOCK_MONOTONIC, 0, SLACK_USEC, on_patience, peer);
	if (r >= 0)
		r = sd_event_source_set_enabled(peer->patience, SD_EVENT_OFF);
	if (r < 0) {
		peer_free(peer);
		return r;
	}
	*ret = peer;
	return 0;
}

struct peer *peer_free(struct peer *peer)
{
	if (!peer)
		return NULL;
	peer->up = false;
	lose_all(peer);
	sd_event_source_disable_unref(peer->io);
	sd_event_source_disable_unref(peer->again);
	sd_event_source_disable_unref(peer->patience);
	socket_free(peer->socket);
	json_decref(peer->topics);
	free(peer->path);
	sd_event_unref(peer->event);
	free(peer);
	return NULL;
}

bool peer_is_up(const struct peer *peer)
{
	return peer->up;
}

/* The end is made in the loop, not under the caller's feet: its requests under way may be the caller's own. */
static void end_soon(struct peer *peer)
{
	(void)shutdown(socket_fd(peer->socket), SHUT_RDWR); /* on_socket() reads the end */
}

int peer_request(struct peer *peer, const char *method, json_t *params, peer_reply reply, void *user)
{
	int r;

	if (!peer->up) {
		json_decref(params);
		return -ENOTCONN;
	}
	r = ask(peer, method, params, reply, user);
	if (r < 0 && r != -ENOMEM)
		end_soon(peer);
	return r;
}
