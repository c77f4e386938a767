// SPDX-License-Identifier: MIT
#pragma once
/*
 * The fields of one journal entry, as sd_journal_sendv() wants them. Above: log.c. Below: nothing. It sends nothing.
 */
#include "daemon/log_events.h"
#include <stddef.h>
#include <sys/uio.h>

#define LOG_TEXT_SIZE 1024 /* of a message; the rest is cut */
#define LOG_VALUE_SIZE 256 /* of our own field with its name; the rest is cut */
#define LOG_FIELDS_MAX 5

struct log_fields {
	struct iovec list[LOG_FIELDS_MAX]; /* into the members below */
	int n;
	char message[sizeof "MESSAGE=" + LOG_TEXT_SIZE];
	char priority[sizeof "PRIORITY=7"];
	char id[sizeof "MESSAGE_ID=" + 32];
	char own[LOG_VALUE_SIZE];
};

/* An event's MESSAGE_ID, 32 lower-case hexadecimal digits; "" for a number that is none. Static storage. */
const char *log_event_id(enum log_event event);

/* level: of syslog. id "": no MESSAGE_ID. field or value NULL: none of ours. Fills *ret, which must not be moved. */
void log_fields_fill(struct log_fields *ret, int level, const char *id, const char *field, const char *value,
		     const char *text);
