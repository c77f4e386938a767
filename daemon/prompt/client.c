// SPDX-License-Identifier: MIT
#include "daemon/prompt/client.h"
#include "daemon/prompt/accounts.h"
#include "daemon/limits.h"
#include "daemon/log.h"
#include "daemon/prompt/prompt_topic.h"
#include <errno.h>
#include <sys/epoll.h>
#include <sys/socket.h>
#include <systemd/sd-event.h>
#include <unistd.h>

#define CHUNK_BYTES (16 * 1024) /* read at once, so that one talkative client doesn't keep the others waiting */
#define PAUSE_BYTES (LIMIT_QUEUE_BYTES / 2)

/* Octets that wait: n of them from head on, in room octets. */
struct buffer {
	char *octets;
	size_t head, n, room;
};

struct client {
	const struct client_host *host;
	int fd; /* -1: done with */
	sd_event_source *source;
	uint32_t events; /* what the source waits for */
	char peer[64];
	struct rpc_caller caller;
	struct buffer in; /* starts with a line */
	size_t searched;  /* so much of in has no line end */
	struct buffer out;
	size_t allowed; /* of out, so much doesn't count for the limit */
	bool ended;     /* the peer won't send any more */
	bool deaf;      /* the peer doesn't take any more; what it sent is still done */
	bool closing;   /* once out is empty */
};

/* ---- buffers ---- */

static void buffer_done(struct buffer *buffer)
{
	free(buffer->octets);
	*buffer = (struct buffer){ 0 };
}

static void buffer_take(struct buffer *buffer, size_t n)
{
	buffer->head += n;
	buffer->n -= n;
	if (buffer->n == 0)
		buffer_done(buffer);
}

static int buffer_add(struct buffer *buffer, const char *octets, size_t n)
{
	size_t needed = buffer->n + n;

	if (buffer->room - buffer->head < needed) {
		/* doubled when over half full, so that moving what is there stays rare */
		size_t room = needed > buffer->room / 2 ? needed + buffer->n : buffer->room;
		char *new = malloc(room);

		if (!new)
			return -ENOMEM;
		if (buffer->n)
			memcpy(new, buffer->octets + buffer->head, buffer->n);
		free(buffer->octets);
		*buffer = (struct buffer){ .octets = new, .n = buffer->n, .room = room };
	}
	memcpy(buffer->octets + buffer->head + buffer->n, octets, n);
	buffer->n += n;
	return 0;
}

/* ---- the end ---- */

/* why NULL: as it should be. */
static void drop(struct client *client, const char *why)
{
	char quoted[80];

	if (client->fd < 0)
		return;
	if (why)
		log_event(LOG_EVENT_CLIENT_DROPPED, LOG_INFO, "BISMAR_PEER", client->peer, "closing a client of %s: %s",
			  log_quote(client->peer, quoted, sizeof quoted), why);
	client->source = sd_event_source_disable_unref(client->source);
	(void)close(client->fd); /* what waited is lost either way */
	client->fd = -1;
	buffer_done(&client->out); /* in is kept: one of its lines may be what is being done */
	client->host->gone(client->host->userdata);
}

/* Waits for what there is to do now, or ends. */
static void settle(struct client *client)
{
	bool paused = client->out.n > PAUSE_BYTES;
	uint32_t events = 0;

	if (client->fd < 0)
		return;
	if (client->closing && client->out.n == 0) {
		drop(client, NULL);
		return;
	}
	if (!client->ended && !client->closing && !paused)
		events |= EPOLLIN;
	if (client->out.n > 0)
		events |= EPOLLOUT;
	if (events == client->events)
		return;
	if (sd_event_source_set_io_events(client->source, events) < 0)
		drop(client, "out of memory");
	client->events = events;
}

/* ---- out ---- */

/* How much the kernel took. */
static size_t write_some(struct client *client, const char *octets, size_t n)
{
	ssize_t taken = send(client->fd, octets, n, MSG_NOSIGNAL | MSG_DONTWAIT);

	if (taken >= 0)
		return (size_t)taken;
	if (errno == EAGAIN || errno == EINTR || errno == ENOBUFS)
		return 0;
	/* The peer has closed. It may have answered before: `echo green` into the socket and away is a client. */
	client->deaf = true;
	buffer_done(&client->out);
	return 0;
}

static void flush(struct client *client)
{
	size_t taken;

	if (client->out.n == 0)
		return;
	taken = write_some(client, client->out.octets + client->out.head, client->out.n);
	if (taken > 0)
		buffer_take(&client->out, taken);
	if (client->allowed > client->out.n)
		client->allowed = client->out.n;
}

/* Whether n more octets are too many; a client that reads, but had no turn in a burst, isn't blamed. */
static bool is_full(struct client *client, size_t n)
{
	if (client->out.n + n > LIMIT_QUEUE_BYTES + client->allowed)
		flush(client);
	return client->out.n + n > LIMIT_QUEUE_BYTES + client->allowed;
}

