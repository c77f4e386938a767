// SPDX-License-Identifier: MIT
/*
 * inih takes the lines apart. It tells no line's number (as Debian builds it), cuts long lines and section names, and knows
 * no section without settings: so each line is looked at before it gets it, and counted.
 */
#include "daemon/config_file.h"
#include "daemon/config_format.h"
#include "daemon/log.h"
#include <errno.h>
#include <ini.h>
#include <stdarg.h>

#define QUOTE_SIZE 128
#define SAY_SIZE 512
#define SPACE " \t\r\n\v\f"
#define BYTE_ORDER_MARK "\xEF\xBB\xBF"

enum section {
	SECTION_NONE, /* before the first */
	SECTION_DAEMON,
	SECTION_PEOPLE,
	SECTION_FORMAT,
	SECTION_UNKNOWN, /* told; what stands in it is passed over */
};

struct reader {
	struct config_file *file;
	enum section section;
	struct config_format format; /* while section is SECTION_FORMAT */
	FILE *stream;
	char *line;  /* getline()'s */
	size_t size;
	bool expected; /* inih has a line that should be a setting, and hasn't handed it on yet */
	int error;     /* of reading; 0: none */
};

void config_file_say(const struct config_file *file, int line, const char *format, ...)
{
	char text[SAY_SIZE];
	va_list arguments;

	va_start(arguments, format);
	(void)vsnprintf(text, sizeof text, format, arguments); /* a cut line is better than none */
	va_end(arguments);
	if (file->running)
		log_event(LOG_EVENT_SETTINGS_WRONG, LOG_WARNING, "BISMAR_FILE", file->path, "%s:%d: %s", file->path, line, text);
	else
		(void)fprintf(stderr, "bismard: %s:%d: %s\n", file->path, line, text);
}

bool config_set_path(char to[CONFIG_PATH_SIZE], const char *path)
{
	size_t n = strlen(path);

	if (n == 0 || n >= CONFIG_PATH_SIZE)
		return false;
	memcpy(to, path, n + 1);
	return true;
}

/* Each setting of the file is a row: what it is called, and how it is taken. */
static bool take_state(struct config *config, const char *value)
{
	return config_set_path(config->state, value);
}

