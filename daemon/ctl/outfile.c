// SPDX-License-Identifier: MIT
#include "daemon/ctl/outfile.h"
#include <errno.h>
#include <fcntl.h>
#include <libgen.h>
#include <sys/stat.h>
#include <unistd.h>

static enum ctl_status refuse(const char *path, int error)
{
	switch (error) {
	case ENOSPC:
	case EDQUOT:
		ctl_error("There is no room for %s: free some, or write it elsewhere.", path);
		break;
	case ENOENT:
	case ENOTDIR:
		ctl_error("%s can't be written: there is no such folder. Make it, or name another.", path);
		break;
	case EISDIR:
		ctl_error("%s is a folder: name a file in it.", path);
		break;
	case EACCES:
	case EPERM:
		ctl_error("%s can't be written: %s. Name a file in a folder of your own.", path, strerror(error));
		break;
	default:
		ctl_error("%s can't be written: %s.", path, strerror(error));
		break;
	}
	return CTL_REFUSED;
}

/* The folder that path lies in, and so where the file must be made: a rename doesn't cross file systems. */
static int name_temporary(struct outfile *out)
{
	char copy[PATH_MAX], other[PATH_MAX];
	int n;

	(void)snprintf(copy, sizeof copy, "%s", out->path);
	(void)snprintf(other, sizeof other, "%s", out->path);
	n = snprintf(out->temporary, sizeof out->temporary, "%s/.%s.XXXXXX", dirname(copy), basename(other));
	return n < (int)sizeof out->temporary ? 0 : -ENAMETOOLONG;
}

/* As any program would make it; as it was, when it is replaced. */
static mode_t mode_of(const struct stat *was)
{
	mode_t mask;

	if (was)
		return was->st_mode & 0777;
	mask = umask(077);
	(void)umask(mask);
	return 0666 & ~mask;
}

static int open_beside(struct outfile *out, const struct stat *was)
{
	int r = name_temporary(out), fd;

	if (r < 0)
		return r;
	fd = mkostemp(out->temporary, O_CLOEXEC);
	if (fd < 0)
		return -errno;
	r = fchmod(fd, mode_of(was)) < 0 ? -errno : 0;
	if (r == 0 && !(out->to = fdopen(fd, "w")))
		r = -errno;
	if (r < 0) {
		(void)close(fd); /* nothing was written */
		(void)unlink(out->temporary);
	}
	return r;
}

enum ctl_status outfile_begin(struct outfile *out, const char *path)
{
	char real[PATH_MAX];
	struct stat was;
	bool is;
	int r;

	*out = (struct outfile){ .to = stdout };
	if (!path || strcmp(path, "-") == 0)
		return CTL_DONE;
	if (!*path || strlen(path) >= sizeof out->path)
		return refuse(path, *path ? ENAMETOOLONG : ENOENT);
	(void)snprintf(out->path, sizeof out->path, "%s", realpath(path, real) ? real : path);
	is = stat(out->path, &was) == 0;
	if ((is && S_ISDIR(was.st_mode)) || out->path[strlen(out->path) - 1] == '/')
		return refuse(path, EISDIR);
	if (is && !S_ISREG(was.st_mode)) {
		out->to = fopen(out->path, "we");
		return out->to ? CTL_DONE : refuse(path, errno);
	}
	r = open_beside(out, is ? &was : NULL);
	return r < 0 ? refuse(path, -r) : CTL_DONE;
}

/* The name itself must outlive a power cut too. Not every file system can sync a folder. */
static void sync_folder(const char *path)
{
	char copy[PATH_MAX];
	int fd;

	(void)snprintf(copy, sizeof copy, "%s", path);
	fd = open(dirname(copy), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
	if (fd < 0)
		return;
	(void)fsync(fd);
	(void)close(fd);
}

enum ctl_status outfile_end(struct outfile *out)
{
	int error = 0;

	if (out->to == stdout)
		return ctl_flush();
	errno = 0;
	if (fflush(out->to) != 0 || ferror(out->to) ||
	    (*out->temporary && fsync(fileno(out->to)) < 0 && errno != EINVAL))
		error = errno ? errno : EIO;
	errno = 0;
	if (fclose(out->to) != 0 && error == 0)
		error = errno ? errno : EIO;
	if (error == 0 && *out->temporary && rename(out->temporary, out->path) < 0)
		error = errno;
	if (error != 0) {
		if (*out->temporary)
			(void)unlink(out->temporary);
		return refuse(out->path, error);
	}
	if (*out->temporary)
		sync_folder(out->path);
	return CTL_DONE;
}

void outfile_drop(struct outfile *out)
{
	if (out->to == stdout)
		return;
	(void)fclose(out->to); /* whatever is in it goes */
	if (*out->temporary)
		(void)unlink(out->temporary);
}
