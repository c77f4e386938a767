// SPDX-License-Identifier: MIT
#pragma once
/*
 * Standard input as a queue of command lines, answered in order. Above: main.c. Below: commands.h, say.h.
 */
#include "sim.h"

#define SCRIPT_LINE 4096

struct script {
	char buffer[SCRIPT_LINE];
	size_t n;
	bool skipping;                          /* the rest of a line that was too long */
	bool ended;                             /* end of standard input */
	bool waiting;                           /* a command isn't over; the next ones wait */
	char command[16], address[SIM_ADDRESS]; /* that command; "": any scale */
	int64_t until_ms;
};

bool script_wants_input(const struct script *script);
/* Reads once; for when poll() says that this doesn't block. */
void script_read(struct script *script);
/* Runs the lines that are complete, until one has to wait. true: something was done, so time may be due. */
bool script_run(struct script *script, struct sim *sim);
/* Nothing will come any more. */
bool script_over(const struct script *script);
