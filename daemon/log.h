// SPDX-License-Identifier: MIT
#pragma once
/*
 * One log line: to the journal when systemd joined our standard error to it (JOURNAL_STREAM), else to standard error
 * with the level. Above: everything that isn't pure. Below: log_fields.c, libsystemd. Outside strings go through
 * log_quote().
 *
 * debug; info: what a keeper would note; warning: "..., ignoring"; err: work was lost or can't be done.
 */
#include "daemon/log_events.h"
#include <stddef.h>
#include <syslog.h>

void log_set_level(int level); /* LOG_ERR ... LOG_DEBUG; default LOG_INFO */
/* "err", "warning", "info", "debug" to the syslog level; -EINVAL for another word. */
int log_level_parse(const char *text);

__attribute__((format(printf, 2, 3))) void log_line(int level, const char *format, ...);

#define log_debug(...) log_line(LOG_DEBUG, __VA_ARGS__)
#define log_info(...) log_line(LOG_INFO, __VA_ARGS__)
#define log_warning(...) log_line(LOG_WARNING, __VA_ARGS__)
#define log_error(...) log_line(LOG_ERR, __VA_ARGS__)

/*
 * Events: what a keeper or a program may look for, each with a fixed MESSAGE_ID (log_events.h) that the journal catalog
 * explains. Field names are ours, upper case ("BISMAR_SCALE"), and those that log_events.h lists; field and value NULL:
 * none. A value needs no quoting. On standard error it is a line as any other.
 */
__attribute__((format(printf, 5, 6))) void log_event(enum log_event event, int level, const char *field,
						     const char *value, const char *format, ...);

/* Quotes and escapes text from outside into buffer, cut at size: control characters, quotes and backslashes as
 * \xHH. Returns buffer. */
const char *log_quote(const char *text, char *buffer, size_t size);
