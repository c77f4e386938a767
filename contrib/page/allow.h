// SPDX-License-Identifier: MIT
#pragma once
/* The requests that a phone may make (protocols/prompt.md). What isn't here is typed at the computer. */
#include <stdbool.h>

struct allow {
	const char *method;
	bool by; /* takes who says it */
};

/* NULL: not allowed. */
const struct allow *allow_find(const char *method);
