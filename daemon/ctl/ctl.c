// SPDX-License-Identifier: MIT
#include "daemon/ctl/ctl.h"
#include <errno.h>
#include <stdarg.h>

void ctl_error(const char *format, ...)
{
	va_list list;

	(void)fflush(stdout); /* so that the two streams come in order; its failure is told by ctl_flush() */
	va_start(list, format);
	(void)fputs("bismar: ", stderr); /* nowhere is left to report a failure of standard error */
	(void)vfprintf(stderr, format, list);
	(void)fputc('\n', stderr);
	va_end(list);
}

int64_t ctl_now_ms(void)
{
	struct timespec now = { 0 };

	(void)clock_gettime(CLOCK_REALTIME, &now); /* can't fail for this clock */
	return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

enum ctl_status ctl_flush(void)
{
	if (fflush(stdout) == 0 && !ferror(stdout))
		return CTL_DONE;
	if (errno != EPIPE) /* a reader that has seen enough is no failure worth a word */
		ctl_error("Writing the output failed: %s.", strerror(errno));
	return CTL_REFUSED;
}
