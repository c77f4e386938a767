// SPDX-License-Identifier: MIT
#include "daemon/config.h"
#include "daemon/log.h"
#include <errno.h>
#include <getopt.h>
#include <ini.h>

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

struct reading {
	const char *file;
	FILE *stream;
	int line; /* the one that was read last */
	struct config *config;
	bool wrong;
};

static bool set_path(char to[CONFIG_PATH_SIZE], const char *path)
{
	return *path && (size_t)snprintf(to, CONFIG_PATH_SIZE, "%s", path) < CONFIG_PATH_SIZE;
}

/* Each setting of the file is a row: what it is called, and how it is taken. */
static bool take_state(struct config *config, const char *value)
{
	return set_path(config->state, value);
}

static bool take_socket(struct config *config, const char *value)
{
	return set_path(config->socket, value);
}

static bool take_log_level(struct config *config, const char *value)
{
	int level = log_level_parse(value);

	if (level < 0)
		return false;
	config->log_level = level;
	return true;
}

static bool take_units(struct config *config, const char *value)
{
	(void)config; /* the command line's; checked here so that a slip is told */
	return strcmp(value, "g") == 0 || strcmp(value, "oz") == 0;
}

static const struct {
	const char *section, *key, *expects;
	bool (*take)(struct config *config, const char *value);
} settings[] = {
	{ "daemon", "state", "a directory", take_state },
	{ "daemon", "socket", "a path", take_socket },
	{ "daemon", "log-level", "err, warning, info or debug", take_log_level },
	{ "people", "units", "g or oz", take_units },
};

/* As fgets, and counts lines, which inih as Debian builds it doesn't tell. */
static char *next_line(char *to, int size, void *userdata)
{
	struct reading *reading = userdata;

	reading->line++;
	return fgets(to, size, reading->stream);
}

static int on_setting(void *userdata, const char *section, const char *key, const char *value)
{
	struct reading *reading = userdata;
	int line = reading->line;

	for (size_t i = 0; i < sizeof settings / sizeof *settings; i++) {
		if (strcmp(settings[i].section, section) != 0 || strcmp(settings[i].key, key) != 0)
			continue;
		if (!settings[i].take(reading->config, value)) {
			(void)fprintf(stderr, "bismard: %s:%d: %s takes %s\n", reading->file, line, key, settings[i].expects);
			reading->wrong = true;
		}
		return 1;
	}
	(void)fprintf(stderr, "bismard: %s:%d: there is no setting \"%s\" in section [%s]; see bismard.conf's sample\n",
		      reading->file, line, key, section);
	reading->wrong = true;
	return 1;
}

static enum config_outcome read_file(const char *file, bool must_exist, struct config *config)
{
	FILE *stream = fopen(file, "re");
	struct reading reading = { .file = file, .stream = stream, .config = config };
	int line;

	if (!stream && errno == ENOENT && !must_exist)
		return CONFIG_OK;
	if (!stream) {
		(void)fprintf(stderr, "bismard: can't read %s: %s\n", file, strerror(errno));
		return CONFIG_WRONG;
	}
	line = ini_parse_stream(next_line, &reading, on_setting, &reading);
	(void)fclose(stream); /* only read from */
	if (line > 0)
		(void)fprintf(stderr, "bismard: %s:%d: expected [section] or key = value\n", file, line);
	else if (line < 0)
		(void)fprintf(stderr, "bismard: can't read %s\n", file);
	return line || reading.wrong ? CONFIG_WRONG : CONFIG_OK;
}

static void defaults(struct config *config)
{
	const char *state = getenv("STATE_DIRECTORY"), *runtime = getenv("RUNTIME_DIRECTORY");

	*config = (struct config){ .log_level = LOG_INFO };
	/* systemd separates several directories by colons; the first is ours */
	(void)snprintf(config->state, sizeof config->state, "%.*s", (int)strcspn(state ? state : DEFAULT_STATE, ":"),
		       state ? state : DEFAULT_STATE);
	if (runtime)
		(void)snprintf(config->socket, sizeof config->socket, "%.*s/prompt.sock", (int)strcspn(runtime, ":"), runtime);
	else
		(void)snprintf(config->socket, sizeof config->socket, DEFAULT_SOCKET);
}

enum config_outcome config_read(int argc, char **argv, struct config *ret)
{
	static const struct option options[] = {
		{ "state", required_argument, NULL, 's' },     { "socket", required_argument, NULL, 'k' },
		{ "config", required_argument, NULL, 'c' },    { "log-level", required_argument, NULL, 'l' },
		{ "version", no_argument, NULL, 'v' },         { "help", no_argument, NULL, 'h' },
		{ 0 },
	};
	const char *state = NULL, *socket = NULL, *file = NULL, *level = NULL;
	int option;

	defaults(ret);
	while ((option = getopt_long(argc, argv, "", options, NULL)) != -1) {
		switch (option) {
		case 's':
			state = optarg;
			break;
		case 'k':
			socket = optarg;
			break;
		case 'c':
			file = optarg;
			break;
		case 'l':
			level = optarg;
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
	if (read_file(file ? file : DEFAULT_FILE, file != NULL, ret) != CONFIG_OK)
		return CONFIG_WRONG;
	if ((state && !set_path(ret->state, state)) || (socket && !set_path(ret->socket, socket))) {
		(void)fprintf(stderr, "bismard: a path is empty or too long\n");
		return CONFIG_WRONG;
	}
	if (level && !take_log_level(ret, level)) {
		(void)fprintf(stderr, "bismard: --log-level takes err, warning, info or debug\n");
		return CONFIG_WRONG;
	}
	return CONFIG_OK;
}
