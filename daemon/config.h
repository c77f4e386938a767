// SPDX-License-Identifier: MIT
#pragma once
/*
 * The daemon's settings: command line over environment over configuration file over defaults.
 * Above: main.c. Below: config_file, log. Reading names FILE:LINE and the remedy of what is wrong.
 *
 * What is wrong in the file is told and left out, and the rest counts: a line, or of a declared format all of it. A
 * wrong `state` or `socket` alone stops bismard: it would keep the record in another place than people think.
 */
#include <stdbool.h>
#include <stddef.h>

#include "protocols/declared.h"

#define CONFIG_PATH_SIZE 512
#define CONFIG_FORMATS 16 /* declared formats, at most */

/* What the command line says, as bits: the file doesn't change it. */
enum config_given {
	CONFIG_GIVEN_STATE = 1 << 0,
	CONFIG_GIVEN_SOCKET = 1 << 1,
	CONFIG_GIVEN_LOG_LEVEL = 1 << 2,
	CONFIG_GIVEN_FILE = 1 << 3, /* then the file must exist */
};

struct config {
	char state[CONFIG_PATH_SIZE];  /* directory of the database */
	char socket[CONFIG_PATH_SIZE]; /* path of the prompt socket */
	int log_level;                 /* of syslog */
	struct declared formats[CONFIG_FORMATS];
	size_t n_formats;
	char file[CONFIG_PATH_SIZE]; /* what it was read from, there or not */
	unsigned given;              /* of enum config_given */
};

enum config_outcome {
	CONFIG_OK = 0,
	CONFIG_STOP,   /* --help or --version was answered: exit 0 */
	CONFIG_WRONG,  /* told: exit 2; of config_reload: go on with the old one */
	CONFIG_UNREAD, /* told: for want of memory, descriptors or a disk that reads; the next start may: exit 1 */
};

/* Reads everything. Prints help, version and complaints itself. *ret only with CONFIG_OK. */
enum config_outcome config_read(int argc, char **argv, struct config *ret);
/*
 * Reads old's file again, for SIGHUP: the command line's settings stay, and so do state and socket, which a running
 * bismard can't change (told when the file now says otherwise). Complaints are logged. CONFIG_OK and *ret, which may
 * be old; or CONFIG_WRONG: the file can't be read, *ret untouched.
 */
enum config_outcome config_reload(const struct config *old, struct config *ret);
