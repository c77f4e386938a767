// SPDX-License-Identifier: MIT
#pragma once
/*
 * `bismar`, the command line: what all its files share. It reads the database's views and speaks on the prompt socket;
 * with the daemon it shares the pure rooms and the two published contracts, nothing else. It never writes the database.
 * Above: main.c. Below: args, request (the socket), database and list (the views), when, show, text.
 */
#include "daemon/weigh/quantity.h"
#include <stdbool.h>
#include <stdint.h>

#define CTL_SOCKET "/run/bismar/prompt.sock"
#define CTL_DATABASE "/var/lib/bismar/bismar.db"
#define CTL_CONFIG "/etc/bismar/bismard.conf"
/* One pass over a litter takes well under this, passes lie hours apart (as litter/who.h has it). */
#define CTL_ROUND_MS (INT64_C(90) * 60 * 1000)

/* The exit status (contract). */
enum ctl_status {
	CTL_DONE = 0,
	CTL_REFUSED = 1, /* the reason is on standard error */
	CTL_USAGE = 2,
	CTL_ABSENT = 3, /* no daemon or no database */
};

struct command;

struct ctl {
	const char *socket_path, *database_path;
	const char *by; /* whom the person names as the one who says it; or NULL */
	enum quantity_unit unit;
	bool json;
	bool bold;                     /* standard output is a terminal */
	bool utf8;                     /* what is printed for people may hold more than ASCII */
	unsigned width;                /* columns of the terminal; 0: none */
	int64_t now_ms;                /* when the program was started */
	const struct command *command; /* the one that runs */
};

struct command {
	const char *noun;
	const char *verb;  /* NULL: the noun is the command */
	const char *usage; /* what comes after it */
	const char *help;  /* the first line stands in the list of commands */
	enum ctl_status (*run)(struct ctl *ctl, int argc, char **argv); /* argv: what comes after the command */
};

/* A line to standard error, after the program's name. */
__attribute__((format(printf, 1, 2))) void ctl_error(const char *format, ...);
/* Wall clock now, in ms. */
int64_t ctl_now_ms(void);
/* Ends what was printed: CTL_DONE, or CTL_REFUSED and a message when standard output couldn't take it. */
enum ctl_status ctl_flush(void);
