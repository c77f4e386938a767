// SPDX-License-Identifier: MIT
#pragma once
/*
 * Times as people type and read them: local time, in the zone that the C library has (TZ). The present is passed in.
 * Above: the commands. Below: weigh/quantity for RFC 3339.
 */
#include <stddef.h>
#include <stdint.h>

enum when_outcome {
	WHEN_OK = 0,
	WHEN_MALFORMED,
	WHEN_NO_SUCH_TIME, /* the clock skipped it (summer time began), or no such date */
	WHEN_NOT_YET,      /* in the future */
	WHEN_OUT_OF_RANGE,
};

/*
 * RFC 3339 with offset; "13:45" or "13:45:30" (today); "-20min", "-2h", "-1d" or "-1h30min" (before now; a day is 24
 * hours); "2026-11-25 13:45" (T or a blank between) and "2026-11-25" (its first instant) in local time. A time that a
 * clock set back shows twice is the later one that isn't in the future.
 */
enum when_outcome when_parse(const char *text, int64_t now_ms, int64_t *ret_ms);
/* The same for a time that may lie ahead, up to a year or so; also "+3d" or "+12h" (from now). No WHEN_NOT_YET. */
enum when_outcome when_parse_ahead(const char *text, int64_t now_ms, int64_t *ret_ms);
/* A sentence for people: what is wrong and what to write instead. Static storage. */
const char *when_hint(enum when_outcome outcome);

#define WHEN_SIZE 40
/* RFC 3339 in local time with its offset: "2026-11-25T13:45:30.000+01:00". */
void when_rfc3339(char buffer[WHEN_SIZE], int64_t ms);
/* "2026-11-25 13:45", local. */
void when_show(char buffer[WHEN_SIZE], int64_t ms);
/* "13:45" on the same local day as now, else "yesterday 13:45", "tomorrow 13:45"; up to six days away "Mon 13:45", farther
 * "2026-11-10 13:45". */
void when_show_near(char buffer[WHEN_SIZE], int64_t ms, int64_t now_ms);
