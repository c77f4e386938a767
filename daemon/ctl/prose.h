// SPDX-License-Identifier: MIT
#pragma once
/*
 * Sentences for people on standard output, broken where the terminal ends.
 * Above: growth, concerns, round, scale. Below: text, when.
 */
#include "daemon/ctl/ctl.h"

/* Tells what time is looked back to. */
void prose_as_of(const struct ctl *ctl, int64_t as_of_ms);
/* One paragraph; its lines begin at a column. Without a terminal it is one line. */
void prose_print(const struct ctl *ctl, unsigned indent, const char *text);
__attribute__((format(printf, 3, 4)))
void prose_printf(const struct ctl *ctl, unsigned indent, const char *format, ...);
