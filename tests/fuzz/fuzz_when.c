// SPDX-License-Identifier: MIT
/* Times as people type them at bismar: none that lies ahead, and none that is shown as another. */
#include "daemon/ctl/when.h"
#include "fuzz.h"
#include <stdbool.h>

#define NOW_MS INT64_C(1795610730000) /* 2026-11-25T12:45:30Z */
#define AHEAD_MS INT64_C(60000)       /* clocks of two programs */

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	static bool begun;
	char *text = fuzz_text(data, size), shown[WHEN_SIZE];
	int64_t at_ms = 0;

	if (!begun)
		(void)setenv("TZ", "Europe/Berlin", 1);
	begun = true;
	if (when_parse(text, NOW_MS, &at_ms) == WHEN_OK) {
		FUZZ_HOLDS(at_ms <= NOW_MS + AHEAD_MS);
		when_show(shown, at_ms);
		when_show_near(shown, at_ms, NOW_MS);
		FUZZ_HOLDS(*shown);
	}
	if (when_parse_ahead(text, NOW_MS, &at_ms) == WHEN_OK)
		when_show_near(shown, at_ms, NOW_MS);
	free(text);
	return 0;
}
