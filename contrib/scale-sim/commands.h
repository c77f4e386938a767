// SPDX-License-Identifier: MIT
#pragma once
/* The commands of standard input: words in, one answer out. Above: script.c, main.c (for --help). Below: all the rest.
 */
#include "sim.h"

enum command_outcome {
	COMMAND_DONE = 0, /* text is the answer's, may be empty */
	COMMAND_ERROR,    /* text says what is wrong */
	COMMAND_WAIT,     /* wait-client or pause: script.c answers when it's over */
};

#define COMMANDS_TEXT 256
#define COMMANDS_WORDS 40

/* n >= 1. text is always written. */
enum command_outcome commands_run(struct sim *sim, int n, char **words, char text[static COMMANDS_TEXT]);
void commands_help(FILE *out);
/* Ends bluetoothd, or starts it anew; false: the bus refuses. */
void commands_stop(struct sim *sim);
bool commands_start(struct sim *sim);
