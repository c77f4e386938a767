// SPDX-License-Identifier: MIT
#pragma once
/*
 * A section [format NAME] of bismard.conf, which declares a format (protocols/declared.h). One table row a setting.
 * Above: config_file. Below: protocols/declared, protocols/mass. A format with anything wrong in it is told and left
 * out: half understood, it would make wrong masses.
 */
#include "protocols/declared.h"

struct config_file;

#define CONFIG_FORMAT_SETTINGS 12

struct config_format {
	struct declared declared;
	int line;                          /* of the section */
	int given[CONFIG_FORMAT_SETTINGS]; /* the line of each setting by its row in the table; 0: not given */
	bool wrong;                        /* told already; the rest is still looked at */
};

/* Each takes the line from file->line. */
void config_format_begin(struct config_format *format, const struct config_file *file, const char *name);
void config_format_take(struct config_format *format, const struct config_file *file, const char *key,
			const char *value);
/* A line of it that is no setting. */
void config_format_spoil(struct config_format *format, const struct config_file *file, const char *why);
/* The section is over: the format joins file->config, or what it lacks is told. */
void config_format_end(struct config_format *format, struct config_file *file);
