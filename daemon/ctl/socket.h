// SPDX-License-Identifier: MIT
#pragma once
/*
 * A client of the prompt socket (protocol 1): JSON-RPC 2.0, one object a line, over AF_UNIX. It waits by poll(2) and
 * never blocks otherwise. No message to people, no terminal.
 * Above: request.c, watch.c. Below: jansson.
 */
#include <jansson.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* How long the daemon may take to answer, or to read. */
#define SOCKET_PATIENCE_MS 10000

struct socket;

/* 0, or -errno: -ENOENT and -ECONNREFUSED when nobody listens, -EACCES, -ENAMETOOLONG, ... */
int socket_new(const char *path, struct socket **ret);
struct socket *socket_free(struct socket *socket); /* takes NULL, returns NULL */
int socket_fd(const struct socket *socket);        /* to poll for POLLIN */

/* Sends a request; params is borrowed, NULL is none. 0, -ETIMEDOUT, -EPIPE, -ENOMEM, ... */
int socket_send(struct socket *socket, const char *method, json_t *params, int64_t *ret_id);
/* Reads what is there without waiting. 0 (also when nothing was there), -ECONNRESET when the daemon has closed,
 * -EMSGSIZE when a line has no end. */
int socket_fill(struct socket *socket);
enum socket_next { SOCKET_MESSAGE = 0, SOCKET_EMPTY };
/* Takes the next whole line that was read: SOCKET_MESSAGE and *ret_message (a new reference), SOCKET_EMPTY, or -EPROTO
 * when the line isn't a JSON object. */
int socket_next(struct socket *socket, json_t **ret_message);
/* Waits for a message: as socket_next(), or as socket_fill(); -ETIMEDOUT. timeout_ms < 0: for ever. */
int socket_wait(struct socket *socket, int timeout_ms, json_t **ret_message);

/* Whether the message answers the request id. */
bool socket_answers(const json_t *message, int64_t id);
