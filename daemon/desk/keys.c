// SPDX-License-Identifier: MIT
#include "daemon/desk/keys.h"
#include "protocols/hex.h"
#include <errno.h>
#include <fcntl.h>
#include <stdbool.h>
#include <sys/stat.h>
#include <unistd.h>

#define FOLDER "keys"
#define FOLDER_MODE 0700
#define FILE_MODE 0600
#define ID_MAX 64
#define NEW ".new" /* of a file that isn't whole yet; no id has a point in it */
#define DIGITS (2 * KEYS_KEY_SIZE)

struct keys {
	int dir_fd;
};

static int open_folder(int state_fd)
{
	struct stat st;
	int fd;

	if (mkdirat(state_fd, FOLDER, FOLDER_MODE) == 0) {
		if (fsync(state_fd) < 0)
			return -errno;
	} else if (errno != EEXIST) {
		return -errno;
	}
	fd = openat(state_fd, FOLDER, O_RDONLY | O_DIRECTORY | O_NOFOLLOW | O_CLOEXEC);
	if (fd < 0)
		return -errno;
	/* A copied or restored folder may have come back open to others. */
	if (fstat(fd, &st) < 0 || ((st.st_mode & 07777) != FOLDER_MODE && fchmod(fd, FOLDER_MODE) < 0)) {
		int r = -errno;

		(void)close(fd); /* nothing was written */
		return r;
	}
	return fd;
}

int keys_open(const char *state_dir, struct keys **ret)
{
	int state_fd = open(state_dir, O_RDONLY | O_DIRECTORY | O_CLOEXEC), fd;
	struct keys *keys;

	if (state_fd < 0)
		return -errno;
	fd = open_folder(state_fd);
	(void)close(state_fd); /* only read from */
	if (fd < 0)
		return fd;
	keys = malloc(sizeof *keys);
	if (!keys) {
		(void)close(fd);
		return -ENOMEM;
	}
	keys->dir_fd = fd;
	*ret = keys;
	return 0;
}

struct keys *keys_close(struct keys *keys)
{
	if (keys)
		(void)close(keys->dir_fd); /* each file was synced by itself */
	free(keys);
	return NULL;
}

/* An id becomes the name of a file: nothing in it may lead elsewhere. */
static bool is_id(const char *id)
{
	size_t n = strspn(id, "abcdefghijklmnopqrstuvwxyz0123456789-");

	return n > 0 && n <= ID_MAX && id[n] == '\0';
}

enum keys_typed keys_parse(const char *text, uint8_t ret[KEYS_KEY_SIZE])
{
	enum keys_typed typed = KEYS_TYPED_OK;
	uint8_t key[KEYS_KEY_SIZE] = { 0 };
	size_t n = 0;

	for (; *text && typed == KEYS_TYPED_OK; text++) {
		int digit = hex_digit(*text);

		if (*text == ' ' || *text == ':')
			continue;
		if (digit < 0)
			typed = KEYS_TYPED_NOT_HEX;
		else if (n == DIGITS)
			typed = KEYS_TYPED_LONG;
		else
			key[n / 2] = (uint8_t)(key[n / 2] << 4 | digit);
		n++;
	}
	if (typed == KEYS_TYPED_OK && n < DIGITS)
		typed = KEYS_TYPED_SHORT;
	if (typed == KEYS_TYPED_OK)
		memcpy(ret, key, sizeof key);
	explicit_bzero(key, sizeof key);
	return typed;
}

const char *keys_typed_text(enum keys_typed typed)
{
	switch (typed) {
	case KEYS_TYPED_OK:
		return "a key";
	case KEYS_TYPED_SHORT:
		return "a key has 32 hexadecimal digits (0-9, a-f); this has fewer";
	case KEYS_TYPED_LONG:
		return "a key has 32 hexadecimal digits (0-9, a-f); this has more";
	case KEYS_TYPED_NOT_HEX:
		return "a key has hexadecimal digits (0-9, a-f) alone, with spaces or colons between; this has "
		       "something else in it";
	}
	return "no key";
}

