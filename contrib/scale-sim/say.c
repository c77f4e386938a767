// SPDX-License-Identifier: MIT
#include "say.h"
#include <stdarg.h>

void say_event(const struct sim *sim, const char *format, ...)
{
	va_list list;

	if (sim->quiet)
		return;
	va_start(list, format);
	fputs("event ", stdout);
	vprintf(format, list);
	va_end(list);
	putchar('\n');
	fflush(stdout);
}

void say_ok(const char *command, const char *text)
{
	printf("ok %s%s%s\n", command, *text ? " " : "", text);
	fflush(stdout);
}

void say_error(const char *text)
{
	printf("error %s\n", text);
	fflush(stdout);
}
