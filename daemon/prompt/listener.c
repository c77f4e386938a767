// SPDX-License-Identifier: MIT
#include "daemon/prompt/listener.h"
#include "daemon/prompt/accounts.h"
#include <errno.h>
#include <fcntl.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <systemd/sd-daemon.h>
#include <unistd.h>

#define GROUP "bismar"
#define BACKLOG 128 /* who comes while the loop is busy, and doesn't want to wait */

static int fill_address(struct sockaddr_un *address, const char *path)
{
	size_t n = strlen(path);

	if (n == 0)
		return -EINVAL;
	if (n >= sizeof address->sun_path)
		return -ENAMETOOLONG;
	*address = (struct sockaddr_un){ .sun_family = AF_UNIX };
	memcpy(address->sun_path, path, n);
	return 0;
}

static int make_socket(int *ret)
{
	int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);

	if (fd < 0)
		return -errno;
	*ret = fd;
	return 0;
}

/* Removes a socket file that nobody answers at. */
static int remove_stale(const struct sockaddr_un *address)
{
	struct stat status;
	int fd = -1, r;

	if (lstat(address->sun_path, &status) < 0)
		return errno == ENOENT ? 0 : -errno;
	if (!S_ISSOCK(status.st_mode))
		return -ENOTSOCK;
	r = make_socket(&fd);
	if (r < 0)
		return r;
	r = connect(fd, (const struct sockaddr *)address, sizeof *address) < 0 ? errno : 0;
	(void)close(fd); /* nothing was written */
	switch (r) {
	case 0:
	case EAGAIN: /* its backlog is full: alive, and busy */
		return -EADDRINUSE;
	case ECONNREFUSED:
		return unlink(address->sun_path) < 0 && errno != ENOENT ? -errno : 0;
	case ENOENT:
		return 0;
	}
	return -r;
}

/* The group may connect; nobody else. Where the group doesn't exist, or isn't ours to give, root and we can. */
static int open_to_group(const char *path)
{
	gid_t gid;

	if (accounts_group(GROUP, &gid) && lchown(path, (uid_t)-1, gid) < 0 && errno != EPERM)
		return -errno;
	return chmod(path, 0660) < 0 ? -errno : 0;
}

/* Binds in such a way that nobody can connect before the mode is right. */
static int bind_closed(int fd, const struct sockaddr_un *address)
{
	mode_t before = umask(0177);
	int r = bind(fd, (const struct sockaddr *)address, sizeof *address) < 0 ? -errno : 0;

	(void)umask(before); /* never fails */
	return r;
}

int listener_open(struct listener *listener, const char *path)
{
	struct listener new = LISTENER_NONE;
	struct sockaddr_un address;
	struct stat status;
	int r = fill_address(&address, path);

	if (r < 0)
		return r;
	r = make_socket(&new.fd);
	if (r < 0)
		return r;
	r = remove_stale(&address);
	if (r == 0)
		r = bind_closed(new.fd, &address);
	if (r < 0)
		goto failed;
	new.path = strdup(path);
	if (!new.path) {
		r = -ENOMEM;
		(void)unlink(path); /* a stale socket does little harm */
		goto failed;
	}
	if (lstat(path, &status) < 0) {
		r = -errno;
		goto failed;
	}
	new.dev = status.st_dev;
	new.ino = status.st_ino;
	r = open_to_group(path);
	if (r == 0 && listen(new.fd, BACKLOG) < 0)
		r = -errno;
	if (r < 0)
		goto failed;
	*listener = new;
	return 0;
failed:
	listener_done(&new);
	return r;
}

int listener_adopt(struct listener *listener, int fd)
{
	int flags, r = sd_is_socket_unix(fd, SOCK_STREAM, 1, NULL, 0);

	if (r < 0)
		return r;
	if (r == 0)
		return -EINVAL;
	flags = fcntl(fd, F_GETFL);
	if (flags < 0 || fcntl(fd, F_SETFL, flags | O_NONBLOCK) < 0 || fcntl(fd, F_SETFD, FD_CLOEXEC) < 0)
		return -errno;
	*listener = (struct listener){ .fd = fd };
	return 0;
}

void listener_done(struct listener *listener)
{
	struct stat status;

	if (listener->path && lstat(listener->path, &status) == 0 && status.st_dev == listener->dev &&
	    status.st_ino == listener->ino)
		(void)unlink(listener->path); /* a stale socket does little harm */
	if (listener->fd >= 0)
		(void)close(listener->fd); /* nothing to lose in it */
	free(listener->path);
	*listener = (struct listener)LISTENER_NONE;
}
