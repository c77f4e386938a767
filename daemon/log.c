// SPDX-License-Identifier: MIT
#include "daemon/log.h"
#include <errno.h>
#include <stdarg.h>
#include <stdbool.h>
#include <systemd/sd-journal.h>

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

void log_line(int level, const char *format, ...)
{
	char text[1024];
	va_list arguments;

	if (level > threshold)
		return;
	va_start(arguments, format);
	(void)vsnprintf(text, sizeof text, format, arguments); /* a cut line is better than none */
	va_end(arguments);
	/* JOURNAL_STREAM is set by systemd for what it starts with its standard error joined to the journal */
	if (getenv("JOURNAL_STREAM"))
		(void)sd_journal_send("MESSAGE=%s", text, "PRIORITY=%i", level, "SYSLOG_IDENTIFIER=bismard", NULL);
	else
		(void)fprintf(stderr, "bismard: %s: %s\n", level_word(level), text);
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
