// SPDX-License-Identifier: MIT
#include "contrib/broker/options.h"
#include "daemon/ctl/ctl.h"
#include "daemon/log.h"
#include <errno.h>
#include <getopt.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define STATE_DIR "/var/lib/bismar-broker"
#define RATE 500
#define RATE_MOST 100000
#define PATIENCE_S 20

const char options_help[] =
	"usage: bismar-broker [--host HOST] [--port N] [--ca FILE|system [--cert FILE --key FILE]]\n"
	"                     [--user NAME [--password-file FILE] [--clear-password]] [--bridge NAME] [--topic BASE]\n"
	"                     [--rate N] [--patience SECONDS] [--once]\n"
	"                     [--state FOLDER] [--database FILE] [--socket PATH] [--log-level LEVEL]\n"
	"\n"
	"Publishes readings and concerns to an MQTT broker, each at least once.\n"
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
	"  --bridge NAME         what this ledger is called, in topics and messages (the host's name)\n"
	"  --topic BASE          what topics begin with (bismar)\n"
	"  --rate N              messages a second at most, 0 for no limit (500)\n"
	"  --patience SECONDS    how long the broker may take to answer, 1 to 300 (20)\n"
	"  --once                publish what there is, wait until the broker has it, and end\n"
	"  --state FOLDER        where it keeps how far it came, " STATE_DIR " by default\n"
	"  --database FILE       " CTL_DATABASE " by default\n"
	"  --socket PATH         bismard's socket, " CTL_SOCKET " by default\n"
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
	OPTION_BRIDGE,
	OPTION_TOPIC,
	OPTION_RATE,
	OPTION_PATIENCE,
	OPTION_ONCE,
	OPTION_STATE,
	OPTION_DATABASE,
	OPTION_SOCKET,
	OPTION_LEVEL,
	OPTION_HELP,
	OPTION_VERSION,
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
	{ "bridge", required_argument, NULL, OPTION_BRIDGE },
	{ "topic", required_argument, NULL, OPTION_TOPIC },
	{ "rate", required_argument, NULL, OPTION_RATE },
	{ "patience", required_argument, NULL, OPTION_PATIENCE },
	{ "once", no_argument, NULL, OPTION_ONCE },
	{ "state", required_argument, NULL, OPTION_STATE },
	{ "database", required_argument, NULL, OPTION_DATABASE },
	{ "socket", required_argument, NULL, OPTION_SOCKET },
	{ "log-level", required_argument, NULL, OPTION_LEVEL },
	{ "help", no_argument, NULL, OPTION_HELP },
	{ "version", no_argument, NULL, OPTION_VERSION },
	{ NULL, 0, NULL, 0 },
};

__attribute__((format(printf, 1, 2))) static enum options_wish wrong(const char *format, ...)
{
	va_list args;

	(void)fputs("bismar-broker: ", stderr);
	va_start(args, format);
	(void)vfprintf(stderr, format, args);
	va_end(args);
	(void)fputs("; `bismar-broker --help` shows how.\n", stderr);
	return OPTIONS_WRONG;
}

static enum options_wish number(const char *what, int least, int most, int *ret)
{
	char *end;
	long value;

	errno = 0;
	value = strtol(optarg, &end, 10);
	if (errno || end == optarg || *end || value < least || value > most)
		return wrong("%s is %d to %d, not \"%s\"", what, least, most, optarg);
	*ret = (int)value;
	return OPTIONS_RUN;
}

static enum options_wish take_number(struct options *options, int option)
{
	struct bridge_setup *setup = &options->setup;

	switch (option) {
	case OPTION_PORT:
		return number("--port", 1, 65535, &options->login.port);
	case OPTION_RATE:
		return number("--rate", 0, RATE_MOST, &setup->rate);
	case OPTION_PATIENCE:
		return number("--patience", 1, 300, &setup->link.patience_s);
	default: /* OPTION_LEVEL */
		if (log_level_parse(optarg) < 0)
			return wrong("\"%s\" is no log level", optarg);
		log_set_level(log_level_parse(optarg));
		return OPTIONS_RUN;
	}
}

