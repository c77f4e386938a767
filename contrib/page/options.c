// SPDX-License-Identifier: MIT
#include "contrib/page/options.h"
#include "contrib/page/host.h"
#include "daemon/ctl/ctl.h"
#include "daemon/ctl/paired.h"
#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <unistd.h>

#define PEM_MAX ((size_t)64 * 1024)
#define BACKLOG 1024 /* a flood that waits here keeps nobody out for the second of a lost SYN */

static const char help[] = "usage: bismar-page [OPTION...]\n"
			   "Serves the page for a phone at the whelping box. `bismar page pair` makes a code for one.\n"
			   "  --socket PATH         bismard's socket, " CTL_SOCKET " by default\n"
			   "  --database FILE       " CTL_DATABASE " by default\n"
			   "  --state FOLDER        which phones are paired ($STATE_DIRECTORY, or " PAIRED_DIR ")\n"
			   "  --listen ADDRESS:PORT\n"
			   "                        where it serves (" OPTIONS_LISTEN "); port 0: any free one\n"
			   "  --host NAME           a name under which the page is opened; up to 16 times\n"
			   "  --certificate FILE --key FILE\n"
			   "                        TLS, in PEM; an address that others can reach needs it\n"
			   "  --private-network     instead: nobody else can listen on that network (a VPN)\n"
			   "  --heartbeat SECONDS   between signs of life to an open page (15)\n" USAGE_COMMON_HELP;

enum choice {
	OPTION_SOCKET = USAGE_OWN,
	OPTION_DATABASE,
	OPTION_STATE,
	OPTION_LISTEN,
	OPTION_HOST,
	OPTION_CERTIFICATE,
	OPTION_KEY,
	OPTION_PRIVATE,
	OPTION_HEARTBEAT,
};

static const struct option known[] = {
	{ "socket", required_argument, NULL, OPTION_SOCKET },
	{ "database", required_argument, NULL, OPTION_DATABASE },
	{ "state", required_argument, NULL, OPTION_STATE },
	{ "listen", required_argument, NULL, OPTION_LISTEN },
	{ "host", required_argument, NULL, OPTION_HOST },
	{ "certificate", required_argument, NULL, OPTION_CERTIFICATE },
	{ "key", required_argument, NULL, OPTION_KEY },
	{ "private-network", no_argument, NULL, OPTION_PRIVATE },
	{ "heartbeat", required_argument, NULL, OPTION_HEARTBEAT },
	USAGE_COMMON,
};

/* What is looked at when all has been read. */
struct given {
	struct options *options;
	const char *listen, *certificate, *key, *heartbeat;
};

static enum usage take(void *user, int option)
{
	struct given *given = user;
	struct options *options = given->options;

	switch (option) {
	case OPTION_SOCKET:
		return usage_text("--socket", &options->server.socket);
	case OPTION_DATABASE:
		return usage_text("--database", &options->server.database);
	case OPTION_STATE:
		return usage_text("--state", &options->server.state);
	case OPTION_LISTEN:
		return usage_text("--listen", &given->listen);
	case OPTION_CERTIFICATE:
		return usage_text("--certificate", &given->certificate);
	case OPTION_KEY:
		return usage_text("--key", &given->key);
	case OPTION_HEARTBEAT:
		return usage_text("--heartbeat", &given->heartbeat);
	case OPTION_HOST:
		if (options->server.n_names == OPTIONS_NAMES)
			return usage_wrong("--host is there more than %d times", OPTIONS_NAMES);
		return usage_text("--host", &options->names[options->server.n_names++]);
	default: /* OPTION_PRIVATE */
		options->private_network = true;
		return USAGE_RUN;
	}
}

/* A whole file as text, or NULL after telling why. */
static char *contents(const char *path)
{
	int fd = open(path, O_RDONLY | O_CLOEXEC);
	char *text = fd < 0 ? NULL : calloc(1, PEM_MAX + 1);
	ssize_t n = text ? read(fd, text, PEM_MAX) : -1;

	if (n <= 0)
		(void)usage_wrong("can't read %s: %s", path, n < 0 ? strerror(errno) : "it is empty");
	if (fd >= 0)
		(void)close(fd); /* was only read */
	if (n > 0)
		return text;
	free(text);
	return NULL;
}