/* At most size octets from the beginning. */
static ssize_t read_all(int fd, char *to, size_t size)
{
	size_t n = 0;

	while (n < size) {
		ssize_t got = read(fd, to + n, size - n);

		if (got < 0 && errno == EINTR)
			continue;
		if (got < 0)
			return -errno;
		if (got == 0)
			break;
		n += (size_t)got;
	}
	return (ssize_t)n;
}

static int write_all(int fd, const char *from, size_t n)
{
	while (n > 0) {
		ssize_t put = write(fd, from, n);

		if (put < 0 && errno == EINTR)
			continue;
		if (put < 0)
			return -errno;
		from += put;
		n -= (size_t)put;
	}
	return 0;
}

int keys_load(struct keys *keys, const char *scale_id, uint8_t ret[KEYS_KEY_SIZE])
{
	char text[DIGITS + 2]; /* the newline, and one more: a longer file is none of ours */
	ssize_t n;
	int fd, r = 0;

	if (!is_id(scale_id))
		return -EINVAL;
	/* O_NONBLOCK: whatever lies there, opening it doesn't wait */
	fd = openat(keys->dir_fd, scale_id, O_RDONLY | O_NOFOLLOW | O_NONBLOCK | O_CLOEXEC);
	if (fd < 0)
		return -errno;
	n = read_all(fd, text, sizeof text);
	(void)close(fd); /* only read from */
	if (n < 0)
		r = (int)n;
	else if (n != DIGITS + 1 || text[DIGITS] != '\n')
		r = -EBADMSG;
	text[DIGITS] = '\0';
	if (r == 0 && keys_parse(text, ret) != KEYS_TYPED_OK)
		r = -EBADMSG;
	explicit_bzero(text, sizeof text);
	return r;
}

/* A whole file under a name that isn't in use, durable but for its name. */
static int write_new(int dir_fd, const char *name, const char *text, size_t n)
{
	int fd, r;

	if (unlinkat(dir_fd, name, 0) < 0 && errno != ENOENT) /* what a power cut left */
		return -errno;
	fd = openat(dir_fd, name, O_WRONLY | O_CREAT | O_EXCL | O_NOFOLLOW | O_CLOEXEC, FILE_MODE);
	if (fd < 0)
		return -errno;
	r = write_all(fd, text, n);
	if (r == 0 && fsync(fd) < 0)
		r = -errno;
	if (close(fd) < 0 && r == 0)
		r = -errno;
	if (r < 0)
		(void)unlinkat(dir_fd, name, 0); /* the error to tell is the first */
	return r;
}

int keys_store(struct keys *keys, const char *scale_id, const uint8_t key[KEYS_KEY_SIZE])
{
	static const char digits[] = "0123456789abcdef";
	char name[ID_MAX + sizeof NEW], text[DIGITS + 1];
	int r;

	if (!is_id(scale_id))
		return -EINVAL;
	(void)snprintf(name, sizeof name, "%s" NEW, scale_id);
	for (size_t i = 0; i < KEYS_KEY_SIZE; i++) {
		text[2 * i] = digits[key[i] >> 4];
		text[2 * i + 1] = digits[key[i] & 0x0F];
	}
	text[DIGITS] = '\n';
	r = write_new(keys->dir_fd, name, text, sizeof text);
	explicit_bzero(text, sizeof text);
	if (r < 0)
		return r;
	if (renameat(keys->dir_fd, name, keys->dir_fd, scale_id) < 0) {
		r = -errno;
		(void)unlinkat(keys->dir_fd, name, 0); /* the error to tell is the first */
		return r;
	}
	return fsync(keys->dir_fd) < 0 ? -errno : 0;
}

int keys_remove(struct keys *keys, const char *scale_id)
{
	char name[ID_MAX + sizeof NEW];

	if (!is_id(scale_id))
		return -EINVAL;
	(void)snprintf(name, sizeof name, "%s" NEW, scale_id);
	if (unlinkat(keys->dir_fd, name, 0) < 0 && errno != ENOENT)
		return -errno;
	if (unlinkat(keys->dir_fd, scale_id, 0) < 0 && errno != ENOENT)
		return -errno;
	return fsync(keys->dir_fd) < 0 ? -errno : 0;
}
