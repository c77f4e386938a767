// SPDX-License-Identifier: MIT
#pragma once
/* Lines on standard output, flushed one by one. Above: everybody. Below: stdio. */
#include "sim.h"

/* "event ..."; nothing while quiet. */
void say_event(const struct sim *sim, const char *format, ...) __attribute__((format(printf, 2, 3)));
/* "ok COMMAND" and the text when it isn't empty; the answer to a command. */
void say_ok(const char *command, const char *text);
/* "error TEXT"; the answer to a command. */
void say_error(const char *text);
