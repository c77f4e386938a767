// SPDX-License-Identifier: MIT
/*
 * Preloaded into bismard: system calls on files of its state directory fail when the test says so (fault.h;
 * BISMAR_TEST_DISK names the file, BISMAR_TEST_STATE the directory). Which calls an error befalls, as their manual
 * pages (section 2) list them: EIO any; ENOSPC whatever takes room (fsync and fdatasync too: room may be looked for
 * only then); EROFS opening for writing, writing and removing. Above: disk. Below: the kernel.
 */
#include "fault.h"
#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <sys/syscall.h>

enum { READS = 1, WRITES = 2, SYNCS = 4, OPENS = 8, CREATES = 16, REMOVES = 32, OPENS_TO_WRITE = 64 };

static struct fault *fault;
static char state[256];

__attribute__((constructor)) static void begin(void)
{
	const char *path = getenv("BISMAR_TEST_STATE");

	fault = fault_map("BISMAR_TEST_DISK");
	(void)snprintf(state, sizeof state, "%s/", path ? path : "/nowhere");
}

static bool befalls(int error, int what)
{
	switch (error) {
	case ENOSPC:
		return what & (WRITES | SYNCS | CREATES);
	case EROFS:
		return what & (WRITES | CREATES | REMOVES | OPENS_TO_WRITE);
	default: /* any other errno: EIO */
		return true;
	}
}

static bool fails(int what)
{
	if (!fault || !fault->on || !befalls((int)fault->error, what) || !fault_now(fault))
		return false;
	errno = (int)fault->error;
	return true;
}

static bool is_ours(int fd)
{
	char link[64], path[512];
	ssize_t n;

	if (!fault || !fault->on)
		return false;
	(void)snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
	n = readlink(link, path, sizeof path - 1);
	if (n < 0)
		return false;
	path[n] = '\0';
	return strncmp(path, state, strlen(state)) == 0;
}

static bool fd_fails(int fd, int what)
{
	return is_ours(fd) && fails(what);
}

static int opens(int dir, const char *path, int flags, mode_t mode)
{
	/* openat() is for the folder's own files alone: bismard uses it nowhere else */
	bool ours = dir != AT_FDCWD || strncmp(path, state, strlen(state)) == 0;

	bool makes = flags & O_CREAT && faccessat(dir, path, F_OK, 0) != 0;

	if (ours && fails(OPENS | (makes ? CREATES : 0) | (flags & (O_WRONLY | O_RDWR) ? OPENS_TO_WRITE : 0)))
		return -1;
	return (int)syscall(SYS_openat, dir, path, flags, mode);
}

#define OPEN(name)                                                                                                     \
	int name(const char *path, int flags, ...)                                                                     \
	{                                                                                                              \
		va_list list;                                                                                          \
		mode_t mode;                                                                                           \
		va_start(list, flags);                                                                                 \
		mode = va_arg(list, mode_t);                                                                           \
		va_end(list);                                                                                          \
		return opens(AT_FDCWD, path, flags, mode);                                                             \
	}
OPEN(open)
OPEN(open64)

#define OPENAT(name)                                                                                                   \
	int name(int dir, const char *path, int flags, ...)                                                            \
	{                                                                                                              \
		va_list list;                                                                                          \
		mode_t mode;                                                                                           \
		va_start(list, flags);                                                                                 \
		mode = va_arg(list, mode_t);                                                                           \
		va_end(list);                                                                                          \
		return opens(dir, path, flags, mode);                                                                  \
	}
OPENAT(openat)
OPENAT(openat64)

ssize_t read(int fd, void *to, size_t n)
{
	return fd_fails(fd, READS) ? -1 : syscall(SYS_read, fd, to, n);
}

#define PREAD(name)                                                                                                    \
	ssize_t name(int fd, void *to, size_t n, off_t at)                                                             \
	{                                                                                                              \
		return fd_fails(fd, READS) ? -1 : syscall(SYS_pread64, fd, to, n, at);                                 \
	}
PREAD(pread)
PREAD(pread64)

ssize_t write(int fd, const void *from, size_t n)
{
	return fd_fails(fd, WRITES) ? -1 : syscall(SYS_write, fd, from, n);
}

#define PWRITE(name)                                                                                                   \
	ssize_t name(int fd, const void *from, size_t n, off_t at)                                                     \
	{                                                                                                              \
		return fd_fails(fd, WRITES) ? -1 : syscall(SYS_pwrite64, fd, from, n, at);                             \
	}
PWRITE(pwrite)
PWRITE(pwrite64)

#define FTRUNCATE(name)                                                                                                \
	int name(int fd, off_t size)                                                                                   \
	{                                                                                                              \
		return fd_fails(fd, WRITES) ? -1 : (int)syscall(SYS_ftruncate, fd, size);                              \
	}
FTRUNCATE(ftruncate)
FTRUNCATE(ftruncate64)

int fsync(int fd)
{
	return fd_fails(fd, SYNCS) ? -1 : (int)syscall(SYS_fsync, fd);
}

int fdatasync(int fd)
{
	return fd_fails(fd, SYNCS) ? -1 : (int)syscall(SYS_fdatasync, fd);
}

int unlink(const char *path)
{
	if (strncmp(path, state, strlen(state)) == 0 && fails(REMOVES))
		return -1;
	return (int)syscall(SYS_unlink, path);
}
