// SPDX-License-Identifier: MIT
#pragma once
/*
 * Masses and times as people write them. Pure.
 * Above: the command line, the socket's requests. Below: protocols/mass and date_time.
 */
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum quantity_outcome {
	QUANTITY_OK = 0,
	QUANTITY_NO_UNIT,      /* "304": which unit? */
	QUANTITY_MALFORMED,    /* "3o4g" */
	QUANTITY_OUT_OF_RANGE, /* negative, zero, or over MASS_MAX_MG; a time before 2000 or after 2199 */
};

enum quantity_unit {
	QUANTITY_GRAMS,
	QUANTITY_OUNCES,
};

/*
 * "304g", "0.304kg", "10.7oz", "0lb10.7oz", "0.67lb", with or without blanks around number and unit,
 * any case, a decimal point or a comma ("0,304kg"). Exact, rounded to the nearest milligram. > 0.
 * Malformed for safety: a comma that may part thousands ("1,304g": 1.304 g or 1304 g?), a bare point (".5kg"),
 * and before ounces a fraction of pounds or after pounds 16 oz and more ("0lb107oz": a point lost?).
 * ret_step_mg (may be NULL): what one in the last digit written is worth ("304g": 1000), rounded, at least 1.
 */
enum quantity_outcome quantity_mass(const char *text, int64_t *ret_mg, int64_t *ret_step_mg);

/* A sentence for people: what is wrong and what to write instead. Static storage. */
const char *quantity_mass_hint(enum quantity_outcome outcome);

/*
 * Writes "304 g", "304.5 g" or "10.70 oz" (always with the unit; grams with as many decimals as the
 * milligrams need, at most one for step_mg >= 1000 or 0, up to three else; ounces with two decimals, with
 * pounds from 16 oz on: "1 lb 0.30 oz"). Returns what snprintf would.
 */
int quantity_format(char *buffer, size_t size, int64_t mass_mg, int64_t step_mg, enum quantity_unit unit);

/*
 * RFC 3339, section 5.6, with offset: "2026-11-25T13:45:30.5+01:00" or ...Z. ret_offset_min: minutes east
 * of UTC. Leap second 60 (at the end of a UTC month, 5.7) is taken as 59; digits after milliseconds are cut off.
 * QUANTITY_MALFORMED, QUANTITY_OUT_OF_RANGE or QUANTITY_OK.
 */
enum quantity_outcome quantity_rfc3339(const char *text, int64_t *ret_ms, int *ret_offset_min);
/* "2026-11-25T12:45:30.500Z" into a buffer of at least QUANTITY_RFC3339_SIZE; "" outside years 1582..9999. */
#define QUANTITY_RFC3339_SIZE 32
void quantity_rfc3339_utc(char buffer[QUANTITY_RFC3339_SIZE], int64_t ms);
