// SPDX-License-Identifier: MIT
#include "glue.h"
#include "daemon/radio/wake.h"
#include <errno.h>
#include <stdbool.h>
#include <sys/epoll.h>

#define WATCHES_MAX 4 /* libdbus 1.14 makes two for a socket: one to read, one to write */

struct glue_fd {
	struct glue_fd *next;
	struct glue *glue;
	int fd;
	sd_event_source *source;
	DBusWatch *watches[WATCHES_MAX];
};

struct glue {
	sd_event *event;
	DBusConnection *connection;
	sd_event_source *dispatch;
	struct glue_fd *fds;
};

static uint32_t epoll_mask(const struct glue_fd *at, bool *ret_enabled)
{
	uint32_t mask = 0;

	*ret_enabled = false;
	for (size_t i = 0; i < WATCHES_MAX; i++) {
		if (!at->watches[i] || !dbus_watch_get_enabled(at->watches[i]))
			continue;
		*ret_enabled = true;
		if (dbus_watch_get_flags(at->watches[i]) & DBUS_WATCH_READABLE)
			mask |= EPOLLIN;
		if (dbus_watch_get_flags(at->watches[i]) & DBUS_WATCH_WRITABLE)
			mask |= EPOLLOUT;
	}
	return mask;
}

static int update_source(struct glue_fd *at)
{
	bool enabled;
	uint32_t mask = epoll_mask(at, &enabled);
	int r;

	r = sd_event_source_set_io_events(at->source, mask);
	if (r < 0)
		return r;
	/* switched off, not just masked: epoll reports a hang-up whatever the mask, and that would
	 * spin */
	return sd_event_source_set_enabled(at->source, enabled ? SD_EVENT_ON : SD_EVENT_OFF);
}

static bool still_there(const struct glue *glue, int fd, const DBusWatch *watch)
{
	for (const struct glue_fd *at = glue->fds; at; at = at->next)
		for (size_t i = 0; at->fd == fd && i < WATCHES_MAX; i++)
			if (at->watches[i] == watch)
				return true;
	return false;
}

static unsigned watch_flags(DBusWatch *watch, uint32_t revents)
{
	unsigned flags = 0;

	if (revents & EPOLLIN)
		flags |= DBUS_WATCH_READABLE;
	if (revents & EPOLLOUT)
		flags |= DBUS_WATCH_WRITABLE;
	flags &= dbus_watch_get_flags(watch);
	if (revents & EPOLLERR)
		flags |= DBUS_WATCH_ERROR;
	if (revents & EPOLLHUP)
		flags |= DBUS_WATCH_HANGUP;
	return flags;
}

static int on_io(sd_event_source *source, int fd, uint32_t revents, void *userdata)
{
	struct glue_fd *at = userdata;
	struct glue *glue = at->glue;
	DBusConnection *connection = dbus_connection_ref(glue->connection);
	DBusWatch *watches[WATCHES_MAX];

	(void)source;
	memcpy(watches, at->watches,
	       sizeof watches); /* handling one may remove the others, and `at` with them */
	for (size_t i = 0; i < WATCHES_MAX; i++) {
		unsigned flags;

		if (!watches[i] || !still_there(glue, fd, watches[i]) ||
		    !dbus_watch_get_enabled(watches[i]))
			continue;
		flags = watch_flags(watches[i], revents);
		if (flags)
			(void)dbus_watch_handle(
				watches[i], flags); /* out of memory: the next turn tries again */
	}
	dbus_connection_unref(connection);
	return 0;
}

static struct glue_fd *fd_free(struct glue_fd *at)
{
	for (struct glue_fd **link = &at->glue->fds; *link; link = &(*link)->next)
		if (*link == at) {
			*link = at->next;
			break;
		}
	sd_event_source_disable_unref(at->source);
	free(at);
	return NULL;
}

static struct glue_fd *fd_get(struct glue *glue, int fd)
{
	struct glue_fd *at;

	for (at = glue->fds; at; at = at->next)
		if (at->fd == fd)
			return at;
	at = calloc(1, sizeof *at);
	if (!at)
		return NULL;
	at->glue = glue;
	at->fd = fd;
	if (sd_event_add_io(glue->event, &at->source, fd, 0, on_io, at) < 0) {
		free(at);
		return NULL;
	}
	at->next = glue->fds;
	glue->fds = at;
	return at;
}

static bool fd_empty(const struct glue_fd *at)
{
	for (size_t i = 0; i < WATCHES_MAX; i++)
		if (at->watches[i])
			return false;
	return true;
}

static void remove_watch(DBusWatch *watch, void *userdata)
{
	struct glue_fd *at =
		dbus_watch_get_data(watch); /* not by its descriptor: that may be invalid by now */

	(void)userdata;
	if (!at)
		return;
	dbus_watch_set_data(watch, NULL, NULL);
	for (size_t i = 0; i < WATCHES_MAX; i++)
		if (at->watches[i] == watch)
			at->watches[i] = NULL;
	if (fd_empty(at))
		fd_free(at);
	else
		(void)update_source(at); /* a smaller mask on a descriptor that is there */
}