static enum usage check(struct options *options, const struct given *given)
{
	char *end = NULL;
	double seconds = given->heartbeat ? strtod(given->heartbeat, &end) : OPTIONS_HEARTBEAT_S;

	if (end && (*end || !(seconds >= .01 && seconds <= 3600)))
		return usage_wrong("--heartbeat is seconds, 0.01 to 3600, not \"%s\"", given->heartbeat);
	options->server.heartbeat_usec = (uint64_t)(seconds * 1e6);
	if (!host_address(given->listen, &options->address, &options->length))
		return usage_wrong("--listen is an address and a port, 127.0.0.1:8023 or [::1]:8023, not \"%s\"",
				   given->listen);
	if (!given->certificate != !given->key)
		return usage_wrong("--certificate and --key go together");
	if (!given->certificate && !options->private_network && !host_is_loopback((struct sockaddr *)&options->address))
		return usage_wrong("%s can be reached by others, who could listen to the phone and take its place: "
				   "give --certificate and --key, or say --private-network if only your own devices "
				   "are on that network",
				   given->listen);
	if (!given->certificate)
		return USAGE_RUN;
	options->server.certificate = options->certificate = contents(given->certificate);
	options->server.key = options->key = contents(given->key);
	return options->key && options->certificate ? USAGE_RUN : USAGE_WRONG;
}

enum usage options_read(struct options *options, int argc, char **argv)
{
	struct given given = { .options = options, .listen = OPTIONS_LISTEN };
	const struct usage_line line = { help, known, take, &given };
	const char *state = getenv("STATE_DIRECTORY");
	enum usage usage;

	*options = (struct options){ .server = { .socket = CTL_SOCKET, .database = CTL_DATABASE } };
	options->server.state = state && *state ? state : PAIRED_DIR;
	options->server.names = options->names;
	usage = usage_read(&line, argc, argv);
	return usage == USAGE_RUN ? check(options, &given) : usage;
}

void options_done(struct options *options)
{
	if (options->key)
		explicit_bzero(options->key, strlen(options->key));
	free(options->certificate);
	free(options->key);
}

int options_listen(const struct options *options, int *ret_fd)
{
	int fd = socket(options->address.ss_family, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0), one = 1, r;

	if (fd < 0)
		return -errno;
	if (setsockopt(fd, SOL_SOCKET, SO_REUSEADDR, &one, sizeof one) == 0 &&
	    bind(fd, (const struct sockaddr *)&options->address, options->length) == 0 && listen(fd, BACKLOG) == 0) {
		*ret_fd = fd;
		return 0;
	}
	r = -errno;
	(void)close(fd); /* nobody has it yet */
	return r;
}

void options_url(const struct options *options, int fd, char *buffer, size_t size)
{
	struct sockaddr_storage address = { 0 };
	socklen_t length = sizeof address;
	char text[INET6_ADDRSTRLEN] = "?";
	struct sockaddr_in v4;
	struct sockaddr_in6 v6;
	bool is_v6;

	(void)getsockname(fd, (struct sockaddr *)&address, &length); /* a socket that is bound has a name */
	memcpy(&v4, &address, sizeof v4);
	memcpy(&v6, &address, sizeof v6);
	is_v6 = address.ss_family == AF_INET6;
	(void)inet_ntop(address.ss_family, is_v6 ? (void *)&v6.sin6_addr : (void *)&v4.sin_addr, text, sizeof text);
	(void)snprintf(buffer, size, "%s://%s%s%s:%u/", options->certificate ? "https" : "http", is_v6 ? "[" : "", text,
		       is_v6 ? "]" : "", ntohs(is_v6 ? v6.sin6_port : v4.sin_port));
}
