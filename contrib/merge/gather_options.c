// SPDX-License-Identifier: MIT
#include "contrib/merge/gather_options.h"
#include "contrib/broker/name.h"
#include "daemon/log.h"
#include <ctype.h>
#include <errno.h>
#include <getopt.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static const char help[] =
	"usage: bismar-gather [--host HOST] [--port N] [--ca FILE|system [--cert FILE --key FILE]]\n"
	"                     [--user NAME [--password-file FILE] [--clear-password]] [--topic BASE] [--client ID]\n"
	"                     [--wait SECONDS] [--every SECONDS] [--once] [--log-level LEVEL]\n"
	"       bismar-gather --create\n"
	"\n"
	"Writes what bridges publish to an MQTT broker into PostgreSQL, and asks them for what is missing. PostgreSQL "
	"is found as\n"
	"libpq finds it: PGHOST, PGDATABASE, PGUSER, PGSERVICE, ~/.pgpass.\n"
	"  --create              make the schema `bismar` there, and end\n"
	"  --host HOST           the broker (localhost)\n"
	"  --port N              its port (1883; with TLS 8883)\n"
	"  --ca FILE             TLS: who may have signed the broker's certificate; \"system\": whom the system "
	"trusts\n"
	"  --cert FILE --key FILE\n"
	"                        our own certificate and its key\n"
	"  --user NAME           by which the broker lets us in\n"
	"  --password-file FILE  its first line is the password; readable by no other user. Without it systemd's\n"
	"                        credential \"password\", where there is one\n"
	"  --clear-password      send it without TLS to another machine all the same\n"
	"  --topic BASE          what topics begin with (bismar)\n"
	"  --client ID           our client identifier (gather and the host's name); two receivers need two\n"
	"  --wait SECONDS        from when something is missing to when it is asked for (10)\n"
	"  --every SECONDS       between two such wishes to a bridge at least (60)\n"
	"  --once                end when all is there, or nothing more comes\n"
	"  --log-level LEVEL     err, warning, info (default) or debug\n"
	"  --help, --version\n";

enum choice {
	OPTION_HOST = 256,
	OPTION_PORT,
	OPTION_CA,
	OPTION_CERT,
	OPTION_KEY,
	OPTION_USER,
	OPTION_PASSWORD,
	OPTION_CLEAR,
	OPTION_TOPIC,
	OPTION_CLIENT,
	OPTION_WAIT,
	OPTION_EVERY,
	OPTION_ONCE,
	OPTION_CREATE,
	OPTION_LEVEL,
};

static const struct option known[] = {
	{ "host", required_argument, NULL, OPTION_HOST },
	{ "port", required_argument, NULL, OPTION_PORT },
	{ "ca", required_argument, NULL, OPTION_CA },
	{ "cert", required_argument, NULL, OPTION_CERT },
	{ "key", required_argument, NULL, OPTION_KEY },
	{ "user", required_argument, NULL, OPTION_USER },
	{ "password-file", required_argument, NULL, OPTION_PASSWORD },
	{ "clear-password", no_argument, NULL, OPTION_CLEAR },
	{ "topic", required_argument, NULL, OPTION_TOPIC },
	{ "client", required_argument, NULL, OPTION_CLIENT },
	{ "wait", required_argument, NULL, OPTION_WAIT },
	{ "every", required_argument, NULL, OPTION_EVERY },
	{ "once", no_argument, NULL, OPTION_ONCE },
	{ "create", no_argument, NULL, OPTION_CREATE },
	{ "log-level", required_argument, NULL, OPTION_LEVEL },
	{ "help", no_argument, NULL, 'h' },
	{ "version", no_argument, NULL, 'V' },
	{ NULL, 0, NULL, 0 },
};

__attribute__((format(printf, 1, 2))) static enum gather_wish wrong(const char *format, ...)
{
	va_list list;

	(void)fputs("bismar-gather: ", stderr);
	va_start(list, format);
	(void)vfprintf(stderr, format, list);
	va_end(list);
	(void)fputs("; `bismar-gather --help` shows how.\n", stderr);
	return GATHER_WRONG;
}

