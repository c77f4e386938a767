// SPDX-License-Identifier: MIT
#pragma once
/*
 * The words after the program's name: options of the program, options of a command, and the rest.
 * Above: main.c and every command. Below: nothing. Wrong use is told to standard error here.
 */
#include "daemon/ctl/ctl.h"
#include <stddef.h>

#define ARGS_MAX 8
#define ARGS_LIST_MAX 16

/* An option that takes a value: "--at T" or "--at=T". The value may begin with a dash ("--at -20min"). */
struct args_option {
	const char *name;   /* "--at" */
	const char **value; /* where it goes; a second one is refused */
	bool *flag;         /* instead: takes no value */
	const char **list;  /* instead: it may come up to ARGS_LIST_MAX times */
	size_t *n_list;
};

struct args {
	const char *words[ARGS_MAX]; /* what is no option */
	size_t n;
};

/* When argv[i] is one of the program's own options (--socket, --json, ...), takes it into ctl. Returns how many
 * words that were, 0 when it is something else, -1 after telling what is wrong. */
int args_global(struct ctl *ctl, int argc, char **argv, int i);

/*
 * Takes all of argv: the command's options, the program's, and from min to max words (max <= ARGS_MAX). After "--" all
 * are words. False after telling what is wrong and the command's usage.
 */
bool args_parse(struct ctl *ctl, int argc, char **argv, const struct args_option *options, size_t n_options, size_t min,
		size_t max, struct args *ret);

/* Tells what is wrong with the use of the running command, and its usage; CTL_USAGE. */
__attribute__((format(printf, 2, 3))) enum ctl_status args_wrong(const struct ctl *ctl, const char *format, ...);

/* A time as people type it. NULL leaves *ret_ms alone. False after telling what is wrong. */
bool args_time(const struct ctl *ctl, const char *text, int64_t *ret_ms);
/* The same, where it may lie ahead. */
bool args_time_ahead(const struct ctl *ctl, const char *text, int64_t *ret_ms);
/* True when text is a mass with its unit, or NULL; else tells what is wrong. */
bool args_mass(const struct ctl *ctl, const char *text);
/* A whole number from min to max, all of text. False when it isn't (nothing is told). */
bool args_whole(const char *text, long min, long max, long *ret);
/* A number from 0 on as people write it, "4.5"; all of text. False when it isn't (nothing is told). */
bool args_number(const char *text, double *ret);
