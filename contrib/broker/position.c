// SPDX-License-Identifier: MIT
#include "contrib/broker/position.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/paired_file.h"
#include <errno.h>
#include <fcntl.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define FILE_NEW POSITION_FILE ".new" /* one name: what a crash leaves behind is written over */

static const char *const names[LOG_KINDS] = { "reading", "concern" };

json_t *position_pack(const struct position *position, const char *to)
{
	json_t *object = json_pack("{s:s}", "to", to);

	for (size_t i = 0; object && i < LOG_KINDS; i++) {
		json_t *log = json_pack("{s:I, s:s}", "seq", (json_int_t)position->seq[i], "id", position->id[i]);
		if (json_object_set_new(object, names[i], log) == 0)
			continue;
		json_decref(object);
		return NULL;
	}
	return object;
}

enum position_found position_unpack(const json_t *object, const char *to, struct position *ret)
{
	struct position position = { 0 };

	if (!json_is_string(json_object_get(object, "to")))
		return POSITION_BROKEN;
	for (size_t i = 0; i < LOG_KINDS; i++) {
		const json_t *log = json_object_get(object, names[i]);
		const char *id = field_text(log, "id");
		if (!field_whole(log, "seq", &position.seq[i]) || position.seq[i] < 0 || strlen(id) >= WINDOW_ID_SIZE ||
		    (position.seq[i] > 0) != (*id != '\0'))
			return POSITION_BROKEN;
		memcpy(position.id[i], id, strlen(id) + 1);
	}
	if (strcmp(field_text(object, "to"), to) != 0)
		return POSITION_OTHER;
	*ret = position;
	return POSITION_FOUND;
}

int position_open(const char *dir, int *ret_fd)
{
	int fd, r;

	if (mkdir(dir, 0700) < 0 && errno != EEXIST)
		return -errno;
	fd = open(dir, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
	if (fd < 0)
		return -errno;
	r = paired_file_lock(fd, false);
	if (r == 0 && faccessat(fd, ".", W_OK, AT_EACCESS) < 0)
		r = -errno; /* told now, not when the first message is out */
	if (r < 0) {
		(void)close(fd); /* was only looked at */
		return r;
	}
	*ret_fd = fd;
	return 0;
}

enum position_found position_load(int dir_fd, const char *to, struct position *ret)
{
	json_t *object;
	enum position_found found;

	if (faccessat(dir_fd, POSITION_FILE, F_OK, AT_SYMLINK_NOFOLLOW) < 0 && errno == ENOENT)
		return POSITION_NONE;
	object = paired_file_read(dir_fd, POSITION_FILE);
	found = position_unpack(object, to, ret);
	json_decref(object);
	return found;
}

static int write_new(int dir_fd, const char *text)
{
	int fd = openat(dir_fd, FILE_NEW, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC | O_NOFOLLOW, 0600);
	size_t n = strlen(text);
	int r = 0;

	if (fd < 0)
		return -errno;
	errno = 0;
	if (write(fd, text, n) != (ssize_t)n)
		r = errno ? -errno : -ENOSPC;
	else if (fsync(fd) < 0)
		r = -errno;
	(void)close(fd); /* synced, or given up */
	return r;
}

int position_save(int dir_fd, const char *to, const struct position *position)
{
	json_t *object = position_pack(position, to);
	char *text = object ? json_dumps(object, JSON_COMPACT) : NULL;
	int r = text ? write_new(dir_fd, text) : -ENOMEM;

	free(text);
	json_decref(object);
	if (r == 0 && renameat(dir_fd, FILE_NEW, dir_fd, POSITION_FILE) < 0)
		r = -errno;
	if (r == 0 && fsync(dir_fd) < 0 && errno != EINVAL) /* not every file system can */
		r = -errno;
	return r;
}
