// SPDX-License-Identifier: MIT
#include "contrib/keypad/input.h"
#include "contrib/keypad/seek.h"
#include "daemon/log.h"
#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <libevdev/libevdev.h>
#include <limits.h>
#include <linux/input.h>
#include <sys/epoll.h>
#include <sys/stat.h>
#include <unistd.h>

#define FOLDER "/dev/input"
#define FOLDER_LASTING "/dev/input/by-id" /* systemd's udev rules: names that stay */

struct input {
	sd_event *event;
	char *path, *name; /* one of them */
	bool replay;
	struct input_calls calls;
	void *user;
	struct seek *seek;
	sd_event_source *io;
	int fd;                  /* -1: not there */
	struct libevdev *dev;    /* NULL for a recording */
	struct input_event part; /* of a recording, as far as it has come */
	size_t n_part;
	bool told; /* that it isn't there */
};

/* ---- a device ---- */

/* Opens it if it has keys. *ret_fd is the caller's, and *ret_dev lives no longer than it. */
static int open_device(const char *path, int *ret_fd, struct libevdev **ret_dev)
{
	int fd = open(path, O_RDONLY | O_NONBLOCK | O_CLOEXEC | O_NOCTTY);
	int r;

	if (fd < 0)
		return -errno;
	r = libevdev_new_from_fd(fd, ret_dev);
	if (r == 0 && !libevdev_has_event_type(*ret_dev, EV_KEY)) {
		libevdev_free(*ret_dev);
		r = -ENODEV;
	}
	if (r < 0) {
		(void)close(fd); /* nothing was written to it */
		return r;
	}
	*ret_fd = fd;
	return 0;
}

/* Calls each with the devices of a folder, in no order, until one returns true. */
static bool each_in(const char *folder, const char *begin, bool (*one)(void *context, const char *path), void *context)
{
	DIR *dir = opendir(folder);
	struct dirent *entry;
	char path[PATH_MAX];
	bool done = false;

	while (dir && !done && (entry = readdir(dir))) {
		if (strncmp(entry->d_name, begin, strlen(begin)) != 0 || *entry->d_name == '.')
			continue;
		(void)snprintf(path, sizeof path, "%s/%s", folder, entry->d_name);
		done = one(context, path);
	}
	if (dir)
		(void)closedir(dir); /* it was only read */
	return done;
}

struct wanted {
	const char *name;
	char path[PATH_MAX];
};

static bool is_wanted(void *context, const char *path)
{
	struct wanted *wanted = context;
	struct libevdev *dev = NULL;
	bool fits;
	int fd = -1;

	if (open_device(path, &fd, &dev) < 0)
		return false;
	fits = strcmp(libevdev_get_name(dev), wanted->name) == 0;
	if (fits)
		(void)snprintf(wanted->path, sizeof wanted->path, "%s", path);
	libevdev_free(dev);
	(void)close(fd); /* nothing was written to it */
	return fits;
}

/* Grabbed, and on the clock that the questions are on. */
static int take_device(struct input *input, const char *path)
{
	int r = open_device(path, &input->fd, &input->dev);

	if (r < 0) {
		input->fd = -1;
		return r;
	}
	r = libevdev_grab(input->dev, LIBEVDEV_GRAB);
	if (r == 0)
		r = libevdev_set_clock_id(input->dev, CLOCK_MONOTONIC);
	return r;
}

/* ---- a recording ---- */

static int take_recording(struct input *input, const char *path)
{
	struct stat status;

	input->fd = open(path, O_RDONLY | O_NONBLOCK | O_CLOEXEC);
	if (input->fd < 0)
		return -errno;
	if (fstat(input->fd, &status) < 0)
		return -errno;
	return S_ISFIFO(status.st_mode) ? 0 : -ESPIPE;
}

/* 1 and an event, 0: not yet, -ENODEV at its end, -errno. */
static int next_recorded(struct input *input, struct input_event *ret)
{
	ssize_t n = read(input->fd, (char *)&input->part + input->n_part, sizeof input->part - input->n_part);

	if (n < 0)
		return errno == EAGAIN || errno == EINTR ? 0 : -errno;
	if (n == 0)
		return -ENODEV;
	input->n_part += (size_t)n;
	if (input->n_part < sizeof input->part)
		return 0;
	input->n_part = 0;
	*ret = input->part;
	return 1;
}

/* ---- coming and going ---- */

static void let_go(struct input *input)
{
	input->io = sd_event_source_disable_unref(input->io);
	libevdev_free(input->dev); /* takes NULL */
	input->dev = NULL;
	if (input->fd >= 0)
		(void)close(input->fd); /* nothing was written to it */
	input->fd = -1;
	input->n_part = 0;
}

