// SPDX-License-Identifier: MIT
#include "daemon/ctl/prose.h"
#include "daemon/ctl/text.h"
#include "daemon/ctl/when.h"
#include <limits.h>
#include <stdarg.h>

#define LINE 2048
#define NARROW 20 /* columns; a terminal with fewer breaks the lines itself */

void prose_print(const struct ctl *ctl, unsigned indent, const char *text)
{
	unsigned width = ctl->width > indent + NARROW ? ctl->width - indent : UINT_MAX;
	char line[LINE];

	do {
		text = text_wrap(line, sizeof line, text, width, ctl->utf8);
		(void)printf("%*s%s\n", (int)indent, "", line); /* failures stay in stdout's error flag */
	} while (*text);
}

void prose_printf(const struct ctl *ctl, unsigned indent, const char *format, ...)
{
	char text[LINE];
	va_list list;

	va_start(list, format);
	(void)vsnprintf(text, sizeof text, format, list);
	va_end(list);
	prose_print(ctl, indent, text);
}

void prose_as_of(const struct ctl *ctl, int64_t as_of_ms)
{
	char when[WHEN_SIZE];

	when_show_near(when, as_of_ms, ctl->now_ms);
	prose_printf(ctl, 0, "By what was measured up to %s:", when);
}
