// SPDX-License-Identifier: MIT
#pragma once
/*
 * bismar-page's command line, and the socket it asks for.
 * Above: main.c. Below: contrib/client/usage, host, sockets, files. What is wrong is told to standard error here.
 */
#include "contrib/client/usage.h"
#include "contrib/page/server.h"
#include <stdbool.h>
#include <sys/socket.h>

#define OPTIONS_LISTEN "127.0.0.1:8023"
#define OPTIONS_HEARTBEAT_S 15.0 /* the page takes three times as much for a lost connection */
#define OPTIONS_NAMES 16

struct options {
	struct server_options server;
	const char *names[OPTIONS_NAMES];
	char *certificate, *key; /* their contents */
	struct sockaddr_storage address;
	socklen_t length;
	bool private_network;
};

/* The strings of argv and of the environment are borrowed. options_done() follows, whatever comes out. */
enum usage options_read(struct options *options, int argc, char **argv);
void options_done(struct options *options);
/* Listens. 0 and *ret_fd, or -errno. */
int options_listen(const struct options *options, int *ret_fd);
/* "http://127.0.0.1:8023/" of a listening socket. */
void options_url(const struct options *options, int fd, char *buffer, size_t size);