static enum options_wish take(struct options *options, int option)
{
	struct bridge_setup *setup = &options->setup;
	struct login *login = &options->login;
	const char **text;

	switch (option) {
	case OPTION_CLEAR:
		login->clear_password = true;
		return OPTIONS_RUN;
	case OPTION_ONCE:
		setup->once = true;
		return OPTIONS_RUN;
	case OPTION_HOST:
		text = &login->host;
		break;
	case OPTION_CA:
		text = &login->ca;
		break;
	case OPTION_CERT:
		text = &login->cert;
		break;
	case OPTION_KEY:
		text = &login->key;
		break;
	case OPTION_USER:
		text = &login->user;
		break;
	case OPTION_PASSWORD:
		text = &login->password_file;
		break;
	case OPTION_BRIDGE:
		text = &setup->bridge;
		break;
	case OPTION_TOPIC:
		text = &setup->base;
		break;
	case OPTION_STATE:
		text = &setup->state;
		break;
	case OPTION_DATABASE:
		text = &setup->database;
		break;
	case OPTION_SOCKET:
		text = &setup->socket;
		break;
	default:
		return take_number(options, option);
	}
	if (!*optarg)
		return wrong("%s is empty", known[option - OPTION_HOST].name);
	*text = optarg;
	return OPTIONS_RUN;
}

/* ---- what follows from them ---- */

static enum options_wish check_names(struct options *options)
{
	struct bridge_setup *setup = &options->setup;
	const char *why;

	if (!setup->bridge) {
		if (gethostname(options->host_name, sizeof options->host_name - 1) < 0)
			return wrong("this host has no name that can be used: give one with --bridge");
		setup->bridge = options->host_name;
	}
	why = name_bridge_wrong(setup->bridge);
	if (why)
		return wrong("--bridge \"%s\" %s", setup->bridge, why);
	why = name_base_wrong(setup->base);
	if (why)
		return wrong("--topic \"%s\" %s", setup->base, why);
	return OPTIONS_RUN;
}

static enum options_wish finish(struct options *options)
{
	struct bridge_setup *setup = &options->setup;
	const char *state = getenv("STATE_DIRECTORY");
	char why[LOGIN_PASSWORD_BYTES];

	if (!setup->state)
		setup->state = state && *state ? state : STATE_DIR;
	setup->link.login = &options->login;
	if (check_names(options) != OPTIONS_RUN)
		return OPTIONS_WRONG;
	return login_finish(&options->login, why, sizeof why) ? OPTIONS_RUN : wrong("%s", why);
}

enum options_wish options_read(struct options *options, int argc, char **argv)
{
	enum options_wish wish = OPTIONS_RUN;
	int option;

	*options = (struct options){ .login = { .host = "localhost" },
				     .setup = { .link = { .patience_s = PATIENCE_S },
						.base = "bismar",
						.database = CTL_DATABASE,
						.socket = CTL_SOCKET,
						.rate = RATE } };
	opterr = 0; /* we tell */
	while (wish == OPTIONS_RUN && (option = getopt_long(argc, argv, ":", known, NULL)) != -1) {
		switch (option) {
		case OPTION_HELP:
			return OPTIONS_HELP;
		case OPTION_VERSION:
			return OPTIONS_VERSION;
		case ':':
			return wrong("%s takes a value", argv[optind - 1]);
		case '?':
			return wrong("option %s isn't known", argv[optind - 1]);
		default:
			wish = take(options, option);
			break;
		}
	}
	if (wish == OPTIONS_RUN && optind < argc)
		return wrong("\"%s\" is no option", argv[optind]);
	return wish == OPTIONS_RUN ? finish(options) : wish;
}
