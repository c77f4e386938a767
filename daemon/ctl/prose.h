// SPDX-License-Identifier: MIT
#pragma once
/*
 * Sentences for people on standard output, broken where the terminal ends.
 * Above: growth, concerns, round. Below: text.
 */
#include "daemon/ctl/ctl.h"

/* One paragraph; its lines begin at a column. Without a terminal it is one line. */
void prose_print(const struct ctl *ctl, unsigned indent, const char *text);
__attribute__((format(printf, 3, 4))) void prose_printf(const struct ctl *ctl, unsigned indent, const char *format, ...);
