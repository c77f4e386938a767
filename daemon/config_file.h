// SPDX-License-Identifier: MIT
#pragma once
/*
 * bismard.conf: [section], key = value, comments that begin with # or ;. One table row a setting.
 * Above: config.c. Below: config_format (the sections that declare a format), log. It knows no command line.
 */
#include "daemon/config.h"

struct config_file {
	const char *path;
	bool running; /* complaints go to the log; else to standard error */
	int line;     /* being read */
	bool wrong;   /* a setting without which bismard can't begin was wrong */
	struct config *config;
};

/* Sets in file->config what the file says; file->path, running and config are the caller's. 0 or -errno: it can't be
 * read (then nothing was told). */
int config_file_read(struct config_file *file);
/* Complains about a line: FILE:LINE: and what is wrong. */
__attribute__((format(printf, 3, 4))) void config_file_say(const struct config_file *file, int line, const char *format,
							   ...);
/* A path that fits, or false, to untouched. */
bool config_set_path(char to[CONFIG_PATH_SIZE], const char *path);