static dbus_bool_t add_watch(DBusWatch *watch, void *userdata)
{
	struct glue *glue = userdata;
	struct glue_fd *at = fd_get(glue, dbus_watch_get_unix_fd(watch));
	size_t i = 0;

	if (!at)
		return FALSE;
	while (i < WATCHES_MAX && at->watches[i])
		i++;
	if (i == WATCHES_MAX)
		return FALSE;
	at->watches[i] = watch;
	dbus_watch_set_data(watch, at, NULL);
	if (update_source(at) >= 0)
		return TRUE;
	remove_watch(watch, glue);
	return FALSE;
}

static void toggle_watch(DBusWatch *watch, void *userdata)
{
	struct glue_fd *at = dbus_watch_get_data(watch);

	(void)userdata;
	if (at)
		(void)update_source(at); /* the descriptor is in epoll already; changing a mask
					    takes no memory */
}

static void arm(sd_event_source *source, DBusTimeout *timeout)
{
	int interval_ms = dbus_timeout_get_interval(timeout);

	if (dbus_timeout_get_enabled(timeout) && interval_ms >= 0)
		wake_in(source, (uint64_t)interval_ms * 1000);
	else
		wake_at(source, UINT64_MAX);
}

static int on_timeout(sd_event_source *source, uint64_t at_us, void *userdata)
{
	DBusTimeout *timeout = userdata;

	(void)at_us;
	arm(source, timeout); /* first: the handler may remove it. A timeout of libdbus repeats
				 until removed */
	(void)dbus_timeout_handle(timeout); /* out of memory: it repeats */
	return 0;
}

static dbus_bool_t add_timeout(DBusTimeout *timeout, void *userdata)
{
	struct glue *glue = userdata;
	sd_event_source *source;

	if (wake_new(glue->event, on_timeout, timeout, &source) < 0)
		return FALSE;
	dbus_timeout_set_data(timeout, source, NULL);
	arm(source, timeout);
	return TRUE;
}

static void remove_timeout(DBusTimeout *timeout, void *userdata)
{
	sd_event_source *source = dbus_timeout_get_data(timeout);

	(void)userdata;
	dbus_timeout_set_data(timeout, NULL, NULL);
	sd_event_source_disable_unref(source);
}

static void toggle_timeout(DBusTimeout *timeout, void *userdata)
{
	sd_event_source *source = dbus_timeout_get_data(timeout);

	(void)userdata;
	if (source)
		arm(source, timeout);
}

static void dispatch_status(DBusConnection *connection, DBusDispatchStatus status, void *userdata)
{
	struct glue *glue = userdata;

	(void)connection;
	if (status != DBUS_DISPATCH_COMPLETE)
		(void)sd_event_source_set_enabled(glue->dispatch,
						  SD_EVENT_ONESHOT); /* no memory needed */
}

static int on_dispatch(sd_event_source *source, void *userdata)
{
	struct glue *glue = userdata;
	DBusConnection *connection = dbus_connection_ref(glue->connection);

	if (dbus_connection_dispatch(connection) != DBUS_DISPATCH_COMPLETE)
		(void)sd_event_source_set_enabled(source, SD_EVENT_ONESHOT); /* as above */
	dbus_connection_unref(connection);
	return 0;
}

int glue_new(sd_event *event, DBusConnection *connection, struct glue **ret)
{
	struct glue *glue = calloc(1, sizeof *glue);
	int r;

	if (!glue)
		return -ENOMEM;
	glue->event = sd_event_ref(event);
	glue->connection = dbus_connection_ref(connection);
	r = sd_event_add_defer(event, &glue->dispatch, on_dispatch, glue);
	if (r < 0)
		goto fail;
	r = -ENOMEM;
	if (!dbus_connection_set_watch_functions(connection, add_watch, remove_watch, toggle_watch,
						 glue, NULL) ||
	    !dbus_connection_set_timeout_functions(connection, add_timeout, remove_timeout,
						   toggle_timeout, glue, NULL))
		goto fail;
	/* the source is on from the start: what was queued before we came is dispatched in the
	 * first turn */
	dbus_connection_set_dispatch_status_function(connection, dispatch_status, glue, NULL);
	*ret = glue;
	return 0;
fail:
	glue_free(glue);
	return r;
}

struct glue *glue_free(struct glue *glue)
{
	if (!glue)
		return NULL;
	dbus_connection_set_dispatch_status_function(glue->connection, NULL, NULL, NULL);
	/* taking functions away can't fail; libdbus calls remove_*() for all it had added */
	(void)dbus_connection_set_timeout_functions(glue->connection, NULL, NULL, NULL, NULL, NULL);
	(void)dbus_connection_set_watch_functions(glue->connection, NULL, NULL, NULL, NULL, NULL);
	sd_event_source_disable_unref(glue->dispatch);
	dbus_connection_unref(glue->connection);
	sd_event_unref(glue->event);
	free(glue);
	return NULL;
}
