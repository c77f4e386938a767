// SPDX-License-Identifier: MIT
#include "contrib/client/aloud.h"
#include "daemon/ctl/text.h"
#include <errno.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

static int address_of(const char *path, struct sockaddr_un *ret)
{
	size_t n = strlen(path);

	*ret = (struct sockaddr_un){ .sun_family = AF_UNIX };
	if (n >= sizeof ret->sun_path)
		return -ENAMETOOLONG;
	memcpy(ret->sun_path, path, n + 1);
	return 0;
}

int aloud_open(void)
{
	int fd = socket(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);

	if (fd < 0)
		return -errno;
	return fd;
}

int aloud_send(int fd, const char *path, const char *sentence)
{
	struct sockaddr_un address;
	size_t n = text_whole(sentence, ALOUD_BYTES);
	int r = address_of(path, &address);

	if (r < 0)
		return r;
	if (sendto(fd, sentence, n, MSG_NOSIGNAL, (const struct sockaddr *)&address, sizeof address) < 0)
		return -errno;
	return 0;
}

int aloud_listen(const char *path)
{
	struct sockaddr_un address;
	int fd, r = address_of(path, &address);

	if (r < 0)
		return r;
	fd = aloud_open();
	if (fd < 0)
		return fd;
	(void)unlink(path); /* of one that has ended without doing so; what else stands in the way is told by bind(2) */
	if (bind(fd, (const struct sockaddr *)&address, sizeof address) < 0 || chmod(path, 0660) < 0) {
		r = -errno;
		(void)close(fd); /* nothing was written to it */
		return r;
	}
	return fd;
}

int aloud_receive(int fd, char *buffer, size_t size)
{
	ssize_t n = recv(fd, buffer, size - 1, MSG_DONTWAIT);

	if (n < 0)
		return -errno;
	buffer[n] = '\0';
	return (int)n;
}
