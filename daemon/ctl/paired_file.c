// SPDX-License-Identifier: MIT
#include "daemon/ctl/paired_file.h"
#include <errno.h>
#include <fcntl.h>
#include <sys/file.h>
#include <sys/random.h>
#include <sys/stat.h>
#include <unistd.h>

#define FILE_MAX 4096

json_t *paired_file_read(int dir_fd, const char *name)
{
	char text[FILE_MAX];
	int fd = openat(dir_fd, name, O_RDONLY | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK); /* nor does a pipe hold us up */
	ssize_t n;
	json_t *object;

	if (fd < 0)
		return NULL;
	n = read(fd, text, sizeof text);
	(void)close(fd); /* was only read */
	if (n <= 0 || (size_t)n == sizeof text)
		return NULL;
	object = json_loadb(text, (size_t)n, JSON_REJECT_DUPLICATES, NULL);
	if (json_is_object(object))
		return object;
	json_decref(object);
	return NULL;
}

static int fill(int dir_fd, int fd, const json_t *object)
{
	char *text = json_dumps(object, JSON_COMPACT);
	size_t n = text ? strlen(text) : 0;
	struct stat dir;
	int r = 0;

	if (!text)
		return -ENOMEM;
	errno = 0;
	/* what root pairs is the server's to read */
	if (geteuid() == 0 && (fstat(dir_fd, &dir) < 0 || fchown(fd, dir.st_uid, dir.st_gid) < 0))
		r = -errno;
	else if (write(fd, text, n) != (ssize_t)n)
		r = errno ? -errno : -ENOSPC;
	else if (fsync(fd) < 0)
		r = -errno;
	free(text);
	return r;
}

int paired_file_write(int dir_fd, const char *name, const json_t *object)
{
	char temporary[48];
	uint64_t random;
	int fd, r;

	if (getrandom(&random, sizeof random, 0) != (ssize_t)sizeof random)
		return -EIO;
	(void)snprintf(temporary, sizeof temporary, ".new-%016llx", (unsigned long long)random);
	fd = openat(dir_fd, temporary, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC | O_NOFOLLOW, 0600);
	if (fd < 0)
		return -errno;
	r = fill(dir_fd, fd, object);
	(void)close(fd); /* synced, or given up */
	if (r == 0 && renameat(dir_fd, temporary, dir_fd, name) < 0)
		r = -errno;
	if (r < 0)
		(void)unlinkat(dir_fd, temporary, 0);
	else if (fsync(dir_fd) < 0 && errno != EINVAL) /* not every file system can */
		r = -errno;
	return r;
}

int paired_file_remove(int dir_fd, const char *name)
{
	if (unlinkat(dir_fd, name, 0) < 0)
		return -errno;
	return fsync(dir_fd) < 0 && errno != EINVAL ? -errno : 0;
}

int paired_file_lock(int dir_fd, bool wait)
{
	while (flock(dir_fd, LOCK_EX | (wait ? 0 : LOCK_NB)) < 0)
		if (errno != EINTR)
			return errno == EWOULDBLOCK ? -EAGAIN : -errno;
	return 0;
}

void paired_file_unlock(int dir_fd)
{
	(void)flock(dir_fd, LOCK_UN); /* we hold it */
}
