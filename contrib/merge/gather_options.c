// SPDX-License-Identifier: MIT
#include "contrib/merge/gather_options.h"
#include "contrib/broker/name.h"
#include <ctype.h>
#include <string.h>
#include <unistd.h>

static const char help[] =
	"usage: bismar-gather " LOGIN_USAGE "\n"
	"                     [--topic BASE] [--client ID] [--wait SECONDS] [--every SECONDS] [--once]\n"
	"                     [--log-level LEVEL]\n"
	"       bismar-gather --create\n"
	"\n"
	"Writes what bridges publish to an MQTT broker into PostgreSQL, and asks them for what is missing. PostgreSQL "
	"is found as\n"
	"libpq finds it: PGHOST, PGDATABASE, PGUSER, PGSERVICE, ~/.pgpass.\n"
	"  --create              make the schema `bismar` there, and end\n" LOGIN_HELP
	"  --topic BASE          what topics begin with (bismar)\n"
	"  --client ID           our client identifier (gather and the host's name); two receivers need two\n"
	"  --wait SECONDS        from when something is missing to when it is asked for (10)\n"
	"  --every SECONDS       between two such wishes to a bridge at least (60)\n"
	"  --once                end when all is there, or nothing more comes\n" USAGE_COMMON_HELP;

enum choice {
	OPTION_TOPIC = USAGE_OWN,
	OPTION_CLIENT,
	OPTION_WAIT,
	OPTION_EVERY,
	OPTION_ONCE,
	OPTION_CREATE,
};

static const struct option known[] = {
	LOGIN_OPTIONS,
	{ "topic", required_argument, NULL, OPTION_TOPIC },
	{ "client", required_argument, NULL, OPTION_CLIENT },
	{ "wait", required_argument, NULL, OPTION_WAIT },
	{ "every", required_argument, NULL, OPTION_EVERY },
	{ "once", no_argument, NULL, OPTION_ONCE },
	{ "create", no_argument, NULL, OPTION_CREATE },
	USAGE_COMMON,
};

static enum usage take(void *user, int option)
{
	struct gather_options *options = user;

	switch (option) {
	case OPTION_TOPIC:
		return usage_text("--topic", &options->broker.base);
	case OPTION_CLIENT:
		return usage_text("--client", &options->broker.client);
	case OPTION_WAIT:
		return usage_number("--wait", 1, 3600, &options->wait_s);
	case OPTION_EVERY:
		return usage_number("--every", 1, 86400, &options->every_s);
	case OPTION_ONCE:
		options->once = true;
		return USAGE_RUN;
	case OPTION_CREATE:
		options->create = true;
		return USAGE_RUN;
	default:
		return login_take(&options->login, option);
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

static enum usage check(struct gather_options *options)
{
	struct broker_setup *broker = &options->broker;
	const char *wrong_base = name_base_wrong(broker->base);
	char why[LOGIN_PASSWORD_BYTES];

	if (wrong_base)
		return usage_wrong("--topic \"%s\" %s", broker->base, wrong_base);
	if (!broker->client)
		default_client(options);
	broker->login = &options->login;
	return login_finish(&options->login, why, sizeof why) ? USAGE_RUN : usage_wrong("%s", why);
}

enum usage gather_options_read(struct gather_options *options, int argc, char **argv)
{
	const struct usage_line line = { help, known, take, options };
	enum usage usage;

	*options = (struct gather_options){
		.login = { .host = "localhost" }, .broker = { .base = "bismar" }, .wait_s = 10, .every_s = 60
	};
	usage = usage_read(&line, argc, argv);
	return usage == USAGE_RUN ? check(options) : usage;
}
