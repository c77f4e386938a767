// SPDX-License-Identifier: MIT
#pragma once
/* bismar-merge's words to standard error, a line each. Above: main, into, take. Below: stdio. */

__attribute__((format(printf, 1, 2))) void tell(const char *format, ...);
/* What SQLite's result means for that file, and what to do; text are its own words. */
void tell_sqlite(const char *path, int r, const char *text);
