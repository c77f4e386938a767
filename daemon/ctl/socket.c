// SPDX-License-Identifier: MIT
#include "daemon/ctl/socket.h"
#include "daemon/limits.h"
#include <errno.h>
#include <poll.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

struct socket {
	int fd;
	int64_t newest_id;
	char *buffer; /* SIZE octets */
	size_t begin, end;
};

/* The daemon lets no more than LIMIT_QUEUE_BYTES wait for us. */
#define SIZE (2 * LIMIT_QUEUE_BYTES)

static int dial(const char *path)
{
	struct sockaddr_un address = { .sun_family = AF_UNIX };
	size_t n = strlen(path);
	int fd, r;

	if (n >= sizeof address.sun_path)
		return -ENAMETOOLONG;
	memcpy(address.sun_path, path, n + 1);
	fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
	if (fd < 0)
		return -errno;
	/* at once for AF_UNIX; EAGAIN when the daemon's backlog is full */
	if (connect(fd, (const struct sockaddr *)&address, sizeof address) < 0) {
		r = -errno;
		(void)close(fd); /* nothing was written to it */
		return r;
	}
	return fd;
}

int socket_new(const char *path, struct socket **ret)
{
	struct socket *socket;
	int fd = dial(path);

	if (fd < 0)
		return fd;
	socket = calloc(1, sizeof *socket);
	if (socket)
		socket->buffer = malloc(SIZE);
	if (!socket || !socket->buffer) {
		free(socket);
		(void)close(fd); /* nothing was written to it */
		return -ENOMEM;
	}
	socket->fd = fd;
	*ret = socket;
	return 0;
}

struct socket *socket_free(struct socket *socket)
{
	if (!socket)
		return NULL;
	(void)close(socket->fd); /* a lost request was told by the missing answer */
	free(socket->buffer);
	free(socket);
	return NULL;
}

int socket_fd(const struct socket *socket)
{
	return socket->fd;
}

static int wait_for(int fd, short events, int timeout_ms)
{
	struct pollfd pollfd = { .fd = fd, .events = events };
	int r;

	do
		r = poll(&pollfd, 1, timeout_ms);
	while (r < 0 && errno == EINTR);
	if (r < 0)
		return -errno;
	return r == 0 ? -ETIMEDOUT : 0;
}

static int write_all(int fd, const char *at, size_t n)
{
	while (n > 0) {
		ssize_t written = send(fd, at, n, MSG_NOSIGNAL);
		if (written >= 0) {
			at += written;
			n -= (size_t)written;
			continue;
		}
		if (errno == EINTR)
			continue;
		if (errno != EAGAIN)
			return -errno;
		int r = wait_for(fd, POLLOUT, SOCKET_PATIENCE_MS);
		if (r < 0)
			return r;
	}
	return 0;
}

int socket_send(struct socket *socket, const char *method, json_t *params, int64_t *ret_id)
{
	int64_t id = ++socket->newest_id;
	json_t *request = json_pack("{s:s, s:I, s:s, s:O*}", "jsonrpc", "2.0", "id", (json_int_t)id, "method", method,
				    "params", params);
	char *text = request ? json_dumps(request, JSON_COMPACT) : NULL;
	int r = -ENOMEM;

	if (text) {
		size_t n = strlen(text);
		text[n] = '\n'; /* in place of the NUL */
		r = write_all(socket->fd, text, n + 1);
	}
	free(text);
	json_decref(request);
	if (r == 0)
		*ret_id = id;
	return r;
}

int socket_fill(struct socket *socket)
{
	ssize_t n;

	if (socket->begin > 0) {
		memmove(socket->buffer, socket->buffer + socket->begin, socket->end - socket->begin);
		socket->end -= socket->begin;
		socket->begin = 0;
	}
	if (socket->end == SIZE)
		return -EMSGSIZE;
	n = recv(socket->fd, socket->buffer + socket->end, SIZE - socket->end, 0);
	if (n == 0)
		return -ECONNRESET;
	if (n < 0)
		return errno == EAGAIN || errno == EINTR ? 0 : -errno;
	socket->end += (size_t)n;
	return 0;
}

int socket_next(struct socket *socket, json_t **ret_message)
{
	const char *line = socket->buffer + socket->begin;
	const char *end = memchr(line, '\n', socket->end - socket->begin);
	json_t *message;

	if (!end)
		return SOCKET_EMPTY;
	message = json_loadb(line, (size_t)(end - line), JSON_REJECT_DUPLICATES, NULL);
	socket->begin += (size_t)(end - line) + 1;
	if (!json_is_object(message)) {
		json_decref(message);
		return -EPROTO;
	}
	*ret_message = message;
	return SOCKET_MESSAGE;
}

int socket_wait(struct socket *socket, int timeout_ms, json_t **ret_message)
{
	for (;;) {
		int r = socket_next(socket, ret_message);
		if (r != SOCKET_EMPTY)
			return r;
		r = wait_for(socket->fd, POLLIN, timeout_ms);
		if (r == 0)
			r = socket_fill(socket);
		if (r < 0)
			return r;
	}
}

bool socket_answers(const json_t *message, int64_t id)
{
	const json_t *value = json_object_get(message, "id");

	return json_is_integer(value) && json_integer_value(value) == id && !json_object_get(message, "method");
}
