// SPDX-License-Identifier: MIT
#include "contrib/broker/options.h"
#include "daemon/ctl/ctl.h"
#include <stdlib.h>
#include <unistd.h>

#define STATE_DIR "/var/lib/bismar-broker"
#define RATE 500
#define RATE_MOST 100000
#define PATIENCE_S 20

static const char help[] =
	"usage: bismar-broker " LOGIN_USAGE "\n"
	"                     [--bridge NAME] [--topic BASE] [--rate N] [--patience SECONDS] [--once]\n"
	"                     [--state FOLDER] [--database FILE] [--socket PATH] [--log-level LEVEL]\n"
	"\n"
	"Publishes readings and concerns to an MQTT broker, each at least once.\n" LOGIN_HELP
	"  --bridge NAME         what this ledger is called, in topics and messages (the host's name)\n"
	"  --topic BASE          what topics begin with (bismar)\n"
	"  --rate N              messages a second at most, 0 for no limit (500)\n"
	"  --patience SECONDS    how long the broker may take to answer, 1 to 300 (20)\n"
	"  --once                publish what there is, wait until the broker has it, and end\n"
	"  --state FOLDER        where it keeps how far it came, " STATE_DIR " by default\n"
	"  --database FILE       " CTL_DATABASE " by default\n"
	"  --socket PATH         bismard's socket, " CTL_SOCKET " by default\n" USAGE_COMMON_HELP;

enum choice {
	OPTION_BRIDGE = USAGE_OWN,
	OPTION_TOPIC,
	OPTION_RATE,
	OPTION_PATIENCE,
	OPTION_ONCE,
	OPTION_STATE,
	OPTION_DATABASE,
	OPTION_SOCKET,
};

static const struct option known[] = {
	LOGIN_OPTIONS,
	{ "bridge", required_argument, NULL, OPTION_BRIDGE },
	{ "topic", required_argument, NULL, OPTION_TOPIC },
	{ "rate", required_argument, NULL, OPTION_RATE },
	{ "patience", required_argument, NULL, OPTION_PATIENCE },
	{ "once", no_argument, NULL, OPTION_ONCE },
	{ "state", required_argument, NULL, OPTION_STATE },
	{ "database", required_argument, NULL, OPTION_DATABASE },
	{ "socket", required_argument, NULL, OPTION_SOCKET },
	USAGE_COMMON,
};

static enum usage take(void *user, int option)
{
	struct options *options = user;
	struct bridge_setup *setup = &options->setup;

	switch (option) {
	case OPTION_BRIDGE:
		return usage_text("--bridge", &setup->bridge);
	case OPTION_TOPIC:
		return usage_text("--topic", &setup->base);
	case OPTION_RATE:
		return usage_number("--rate", 0, RATE_MOST, &setup->rate);
	case OPTION_PATIENCE:
		return usage_number("--patience", 1, 300, &setup->link.patience_s);
	case OPTION_ONCE:
		setup->once = true;
		return USAGE_RUN;
	case OPTION_STATE:
		return usage_text("--state", &setup->state);
	case OPTION_DATABASE:
		return usage_text("--database", &setup->database);
	case OPTION_SOCKET:
		return usage_text("--socket", &setup->socket);
	default:
		return login_take(&options->login, option);
	}
}

static enum usage check_names(struct options *options)
{
	struct bridge_setup *setup = &options->setup;
	const char *why;

	if (!setup->bridge) {
		if (gethostname(options->host_name, sizeof options->host_name - 1) < 0)
			return usage_wrong("this host has no name that can be used: give one with --bridge");
		setup->bridge = options->host_name;
	}
	why = name_bridge_wrong(setup->bridge);
	if (why)
		return usage_wrong("--bridge \"%s\" %s", setup->bridge, why);
	why = name_base_wrong(setup->base);
	if (why)
		return usage_wrong("--topic \"%s\" %s", setup->base, why);
	return USAGE_RUN;
}

static enum usage finish(struct options *options)
{
	struct bridge_setup *setup = &options->setup;
	const char *state = getenv("STATE_DIRECTORY");
	char why[LOGIN_PASSWORD_BYTES];

	if (!setup->state)
		setup->state = state && *state ? state : STATE_DIR;
	setup->link.login = &options->login;
	if (check_names(options) != USAGE_RUN)
		return USAGE_WRONG;
	return login_finish(&options->login, why, sizeof why) ? USAGE_RUN : usage_wrong("%s", why);
}

enum usage options_read(struct options *options, int argc, char **argv)
{
	const struct usage_line line = { help, known, take, options };
	enum usage usage;

	*options = (struct options){ .login = { .host = "localhost" },
				     .setup = { .link = { .patience_s = PATIENCE_S },
						.base = "bismar",
						.database = CTL_DATABASE,
						.socket = CTL_SOCKET,
						.rate = RATE } };
	usage = usage_read(&line, argc, argv);
	return usage == USAGE_RUN ? finish(options) : usage;
}
