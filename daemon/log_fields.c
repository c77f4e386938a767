// SPDX-License-Identifier: MIT
#include "daemon/log_fields.h"
#include <stdarg.h>

const char *log_event_id(enum log_event event)
{
#define LOG_EVENT_ID(name, id) [LOG_EVENT_##name] = id,
	static const char *const ids[] = { LOG_EVENTS(LOG_EVENT_ID) };
#undef LOG_EVENT_ID

	return (size_t)event < sizeof ids / sizeof *ids ? ids[event] : "";
}

__attribute__((format(printf, 4, 5))) static void add(struct log_fields *fields, char *to, size_t size,
						      const char *format, ...)
{
	va_list arguments;
	int n;

	va_start(arguments, format);
	n = vsnprintf(to, size, format, arguments);
	va_end(arguments);
	if (n < 0)
		return; /* a field less is better than no line */
	fields->list[fields->n++] = (struct iovec){ to, (size_t)n < size ? (size_t)n : size - 1 };
}

void log_fields_fill(struct log_fields *ret, int level, const char *id, const char *field, const char *value,
		     const char *text)
{
	ret->n = 0;
	add(ret, ret->message, sizeof ret->message, "MESSAGE=%s", text);
	add(ret, ret->priority, sizeof ret->priority, "PRIORITY=%d", level & 7);
	ret->list[ret->n++] = (struct iovec){ "SYSLOG_IDENTIFIER=bismard", sizeof "SYSLOG_IDENTIFIER=bismard" - 1 };
	if (*id)
		add(ret, ret->id, sizeof ret->id, "MESSAGE_ID=%s", id);
	if (field && value)
		add(ret, ret->own, sizeof ret->own, "%s=%s", field, value);
}
