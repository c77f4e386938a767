// SPDX-License-Identifier: MIT
#pragma once
/*
 * The listening socket and its file. Above: prompt.c. Below: the kernel. Accepts nobody, knows no protocol.
 */
#include <sys/types.h>

struct listener {
	int fd;     /* -1: none */
	char *path; /* NULL: there is no file, or it isn't ours */
	dev_t dev;
	ino_t ino;
};
#define LISTENER_NONE                                                                                                  \
	{                                                                                                              \
		.fd = -1                                                                                               \
	}

/*
 * Binds to path and listens; mode 0660, group `bismar` where there is one and we may. A socket file that nobody
 * answers at is replaced. -EADDRINUSE when somebody does, -ENOTSOCK when something else stands there,
 * -ENAMETOOLONG, or another -errno.
 */
int listener_open(struct listener *listener, const char *path);
/* Takes over fd when it returns 0. -EINVAL when it is no listening AF_UNIX SOCK_STREAM socket. */
int listener_adopt(struct listener *listener, int fd);
/* Closes, and removes the file that listener_open() made, unless another stands in its place by now. */
void listener_done(struct listener *listener);
