// SPDX-License-Identifier: MIT
#include "contrib/broker/login.h"
#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define PORT 1883 /* registered with IANA as mqtt, and 8883 as secure-mqtt */
#define PORT_TLS 8883
#define HOST_BYTES 255
#define PATH_SIZE 512

struct why {
	char *text;
	size_t size;
};

__attribute__((format(printf, 2, 3))) static bool wrong(const struct why *why, const char *format, ...)
{
	va_list args;

	va_start(args, format);
	(void)vsnprintf(why->text, why->size, format, args);
	va_end(args);
	return false;
}

enum usage login_take(struct login *login, int option)
{
	switch (option) {
	case LOGIN_HOST:
		return usage_text("--host", &login->host);
	case LOGIN_PORT:
		return usage_number("--port", 1, 65535, &login->port);
	case LOGIN_CA:
		return usage_text("--ca", &login->ca);
	case LOGIN_CERT:
		return usage_text("--cert", &login->cert);
	case LOGIN_KEY:
		return usage_text("--key", &login->key);
	case LOGIN_USER:
		return usage_text("--user", &login->user);
	case LOGIN_PASSWORD:
		return usage_text("--password-file", &login->password_file);
	default: /* LOGIN_CLEAR */
		login->clear_password = true;
		return USAGE_RUN;
	}
}

bool login_is_local(const char *host)
{
	struct in_addr four;
	struct in6_addr six;

	if (strcmp(host, "localhost") == 0)
		return true;
	if (inet_pton(AF_INET, host, &four) == 1)
		return ntohl(four.s_addr) >> 24 == 127;
	return inet_pton(AF_INET6, host, &six) == 1 && IN6_IS_ADDR_LOOPBACK(&six);
}

/* Whether a file can be read, so that what is wrong is told at once and not as the broker's fault. */
static bool is_readable(const struct why *why, const char *option, const char *path)
{
	return !path || access(path, R_OK) == 0 ||
	       wrong(why, "%s: %s can't be read (%s)", option, path, strerror(errno));
}

static bool check_tls(const struct login *login, const struct why *why)
{
	if ((login->cert || login->key) && !login->ca)
		return wrong(why, "--cert and --key are for TLS: say with --ca whom to trust");
	if (!login->cert != !login->key)
		return wrong(why, "--cert and --key go together");
	if (!login->ca)
		return true;
	if (strcmp(login->ca, LOGIN_CA_SYSTEM) != 0 && !is_readable(why, "--ca", login->ca))
		return false;
	return is_readable(why, "--cert", login->cert) && is_readable(why, "--key", login->key);
}

/* Its first line. */
static bool read_password(struct login *login, const char *path, const struct why *why)
{
	int fd = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK); /* nor does a pipe hold us up */
	struct stat status;
	size_t length;
	ssize_t n;

	if (fd < 0)
		return wrong(why, "the password in %s can't be read (%s)", path, strerror(errno));
	if (fstat(fd, &status) < 0 || !S_ISREG(status.st_mode) || (status.st_mode & 07)) {
		(void)close(fd); /* was only looked at */
		return wrong(why, "%s can be read by other users: `chmod 0600 %s`", path, path);
	}
	n = read(fd, login->secret, sizeof login->secret - 1);
	(void)close(fd); /* was only read */
	if (n < 0)
		return wrong(why, "the password in %s can't be read (%s)", path, strerror(errno));
	login->secret[n] = '\0';
	length = strcspn(login->secret, "\r\n");
	if (length == 0 || length > LOGIN_PASSWORD_BYTES || memchr(login->secret, '\0', (size_t)n))
		return wrong(why, "the first line of %s is no password of 1 to %d octets", path, LOGIN_PASSWORD_BYTES);
	login->secret[length] = '\0';
	login->password = login->secret;
	return true;
}

static bool find_password(struct login *login, const struct why *why)
{
	const char *folder = getenv("CREDENTIALS_DIRECTORY"), *path = login->password_file;
	char credential[PATH_SIZE];

	if (!path && folder && login->user) {
		(void)snprintf(credential, sizeof credential, "%s/password", folder);
		if (access(credential, F_OK) == 0)
			path = credential;
	}
	if (!path)
		return true;
	if (!login->user)
		return wrong(why, "a password takes a --user");
	if (!login->ca && !login->clear_password && !login_is_local(login->host))
		return wrong(why,
			     "the password would go to %s for all to read: use TLS (--ca), or say --clear-password",
			     login->host);
	return read_password(login, path, why);
}

bool login_finish(struct login *login, char *why, size_t size)
{
	const struct why words = { why, size };

	if (strlen(login->host) > HOST_BYTES)
		return wrong(&words, "--host is longer than %d octets", HOST_BYTES);
	if (!login->port)
		login->port = login->ca ? PORT_TLS : PORT;
	return check_tls(login, &words) && find_password(login, &words);
}
