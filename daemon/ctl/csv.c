// SPDX-License-Identifier: MIT
#include "daemon/ctl/csv.h"
#include <stdbool.h>

void csv_field(FILE *to, const char *text, size_t n)
{
	bool quoted = false;

	for (size_t i = 0; i < n; i++)
		quoted = quoted || text[i] == ',' || text[i] == '"' || text[i] == '\r' || text[i] == '\n';
	if (!quoted) {
		(void)fwrite(text, 1, n, to); /* see the header */
		return;
	}
	(void)fputc('"', to);
	for (size_t i = 0; i < n; i++) {
		if (text[i] == '"')
			(void)fputc('"', to);
		(void)fputc(text[i], to);
	}
	(void)fputc('"', to);
}