static bool take_socket(struct config *config, const char *value)
{
	return config_set_path(config->socket, value);
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

static const struct setting {
	enum section section;
	const char *key, *takes;
	bool (*take)(struct config *config, const char *value);
	bool vital; /* bismard doesn't begin with a wrong one */
} settings[] = {
	{ SECTION_DAEMON, "state", "a directory, as a path", take_state, true },
	{ SECTION_DAEMON, "socket", "a path", take_socket, true },
	{ SECTION_DAEMON, "log-level", "err, warning, info or debug", take_log_level, false },
	{ SECTION_PEOPLE, "units", "g or oz", take_units, false },
};

#define N_SETTINGS (sizeof settings / sizeof *settings)

static const char *section_name(enum section section)
{
	return section == SECTION_DAEMON ? "daemon" : "people";
}

/* What the section has, for who wrote something else: "state, socket or log-level". */
static const char *section_keys(enum section section)
{
	return section == SECTION_DAEMON ? "state, socket and log-level" : "units";
}

static void take_setting(struct reader *reader, const char *key, const char *value)
{
	struct config_file *file = reader->file;
	char quoted[QUOTE_SIZE];

	for (size_t i = 0; i < N_SETTINGS; i++) {
		const struct setting *setting = &settings[i];

		if (setting->section != reader->section || strcmp(setting->key, key) != 0)
			continue;
		if (setting->take(file->config, value))
			return;
		file->wrong = file->wrong || setting->vital;
		config_file_say(file, file->line, "%s takes %s, not \"%s\"%s", key, setting->takes,
				log_quote(value, quoted, sizeof quoted), setting->vital ? "" : "; ignoring it");
		return;
	}
	config_file_say(file, file->line, "there is no setting \"%s\" in [%s], only %s; ignoring it",
			log_quote(key, quoted, sizeof quoted), section_name(reader->section),
			section_keys(reader->section));
}

/* A line that can't be understood: of a format, the format can't be trusted then. */
static void spoil(struct reader *reader, const char *why)
{
	if (reader->section == SECTION_FORMAT)
		config_format_spoil(&reader->format, reader->file, why);
	else
		config_file_say(reader->file, reader->file->line, "%s; ignoring it", why);
}

static void leave_section(struct reader *reader)
{
	if (reader->section == SECTION_FORMAT)
		config_format_end(&reader->format, reader->file);
	reader->section = SECTION_UNKNOWN;
}

static void enter_section(struct reader *reader, const char *name)
{
	size_t word = strcspn(name, SPACE);
	const char *rest = name + word + strspn(name + word, SPACE);
	char quoted[QUOTE_SIZE];

	leave_section(reader);
	if (strcmp(name, "daemon") == 0) {
		reader->section = SECTION_DAEMON;
	} else if (strcmp(name, "people") == 0) {
		reader->section = SECTION_PEOPLE;
	} else if (word == strlen("format") && strncmp(name, "format", word) == 0) {
		reader->section = SECTION_FORMAT;
		config_format_begin(&reader->format, reader->file, rest);
	} else {
		config_file_say(reader->file, reader->file->line,
				"there is no section [%s], only [daemon], [people] and [format NAME]; ignoring it",
				log_quote(name, quoted, sizeof quoted));
	}
}

/* Without the white space around it, in place. */
static char *trim(char *text)
{
	size_t n;

	text += strspn(text, SPACE);
	for (n = strlen(text); n > 0 && strchr(SPACE, text[n - 1]); n--)
		;
	text[n] = '\0';
	return text;
}

static int on_setting(void *userdata, const char *inih_section, const char *key, const char *value)
{
	struct reader *reader = userdata;

	(void)inih_section; /* may be cut; ours isn't */
	reader->expected = false;
	switch (reader->section) {
	case SECTION_NONE:
		config_file_say(reader->file, reader->file->line,
				"a setting stands below its section, [daemon] for instance; ignoring it");
		break;
	case SECTION_DAEMON:
	case SECTION_PEOPLE:
		take_setting(reader, key, value);
		break;
	case SECTION_FORMAT:
		config_format_take(&reader->format, reader->file, key, value);
		break;
	case SECTION_UNKNOWN:
		break;
	}
	return 1;
}

/* Octets of a character of UTF-8 by its first one; 0: none begins so (RFC 3629, 4). */
static size_t character_size(unsigned char first)
{
	if (first < 0x80)
		return 1;
	if (first >= 0xC2 && first < 0xE0)
		return 2;
	if (first >= 0xE0 && first < 0xF0)
		return 3;
	return first >= 0xF0 && first < 0xF5 ? 4 : 0;
}

/* The same of the whole character; 0 also for a control character. at ends with a NUL. */
static size_t character(const unsigned char *at)
{
	size_t n = character_size(*at);

	if (*at == 0x7F || (*at < ' ' && !strchr(SPACE, *at)))
		return 0;
	for (size_t i = 1; i < n; i++)
		if ((at[i] & 0xC0) != 0x80)
			return 0;
	/* longer than need be, a surrogate, past U+10FFFF */
	if ((*at == 0xE0 && at[1] < 0xA0) || (*at == 0xED && at[1] > 0x9F) || (*at == 0xF0 && at[1] < 0x90) ||
	    (*at == 0xF4 && at[1] > 0x8F))
		return 0;
	return n;
}

static bool is_text(const char *text, size_t n)
{
	const unsigned char *at = (const unsigned char *)text, *end = at + n;
	size_t octets;

	for (; at < end; at += octets) {
		octets = *at ? character(at) : 0;
		if (octets == 0)
			return false;
	}
	return true;
}

/* A section's line is dealt with here; true when inih is to have the line, as a setting. text is changed. */
static bool is_setting(struct reader *reader, char *text)
{
	struct config_file *file = reader->file;
	size_t last;

	if (*text == '\0' || *text == '#' || *text == ';')
		return false;
	if (*text != '[')
		return true;
	text[strcspn(text, ";")] = '\0'; /* no name of ours has one: a comment */
	text = trim(text);
	last = strlen(text) - 1;
	if (text[last] != ']') {
		leave_section(reader); /* what follows isn't the section's before */
		config_file_say(file, file->line, "a section ends with ], as in [daemon]; ignoring it");
		return false;
	}
	text[last] = '\0';
	enter_section(reader, trim(text + 1));
	return false;
}

/* A line that inih had and made nothing of. */
static void settle_last(struct reader *reader)
{
	if (reader->expected)
		spoil(reader, "expected [section] or key = value");
	reader->expected = false;
}

/* inih's reader, as fgets: a line that it would cut, or isn't to have, is handed on as an empty one. */
static char *next_line(char *to, int size, void *userdata)
{
	struct reader *reader = userdata;
	struct config_file *file = reader->file;
	ssize_t n;
	char *text;

	settle_last(reader);
	errno = 0;
	n = getline(&reader->line, &reader->size, reader->stream);
	if (n < 0) {
		reader->error = feof(reader->stream) ? 0 : errno ? -errno : -EIO;
		return NULL;
	}
	file->line++;
	text = reader->line;
	(void)snprintf(to, (size_t)size, "\n");
	if (file->line == 1 && strncmp(text, BYTE_ORDER_MARK, strlen(BYTE_ORDER_MARK)) == 0) {
		text += strlen(BYTE_ORDER_MARK);
		n -= (ssize_t)strlen(BYTE_ORDER_MARK);
	}
	if (!is_text(text, (size_t)n)) {
		spoil(reader, "not text in UTF-8");
		return to;
	}
	text = trim(text); /* indented, it would continue the setting before */
	if (!is_setting(reader, text))
		return to;
	if (strlen(text) + 2 > (size_t)size) {
		spoil(reader, "a line has 198 octets at most"); /* INI_MAX_LINE, less the end of line and NUL */
		file->wrong = file->wrong || reader->section == SECTION_DAEMON; /* it may be where the database is */
		return to;
	}
	(void)snprintf(to, (size_t)size, "%s\n", text);
	reader->expected = true;
	return to;
}

int config_file_read(struct config_file *file)
{
	struct reader reader = { .file = file, .stream = fopen(file->path, "re") };
	int r;

	if (!reader.stream)
		return -errno;
	r = ini_parse_stream(next_line, &reader, on_setting, &reader);
	settle_last(&reader);
	leave_section(&reader);
	free(reader.line);
	(void)fclose(reader.stream); /* only read from */
	if (r == -2) /* inih's own word for no memory */
		return -ENOMEM;
	return reader.error; /* lines that are wrong were told */
}
