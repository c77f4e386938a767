// SPDX-License-Identifier: MIT
#include "contrib/keypad/seek.h"
#include <errno.h>
#include <limits.h>
#include <sys/epoll.h>
#include <sys/inotify.h>
#include <unistd.h>

struct seek {
	int fd;
	sd_event_source *source;
	char *path;
	void (*told)(void *user);
	void *user;
};

/* Adding a folder that is watched already changes nothing; one that has gone is watched again when it is back. */
static void watch(const struct seek *seek)
{
	char folder[PATH_MAX];
	char *end;

	(void)snprintf(folder, sizeof folder, "%s", seek->path);
	while ((end = strrchr(folder, '/'))) {
		end[end == folder ? 1 : 0] = '\0';
		(void)inotify_add_watch(seek->fd, folder,
					IN_CREATE | IN_MOVED_TO | IN_ATTRIB | IN_ONLYDIR); /* it may not exist */
		if (end == folder)
			return;
	}
}

static int on_change(sd_event_source *source, int fd, uint32_t revents, void *user)
{
	struct seek *seek = user;
	_Alignas(struct inotify_event) char events[4096];

	(void)source, (void)revents;
	while (read(fd, events, sizeof events) > 0)
		continue; /* what it was doesn't matter: the device is there, or isn't */
	watch(seek);
	seek->told(seek->user);
	return 0;
}

int seek_new(struct seek **ret, sd_event *event, const char *path, void (*told)(void *user), void *user)
{
	struct seek *seek = calloc(1, sizeof *seek);
	int r;

	if (!seek)
		return -ENOMEM;
	*seek = (struct seek){ .told = told, .user = user };
	seek->fd = inotify_init1(IN_CLOEXEC | IN_NONBLOCK);
	r = seek->fd < 0 ? -errno : 0;
	seek->path = strdup(path);
	if (r == 0 && !seek->path)
		r = -ENOMEM;
	if (r == 0)
		r = sd_event_add_io(event, &seek->source, seek->fd, EPOLLIN, on_change, seek);
	if (r < 0) {
		seek_free(seek);
		return r;
	}
	watch(seek);
	*ret = seek;
	return 0;
}

struct seek *seek_free(struct seek *seek)
{
	if (!seek)
		return NULL;
	sd_event_source_disable_unref(seek->source);
	if (seek->fd >= 0)
		(void)close(seek->fd); /* nothing was written to it */
	free(seek->path);
	free(seek);
	return NULL;
}
