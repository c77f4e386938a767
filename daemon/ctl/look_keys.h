// SPDX-License-Identifier: MIT
#pragma once
/*
 * Keys typed at a question of `look`: which answer they are. Pure but for jansson.
 * Above: look. Below: field.
 */
#include <jansson.h>

#define LOOK_SIZE 16
/* Stops always, also where an answer begins with it: that is a false stop at worst, and never a false answer. */
#define LOOK_QUIT 'q'

enum look_said {
	LOOK_GOES_ON,
	LOOK_ANSWERED, /* text is the answer's word, or a temperature */
	LOOK_SKIPPED,
	LOOK_STOPPED, /* q, Esc, Ctrl-C, Ctrl-D */
};

struct look_typed {
	char text[LOOK_SIZE];
	size_t n;
};

/* One key more. answers as the request `look` has them; none: a temperature, which its unit ends. Keys that mean
 * nothing are left out. */
enum look_said look_keys_take(struct look_typed *typed, const json_t *answers, char key);