/* Sends now what the kernel takes, and queues the rest. */
static void send_or_queue(struct client *client, const char *lines, size_t n, bool allowed)
{
	size_t taken = client->out.n == 0 ? write_some(client, lines, n) : 0;

	if (client->deaf || taken == n)
		return;
	if (buffer_add(&client->out, lines + taken, n - taken) < 0) {
		drop(client, "out of memory");
		return;
	}
	if (allowed)
		client->allowed += n - taken;
}

void client_lose(struct client *client)
{
	drop(client, "out of memory");
}

void client_send(struct client *client, const char *lines, size_t n, enum client_kind kind)
{
	if (client->fd < 0 || client->deaf)
		return;
	switch (kind) {
	case CLIENT_DUE:
		send_or_queue(client, lines, n, true);
		break;
	case CLIENT_NOTICE:
		if (client->closing)
			return; /* or a half-closed client would never end */
		if (is_full(client, n)) {
			drop(client, "it doesn't read");
			return;
		}
		if (!client->deaf)
			send_or_queue(client, lines, n, false);
		break;
	}
	settle(client);
}

/* ---- in ---- */

/* Reads what one turn allows. */
static void fill(struct client *client)
{
	char chunk[CHUNK_BYTES];
	ssize_t n = recv(client->fd, chunk, sizeof chunk, MSG_DONTWAIT);

	if (n < 0 && (errno == EAGAIN || errno == EINTR))
		return;
	if (n <= 0) /* an error is ECONNRESET: the peer closed without reading all; what it sent has come before */
		client->ended = true;
	else if (buffer_add(&client->in, chunk, (size_t)n) < 0)
		drop(client, "out of memory");
}

/* n octets without line end. */
static void take_line(struct client *client, const char *line, size_t n)
{
	unsigned before = client->caller.topics;
	char *reply = NULL;
	int r;

	if (n > LIMIT_LINE_BYTES) {
		r = rpc_too_long(line, n, &reply);
		client->closing = true;
	} else {
		r = rpc_line(client->host->service, &client->caller, line, n, &reply);
	}
	if (r < 0)
		drop(client, "out of memory");
	else if (reply)
		client_send(client, reply, strlen(reply), CLIENT_DUE);
	free(reply);
	if (client->caller.topics & ~before & 1u << PROMPT_ASK)
		client->host->snapshot(client->host->userdata, client);
}

/* Does one line of in, if there is one and it is time. */
static bool take_next(struct client *client)
{
	struct buffer *in = &client->in;
	const char *line, *end;
	size_t n;

	if (client->fd < 0 || client->closing || in->n == 0 || client->out.n > PAUSE_BYTES)
		return false;
	line = in->octets + in->head;
	end = memchr(line + client->searched, '\n', in->n - client->searched);
	n = end ? (size_t)(end - line) : in->n;
	/* without a line end the last line is one all the same: `printf green` */
	if (!end && !client->ended && n <= LIMIT_LINE_BYTES) {
		client->searched = n;
		return false;
	}
	client->searched = 0;
	take_line(client, line, n);
	buffer_take(in, end ? n + 1 : n);
	return true;
}

static int on_io(sd_event_source *source, int fd, uint32_t revents, void *userdata)
{
	struct client *client = userdata;

	(void)source;
	(void)fd;
	if (revents & (EPOLLOUT | EPOLLHUP | EPOLLERR))
		flush(client);
	if (revents & (EPOLLIN | EPOLLHUP | EPOLLERR) && client->events & EPOLLIN)
		fill(client);
	while (take_next(client))
		;
	if (client->ended && client->in.n == 0)
		client->closing = true;
	settle(client);
	return 0;
}

/* ---- the beginning ---- */

/* The user at the other end, as the kernel knows him. */
static void name_peer(struct client *client)
{
	struct ucred credentials = { .uid = (uid_t)-1 };
	socklen_t size = sizeof credentials;

	if (getsockopt(client->fd, SOL_SOCKET, SO_PEERCRED, &credentials, &size) < 0) {
		(void)snprintf(client->peer, sizeof client->peer, "unknown");
		return;
	}
	if (!accounts_user(credentials.uid, client->peer, sizeof client->peer))
		(void)snprintf(client->peer, sizeof client->peer, "uid %u", credentials.uid);
}

int client_new(const struct client_host *host, int fd, struct client **ret)
{
	struct client *client = malloc(sizeof *client);
	int r;

	if (!client)
		return -ENOMEM;
	*client = (struct client){ .host = host, .fd = fd, .events = EPOLLIN };
	r = sd_event_add_io(host->event, &client->source, fd, EPOLLIN, on_io, client);
	if (r < 0) {
		free(client);
		return r;
	}
	name_peer(client);
	client->caller = (struct rpc_caller){ .peer = client->peer, .topics = PROMPT_DEFAULT_TOPICS };
	*ret = client;
	return 0;
}

struct client *client_free(struct client *client)
{
	if (!client)
		return NULL;
	client->source = sd_event_source_disable_unref(client->source);
	if (client->fd >= 0)
		(void)close(client->fd); /* what waited is lost either way */
	buffer_done(&client->in);
	buffer_done(&client->out);
	free(client);
	return NULL;
}

bool client_is_open(const struct client *client)
{
	return client->fd >= 0;
}

const struct rpc_caller *client_caller(const struct client *client)
{
	return &client->caller;
}