static enum gather_wish number(const char *what, long least, long most, int *ret)
{
	char *end;
	long value;

	errno = 0;
	value = strtol(optarg, &end, 10);
	if (errno || end == optarg || *end || value < least || value > most)
		return wrong("%s is %ld to %ld, not \"%s\"", what, least, most, optarg);
	*ret = (int)value;
	return GATHER_RUN;
}

static enum gather_wish take(struct gather_options *options, int option)
{
	struct login *login = &options->login;

	if (optarg && !*optarg)
		return wrong("a value is empty");
	switch (option) {
	case OPTION_HOST:
		login->host = optarg;
		return GATHER_RUN;
	case OPTION_PORT:
		return number("--port", 1, 65535, &login->port);
	case OPTION_CA:
		login->ca = optarg;
		return GATHER_RUN;
	case OPTION_CERT:
		login->cert = optarg;
		return GATHER_RUN;
	case OPTION_KEY:
		login->key = optarg;
		return GATHER_RUN;
	case OPTION_USER:
		login->user = optarg;
		return GATHER_RUN;
	case OPTION_PASSWORD:
		login->password_file = optarg;
		return GATHER_RUN;
	case OPTION_CLEAR:
		login->clear_password = true;
		return GATHER_RUN;
	case OPTION_TOPIC:
		options->broker.base = optarg;
		return GATHER_RUN;
	case OPTION_CLIENT:
		options->broker.client = optarg;
		return GATHER_RUN;
	case OPTION_WAIT:
		return number("--wait", 1, 3600, &options->wait_s);
	case OPTION_EVERY:
		return number("--every", 1, 86400, &options->every_s);
	case OPTION_ONCE:
		options->once = true;
		return GATHER_RUN;
	case OPTION_CREATE:
		options->create = true;
		return GATHER_RUN;
	case OPTION_LEVEL:
		if (log_level_parse(optarg) < 0)
			return wrong("\"%s\" is no log level", optarg);
		log_set_level(log_level_parse(optarg));
		return GATHER_RUN;
	default:
		return wrong("that isn't known"); /* getopt has said what */
	}
}

/* "gather", and what of the host's name every broker takes: letters and digits. */
static void default_client(struct gather_options *options)
{
	char host[256] = "";
	size_t n = 6;

	(void)gethostname(host, sizeof host - 1); /* "" then */
	memcpy(options->client, "gather", n);
	for (const char *at = host; *at && n < sizeof options->client - 1; at++)
		if (isalnum((unsigned char)*at))
			options->client[n++] = *at;
	options->client[n] = '\0';
	options->broker.client = options->client;
}

static enum gather_wish check(struct gather_options *options)
{
	struct broker_setup *broker = &options->broker;
	const char *wrong_base = name_base_wrong(broker->base);
	char why[LOGIN_PASSWORD_BYTES];

	if (wrong_base)
		return wrong("--topic \"%s\" %s", broker->base, wrong_base);
	if (!broker->client)
		default_client(options);
	broker->login = &options->login;
	return login_finish(&options->login, why, sizeof why) ? GATHER_RUN : wrong("%s", why);
}

enum gather_wish gather_options_read(struct gather_options *options, int argc, char **argv)
{
	int option;

	*options = (struct gather_options){
		.login = { .host = "localhost" }, .broker = { .base = "bismar" }, .wait_s = 10, .every_s = 60
	};
	while ((option = getopt_long(argc, argv, "hV", known, NULL)) != -1) {
		if (option == 'h' || option == 'V') {
			(void)fputs(option == 'h' ? help : "bismar-gather " BISMAR_VERSION "\n", stdout);
			return fflush(stdout) == 0 ? GATHER_DONE : GATHER_WRONG;
		}
		if (take(options, option) != GATHER_RUN)
			return GATHER_WRONG;
	}
	if (optind < argc)
		return wrong("\"%s\" is one word too many", argv[optind]);
	return check(options);
}
