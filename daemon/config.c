// SPDX-License-Identifier: MIT
#include "daemon/config.h"
#include "daemon/config_file.h"
#include "daemon/log.h"
#include <errno.h>
#include <getopt.h>

#define DEFAULT_STATE "/var/lib/bismar"
#define DEFAULT_SOCKET "/run/bismar/prompt.sock"
#define DEFAULT_FILE "/etc/bismar/bismard.conf"

static const char usage[] =
	"usage: bismard [--state DIR] [--socket PATH] [--config FILE] [--log-level LEVEL] [--version]\n"
	"Listens to wireless scales and keeps a litter's weights.\n"
	"  --state DIR        where bismar.db is kept (default $STATE_DIRECTORY or " DEFAULT_STATE ")\n"
	"  --socket PATH      the prompt socket (default from systemd, $RUNTIME_DIRECTORY/prompt.sock\n"
	"                     or " DEFAULT_SOCKET ")\n"
	"  --config FILE      settings (default " DEFAULT_FILE ")\n"
	"  --log-level LEVEL  err, warning, info or debug\n";

/* As typed; NULL: not given. Borrowed from argv. */
struct command_line {
	const char *state, *socket, *file, *log_level;
};

static void defaults(struct config *config)
{
	const char *state = getenv("STATE_DIRECTORY"), *runtime = getenv("RUNTIME_DIRECTORY");

	*config = (struct config){ .log_level = LOG_INFO };
	/* systemd separates several directories by colons; the first is ours */
	(void)snprintf(config->state, sizeof config->state, "%.*s", (int)strcspn(state ? state : DEFAULT_STATE, ":"),
		       state ? state : DEFAULT_STATE);
	if (runtime)
		(void)snprintf(config->socket, sizeof config->socket, "%.*s/prompt.sock", (int)strcspn(runtime, ":"),
			       runtime);
	else
		(void)snprintf(config->socket, sizeof config->socket, DEFAULT_SOCKET);
}

static enum config_outcome read_command_line(int argc, char **argv, struct command_line *ret)
{
	static const struct option options[] = {
		{ "state", required_argument, NULL, 's' },
		{ "socket", required_argument, NULL, 'k' },
		{ "config", required_argument, NULL, 'c' },
		{ "log-level", required_argument, NULL, 'l' },
		{ "version", no_argument, NULL, 'v' },
		{ "help", no_argument, NULL, 'h' },
		{ 0 },
	};
	int option;

	optind = 0; /* from the beginning, also when it is asked again */
	while ((option = getopt_long(argc, argv, "", options, NULL)) != -1) {
		switch (option) {
		case 's':
			ret->state = optarg;
			break;
		case 'k':
			ret->socket = optarg;
			break;
		case 'c':
			ret->file = optarg;
			break;
		case 'l':
			ret->log_level = optarg;
			break;
		case 'v':
			(void)printf("bismard %s\n", BISMAR_VERSION);
			return CONFIG_STOP;
		case 'h':
			(void)fputs(usage, stdout);
			return CONFIG_STOP;
		default:
			(void)fputs(usage, stderr);
			return CONFIG_WRONG;
		}
	}
	if (optind < argc) {
		(void)fprintf(stderr, "bismard: what is \"%s\" for?\n%s", argv[optind], usage);
		return CONFIG_WRONG;
	}
	return CONFIG_OK;
}

/* Each of the command line's settings over whatever is there. */
static enum config_outcome put_command_line(const struct command_line *line, struct config *config)
{
	if ((line->state && !config_set_path(config->state, line->state)) ||
	    (line->socket && !config_set_path(config->socket, line->socket))) {
		(void)fprintf(stderr, "bismard: a path is empty or too long\n");
		return CONFIG_WRONG;
	}
	if (line->log_level) {
		config->log_level = log_level_parse(line->log_level);
		if (config->log_level < 0) {
			(void)fprintf(stderr, "bismard: --log-level takes err, warning, info or debug\n");
			return CONFIG_WRONG;
		}
	}
	config->given = (line->state ? CONFIG_GIVEN_STATE : 0) | (line->socket ? CONFIG_GIVEN_SOCKET : 0) |
			(line->log_level ? CONFIG_GIVEN_LOG_LEVEL : 0) | (line->file ? CONFIG_GIVEN_FILE : 0);
	return CONFIG_OK;
}

/* The default file may be absent; one that was asked for may not. */
static bool may_be_absent(int r, unsigned given)
{
	return r == -ENOENT && !(given & CONFIG_GIVEN_FILE);
}

/* Nothing that a person must put right: the next start may read it. */
static bool may_pass(int r)
{
	return r == -ENOMEM || r == -EMFILE || r == -ENFILE || r == -EIO;
}

enum config_outcome config_read(int argc, char **argv, struct config *ret)
{
	struct command_line line = { 0 };
	struct config config;
	struct config_file file = { .path = config.file, .config = &config };
	enum config_outcome outcome;
	int r;

	defaults(&config);
	outcome = read_command_line(argc, argv, &line);
	if (outcome != CONFIG_OK)
		return outcome;
	if (!config_set_path(config.file, line.file ? line.file : DEFAULT_FILE)) {
		(void)fprintf(stderr, "bismard: --config takes a path of up to %d octets\n", CONFIG_PATH_SIZE - 1);
		return CONFIG_WRONG;
	}
	r = config_file_read(&file);
	if (r < 0 && !may_be_absent(r, line.file ? CONFIG_GIVEN_FILE : 0)) {
		(void)fprintf(stderr, "bismard: can't read %s: %s\n", config.file, strerror(-r));
		return may_pass(r) ? CONFIG_UNREAD : CONFIG_WRONG;
	}
	outcome = put_command_line(&line, &config);
	if (outcome != CONFIG_OK || file.wrong)
		return CONFIG_WRONG;
	*ret = config;
	return CONFIG_OK;
}

/* What a running daemon can't change is as it was. */
static void keep_path(const char *what, bool given, const char *old, char path[CONFIG_PATH_SIZE])
{
	if (!given && strcmp(old, path) != 0)
		log_warning("%s stays %s until bismard is started again", what, old);
	(void)config_set_path(path, old); /* it fits: it was one */
}

enum config_outcome config_reload(const struct config *old, struct config *ret)
{
	struct config config;
	struct config_file file = { .path = old->file, .running = true, .config = &config };
	int r;

	defaults(&config);
	r = config_file_read(&file);
	if (r < 0 && !may_be_absent(r, old->given)) {
		log_event(LOG_EVENT_SETTINGS_WRONG, LOG_WARNING, "BISMAR_FILE", old->file,
			  "can't read %s: %s; the settings stay as they were", old->file, strerror(-r));
		return CONFIG_WRONG;
	}
	keep_path("state", old->given & CONFIG_GIVEN_STATE, old->state, config.state);
	keep_path("socket", old->given & CONFIG_GIVEN_SOCKET, old->socket, config.socket);
	if (old->given & CONFIG_GIVEN_LOG_LEVEL)
		config.log_level = old->log_level;
	memcpy(config.file, old->file, sizeof config.file);
	config.given = old->given;
	*ret = config;
	return CONFIG_OK;
}
