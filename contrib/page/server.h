// SPDX-License-Identifier: MIT
#pragma once
/*
 * The HTTP server (HTTP.md): libmicrohttpd on an sd-event loop, one thread, by its epoll descriptor. Routes, and what
 * each request must have: a host that is ours, a paired phone, the same origin.
 * Above: main.c. Below: guests, feed, stream, call, views, ctl/paired, libmicrohttpd.
 */
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <systemd/sd-event.h>

struct server_options {
	const char *socket, *database, *state; /* paths */
	const char *const *names;              /* under which we are reached, beside addresses and localhost */
	size_t n_names;
	const char *certificate, *key; /* PEM, or NULL both */
	uint64_t heartbeat_usec;
	bool ounces; /* people are shown ounces */
};

struct server;

/*
 * listen_fd: a listening, non-blocking TCP socket, the server's from now on. The options are borrowed for as long as it
 * lives. 0, or -errno after telling what is wrong to standard error.
 */
int server_new(struct server **ret, sd_event *event, const struct server_options *options, int listen_fd);
/* Takes NULL, returns NULL. Streams are ended. */
struct server *server_free(struct server *server);
