// SPDX-License-Identifier: MIT
#include "daemon/log.h"
#include "daemon/log_fields.h"
#include <errno.h>
#include <stdarg.h>
#include <stdbool.h>
#include <sys/stat.h>
/* no fields of a source line: the call in log.c would be the only one ever named */
#define SD_JOURNAL_SUPPRESS_LOCATION
#include <systemd/sd-journal.h>
#include <unistd.h>

static int threshold = LOG_INFO;

void log_set_level(int level)
{
	threshold = level;
}

int log_level_parse(const char *text)
{
	static const struct {
		const char *word;
		int level;
	} words[] = {
		{ "err", LOG_ERR }, { "warning", LOG_WARNING }, { "info", LOG_INFO }, { "debug", LOG_DEBUG },
	};

	for (size_t i = 0; i < sizeof words / sizeof *words; i++)
		if (strcmp(words[i].word, text) == 0)
			return words[i].level;
	return -EINVAL;
}

static const char *level_word(int level)
{
	switch (level) {
	case LOG_DEBUG:
		return "debug";
	case LOG_INFO:
		return "info";
	case LOG_WARNING:
		return "warning";
	}
	return "error";
}

/* JOURNAL_STREAM names the device and inode of the standard error that systemd gave us; it is inherited, also by what
 * has another one since (systemd.exec(5)). */
static bool is_journal(void)
{
	const char *stream = getenv("JOURNAL_STREAM");
	struct stat status;
	char ours[48];

	if (!stream || fstat(STDERR_FILENO, &status) < 0)
		return false;
	(void)snprintf(ours, sizeof ours, "%ju:%ju", (uintmax_t)status.st_dev, (uintmax_t)status.st_ino);
	return strcmp(stream, ours) == 0;
}

__attribute__((format(printf, 5, 0))) static void put(int level, const char *id, const char *field, const char *value,
						      const char *format, va_list arguments)
{
	struct log_fields fields;
	char text[LOG_TEXT_SIZE];

	if (level > threshold)
		return;
	(void)vsnprintf(text, sizeof text, format, arguments); /* a cut line is better than none */
	if (is_journal()) {
		log_fields_fill(&fields, level, id, field, value, text);
		(void)sd_journal_sendv(fields.list, fields.n); /* there is nobody left to tell */
		return;
	}
	(void)fprintf(stderr, "%s: %s: %s\n", program_invocation_short_name, level_word(level), text);
}

void log_line(int level, const char *format, ...)
{
	va_list arguments;

	va_start(arguments, format);
	put(level, "", NULL, NULL, format, arguments);
	va_end(arguments);
}

void log_event(enum log_event event, int level, const char *field, const char *value, const char *format, ...)
{
	va_list arguments;

	va_start(arguments, format);
	put(level, log_event_id(event), field, value, format, arguments);
	va_end(arguments);
}

const char *log_quote(const char *text, char *buffer, size_t size)
{
	size_t used = 0;

	for (const unsigned char *c = (const unsigned char *)text; *c && used + 5 < size; c++) {
		bool plain = *c >= ' ' && *c != 0x7f && *c != '"' && *c != '\\';
		int n = snprintf(buffer + used, size - used, plain ? "%c" : "\\x%02x", *c);
		used += (size_t)n;
	}
	buffer[used] = '\0';
	return buffer;
}