static void tell_gone(struct input *input, const char *path, int r)
{
	char say[PATH_MAX + 128];

	if (input->told)
		return;
	input->told = true;
	if (r == -ENOENT || r == -ENODEV || r == -ENXIO)
		(void)snprintf(say, sizeof say, "%s isn't there; waiting for it", path);
	else if (r == -EACCES || r == -EPERM)
		(void)snprintf(say, sizeof say, "%s may not be read: join the group input; waiting", path);
	else if (r == -EBUSY)
		(void)snprintf(say, sizeof say, "%s: another program has taken it; end that one, then plug it in again",
			       path);
	else if (r == -ESPIPE)
		(void)snprintf(say, sizeof say, "%s is no FIFO: make one with mkfifo(1)", path);
	else
		(void)snprintf(say, sizeof say, "%s can't be read (%s); waiting", path, strerror(-r));
	input->calls.gone(input->user, say);
}

/* 1 and an event, 0: none now, -errno: it has gone. */
static int next_event(struct input *input, struct input_event *ret)
{
	int r;

	if (!input->dev)
		return next_recorded(input, ret);
	r = libevdev_next_event(input->dev, LIBEVDEV_READ_FLAG_NORMAL, ret);
	if (r == LIBEVDEV_READ_STATUS_SYNC)
		input->calls.lost(input->user); /* what was missed is skipped at the next call */
	return r == -EAGAIN ? 0 : r < 0 ? r : 1;
}

static int on_readable(sd_event_source *source, int fd, uint32_t revents, void *user)
{
	struct input *input = user;
	struct input_event event;
	int r;

	(void)source, (void)fd, (void)revents;
	while ((r = next_event(input, &event)) > 0) {
		if (event.type == EV_KEY)
			input->calls.key(input->user, event.code, event.value,
					 (int64_t)event.input_event_sec * 1000 + event.input_event_usec / 1000);
		else if (event.type == EV_SYN && event.code == SYN_DROPPED)
			input->calls.lost(input->user);
	}
	if (r == 0)
		return 0;
	let_go(input);
	input->told = false;
	tell_gone(input, input->path ? input->path : input->name, r);
	return 0;
}

static int take(struct input *input, const char *path)
{
	int r = input->replay ? take_recording(input, path) : take_device(input, path);

	if (r == 0)
		r = sd_event_add_io(input->event, &input->io, input->fd, EPOLLIN, on_readable, input);
	if (r < 0)
		let_go(input);
	return r;
}

/* It may be there: takes it, if it isn't taken yet. */
static void try(void *user)
{
	struct input *input = user;
	struct wanted wanted = { .name = input->name };
	const char *path = input->path;
	int r = -ENOENT;

	if (input->fd >= 0)
		return;
	if (!path && each_in(FOLDER, "event", is_wanted, &wanted))
		path = wanted.path;
	if (path)
		r = take(input, path);
	if (r < 0) {
		tell_gone(input, path ? path : input->name, r);
		return;
	}
	input->told = false;
	input->calls.here(input->user, path, input->dev ? libevdev_get_name(input->dev) : "recording");
}

int input_new(struct input **ret, sd_event *event, const struct input_choice *choice, const struct input_calls *calls,
	      void *user)
{
	struct input *input = calloc(1, sizeof *input);
	int r = 0;

	if (!input)
		return -ENOMEM;
	*input = (struct input){
		.event = sd_event_ref(event), .replay = choice->replay, .calls = *calls, .user = user, .fd = -1
	};
	if (choice->path)
		input->path = strdup(choice->path);
	else
		input->name = strdup(choice->name);
	if (!input->path && !input->name)
		r = -ENOMEM;
	if (r == 0)
		r = seek_new(&input->seek, event, input->path ? input->path : FOLDER "/event0", try, input);
	if (r < 0) {
		input_free(input);
		return r;
	}
	*ret = input;
	try(input);
	return 0;
}

struct input *input_free(struct input *input)
{
	if (!input)
		return NULL;
	let_go(input);
	seek_free(input->seek);
	sd_event_unref(input->event);
	free(input->path);
	free(input->name);
	free(input);
	return NULL;
}

static bool print_one(void *context, const char *path)
{
	unsigned *n = context;
	char name[256];
	struct libevdev *dev;
	int fd = -1;

	if (open_device(path, &fd, &dev) < 0)
		return false;
	(void)printf("%s  %s\n", path, log_quote(libevdev_get_name(dev), name, sizeof name));
	libevdev_free(dev);
	(void)close(fd); /* nothing was written to it */
	++*n;
	return false;
}

unsigned input_list(void)
{
	unsigned n = 0;

	(void)each_in(FOLDER_LASTING, "", print_one, &n);
	(void)each_in(FOLDER, "event", print_one, &n);
	return n;
}
