// SPDX-License-Identifier: MIT
#pragma once
/*
 * The daemon's settings: command line over environment over configuration file over defaults.
 * Above: main.c. Below: inih. Reading names FILE:LINE and the remedy of what is wrong.
 */
#include <stdbool.h>
#include <stddef.h>

#include "protocols/declared.h"

#define CONFIG_PATH_SIZE 512
#define CONFIG_FORMATS 16 /* declared formats, at most */

struct config {
	char state[CONFIG_PATH_SIZE];  /* directory of the database */
	char socket[CONFIG_PATH_SIZE]; /* path of the prompt socket */
	int log_level;                 /* of syslog */
	struct declared formats[CONFIG_FORMATS];
	size_t n_formats;
};

enum config_outcome {
	CONFIG_OK = 0,
	CONFIG_STOP,  /* --help or --version was answered: exit 0 */
	CONFIG_WRONG, /* told on standard error: exit 2 */
};

/* Reads everything. Prints help, version and complaints itself. */
enum config_outcome config_read(int argc, char **argv, struct config *ret);
