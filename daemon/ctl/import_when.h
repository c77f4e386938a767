// SPDX-License-Identifier: MIT
#pragma once
/*
 * Dates and times as people write them into a table. Reading them is pure; the instant goes by local time (TZ).
 *
 * Dates: 2026-01-03 (ISO 8601; also with / or .), 3 Jan 2026, Jan 3 2026, 3.1.2026 and 3/1/2026, which need to be told
 * which comes first, unless one is over 12. Times: 7:30, 07:30, 07:30:15, 7:30 pm, 7 pm. RFC 3339, and an offset from
 * UTC behind a time (+01:00, Z).
 * Above: import_table. Below: the C library.
 */
#include <stdbool.h>
#include <stdint.h>

enum import_when_outcome {
	IMPORT_WHEN_READ = 0,
	IMPORT_WHEN_MALFORMED,
	IMPORT_WHEN_WHICH_FIRST, /* 03/04/2026: day or month? */
	IMPORT_WHEN_SHORT_YEAR,  /* 3/4/26 */
	IMPORT_WHEN_NO_DATE,
	IMPORT_WHEN_NO_TIME,
	IMPORT_WHEN_NO_SUCH_DATE, /* 30 Feb; a year outside 2000 to 2199 */
	IMPORT_WHEN_NO_SUCH_TIME, /* 25:00 */
	IMPORT_WHEN_SKIPPED,      /* clocks never showed it: summer time began */
	IMPORT_WHEN_TWICE,        /* clocks showed it twice: summer time ended */
};

enum import_first { IMPORT_FIRST_UNTOLD, IMPORT_FIRST_DAY, IMPORT_FIRST_MONTH };

struct import_when {
	bool has_date, has_time, has_offset;
	int year, month, day, hour, minute, second;
	int offset_min; /* minutes east of UTC, if it has one */
};

/* A date, a time, or both in this order. */
enum import_when_outcome import_when_read(const char *text, enum import_first first, struct import_when *ret);
/* The instant at which local clocks showed it, and their offset then. It must have a date and a time. */
enum import_when_outcome import_when_instant(const struct import_when *when, int64_t *ret_ms, int *ret_offset_min);
/* A sentence for people: what is wrong and what to write instead. Static storage. */
const char *import_when_hint(enum import_when_outcome outcome);
