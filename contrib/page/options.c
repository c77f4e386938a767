// SPDX-License-Identifier: MIT
#include "contrib/page/options.h"
#include "contrib/page/host.h"
#include "daemon/ctl/ctl.h"
#include "daemon/ctl/paired.h"
#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <getopt.h>
#include <netinet/in.h>
#include <stdarg.h>
#include <unistd.h>

#define PEM_MAX ((size_t)64 * 1024)
#define BACKLOG 1024 /* a flood that waits here keeps nobody out for the second of a lost SYN */

enum {
	OPT_SOCKET = 256,
	OPT_DATABASE,
	OPT_STATE,
	OPT_LISTEN,
	OPT_HOST,
	OPT_CERTIFICATE,
	OPT_KEY,
	OPT_PRIVATE,
	OPT_HEARTBEAT
};

static const struct option long_options[] = {
	{ "socket", required_argument, NULL, OPT_SOCKET },
	{ "database", required_argument, NULL, OPT_DATABASE },
	{ "state", required_argument, NULL, OPT_STATE },
	{ "listen", required_argument, NULL, OPT_LISTEN },
	{ "host", required_argument, NULL, OPT_HOST },
	{ "certificate", required_argument, NULL, OPT_CERTIFICATE },
	{ "key", required_argument, NULL, OPT_KEY },
	{ "private-network", no_argument, NULL, OPT_PRIVATE },
	{ "heartbeat", required_argument, NULL, OPT_HEARTBEAT },
	{ "help", no_argument, NULL, 'h' },
	{ "version", no_argument, NULL, 'V' },
	{ NULL, 0, NULL, 0 },
};

static const char help[] = "usage: bismar-page [OPTION...]\n"
			   "Serves the page for a phone at the whelping box. `bismar page pair` makes a code for one.\n"
			   "  --socket PATH        bismard's socket (" CTL_SOCKET ")\n"
			   "  --database PATH      bismard's database (" CTL_DATABASE ")\n"
			   "  --state DIR          which phones are paired ($STATE_DIRECTORY, or " PAIRED_DIR ")\n"
			   "  --listen ADDRESS:PORT  (" OPTIONS_LISTEN "); port 0: any free one\n"
			   "  --host NAME          a name under which the page is opened; up to 16 times\n"
			   "  --certificate FILE --key FILE  TLS, in PEM; an address that others can reach needs it\n"
			   "  --private-network    instead: nobody else can listen on that network (a VPN)\n"
			   "  --heartbeat SECONDS  between signs of life to an open page (15)\n"
			   "  --help, --version\n";

__attribute__((format(printf, 1, 2))) static enum options_outcome wrong(const char *format, ...)
{
	va_list list;

	(void)fputs("bismar-page: ", stderr);
	va_start(list, format);
	(void)vfprintf(stderr, format, list);
	va_end(list);
	(void)fputs("\n", stderr);
	return OPTIONS_WRONG;
}

/* A whole file as text, or NULL after telling why. */
static char *contents(const char *path)
{
	int fd = open(path, O_RDONLY | O_CLOEXEC);
	char *text = fd < 0 ? NULL : calloc(1, PEM_MAX + 1);
	ssize_t n = text ? read(fd, text, PEM_MAX) : -1;

	if (n <= 0)
		(void)wrong("can't read %s: %s", path, n < 0 ? strerror(errno) : "it is empty");
	if (fd >= 0)
		(void)close(fd); /* was only read */
	if (n > 0)
		return text;
	free(text);
	return NULL;
}

struct given {
	const char *listen, *certificate, *key, *heartbeat;
};

static bool take(struct options *options, struct given *given, int option)
{
	switch (option) {
	case OPT_SOCKET:
		options->server.socket = optarg;
		return true;
	case OPT_DATABASE:
		options->server.database = optarg;
		return true;
	case OPT_STATE:
		options->server.state = optarg;
		return true;
	case OPT_LISTEN:
		given->listen = optarg;
		return true;
	case OPT_CERTIFICATE:
		given->certificate = optarg;
		return true;
	case OPT_KEY:
		given->key = optarg;
		return true;
	case OPT_HEARTBEAT:
		given->heartbeat = optarg;
		return true;
	case OPT_PRIVATE:
		options->private_network = true;
		return true;
	case OPT_HOST:
		if (options->server.n_names == OPTIONS_NAMES)
			return wrong("--host is there more than %d times", OPTIONS_NAMES) == OPTIONS_SERVE;
		options->names[options->server.n_names++] = optarg;
		return true;
	default:
		return wrong("`bismar-page --help` lists the options") == OPTIONS_SERVE; /* getopt has said which */
	}
}

static enum options_outcome check(struct options *options, const struct given *given)
{
	char *end = NULL;
	double seconds = given->heartbeat ? strtod(given->heartbeat, &end) : OPTIONS_HEARTBEAT_S;

	if (end && (*end || !(seconds >= .01 && seconds <= 3600)))
		return wrong("--heartbeat is seconds, 0.01 to 3600, not \"%s\"", given->heartbeat);
	options->server.heartbeat_usec = (uint64_t)(seconds * 1e6);
	if (!host_address(given->listen, &options->address, &options->length))
		return wrong("--listen is an address and a port, 127.0.0.1:8023 or [::1]:8023, not \"%s\"",
			     given->listen);
	if (!given->certificate != !given->key)
		return wrong("--certificate and --key go together");
	if (!given->certificate && !options->private_network && !host_is_loopback((struct sockaddr *)&options->address))
		return wrong("%s can be reached by others, who could listen to the phone and take its place: give "
			     "--certificate "
			     "and --key, or say --private-network if only your own devices are on that network",
			     given->listen);
	if (!given->certificate)
		return OPTIONS_SERVE;
	options->server.certificate = options->certificate = contents(given->certificate);
	options->server.key = options->key = contents(given->key);
	return options->key && options->certificate ? OPTIONS_SERVE : OPTIONS_WRONG;
}

enum options_outcome options_parse(int argc, char **argv, struct options *ret)
{
	struct given given = { .listen = OPTIONS_LISTEN };
	const char *state = getenv("STATE_DIRECTORY");
	int option;

	*ret = (struct options){ .server = { .socket = CTL_SOCKET, .database = CTL_DATABASE } };
	ret->server.state = state && *state ? state : PAIRED_DIR;
	ret->server.names = ret->names;
	while ((option = getopt_long(argc, argv, "hV", long_options, NULL)) != -1) {
		if (option == 'h' || option == 'V') {
			(void)fputs(option == 'h' ? help : "bismar-page " BISMAR_VERSION "\n", stdout);
			return OPTIONS_DONE;
		}
		if (!take(ret, &given, option))
			return OPTIONS_WRONG;
	}
	if (optind < argc)
		return wrong("\"%s\" is one word too many", argv[optind]);
	return check(ret, &given);
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
