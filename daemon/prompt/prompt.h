// SPDX-License-Identifier: MIT
#pragma once
/*
 * The prompt socket: listening, clients, their queues and caps; notifications to those who follow a topic.
 * Above: daemon/main.c and daemon/desk. Below: sd-event, rpc.h. No SQL, no D-Bus.
 *
 * A client whose queue is full is closed; the others don't notice. Files: rpc.c (the protocol, pure), params.c (the
 * typed parameters), prompt_topic.c (the topics' words), client.c (one connection), listener.c (the socket's file),
 * prompt.c (this interface).
 *
 * A method, a word or open_asks may call prompt_tell(), left may not; none of them may call prompt_free().
 */
#include "prompt_topic.h"
#include "rpc.h"

struct prompt;
struct sd_event;

struct prompt_notice {
	enum prompt_topic topic;
	json_t *params;   /* an object; borrowed. NULL: there was no memory for it, and who should have it is closed */
	const char *text; /* the same as one readable line without line end; borrowed */
};

struct prompt_ops {
	struct rpc_service service;
	/* Calls tell(context, notice) for each open ask, oldest first: for a newcomer, or one who asks for the topic
	 * anew. */
	void (*open_asks)(void *userdata, void (*tell)(void *context, const struct prompt_notice *notice),
			  void *context);
	/* A connection has ended, and won't call any more; NULL: nobody wants to know. */
	void (*left)(void *userdata, const struct rpc_caller *caller);
};

/* ops is copied, its tables are borrowed. */
int prompt_new(struct sd_event *event, const struct prompt_ops *ops, struct prompt **ret);
/* Closes all connections; a socket that listen() made is removed. Takes NULL; returns NULL. */
struct prompt *prompt_free(struct prompt *prompt);

/* Listens on a path (mode 0660, group `bismar` where there is one and we may), replacing a stale socket.
 * -EADDRINUSE when somebody answers there; or another -errno. */
int prompt_listen(struct prompt *prompt, const char *path);
/* Takes over a listening socket (systemd's); on failure it stays the caller's. -EINVAL when it isn't one of
 * AF_UNIX and SOCK_STREAM that listens. Either is -EBUSY when the prompt listens already. */
int prompt_listen_fd(struct prompt *prompt, int fd);

/* Sends to every client that follows the topic. */
void prompt_tell(struct prompt *prompt, const struct prompt_notice *notice);
size_t prompt_clients(const struct prompt *prompt);
