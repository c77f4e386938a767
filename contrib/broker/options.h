// SPDX-License-Identifier: MIT
#pragma once
/*
 * The command line of bismar-broker, and what follows from it: defaults, the password's file, what isn't allowed.
 * Above: main. Below: name, bridge.
 */
#include "contrib/broker/bridge.h"

#define OPTIONS_PASSWORD_BYTES 1024

struct options {
	struct bridge_setup setup; /* borrows from here, and from argv */
	char host_name[NAME_BRIDGE_BYTES + 2];
	char password[OPTIONS_PASSWORD_BYTES + 2];
	char credential[512];
};

enum options_wish { OPTIONS_RUN, OPTIONS_HELP, OPTIONS_VERSION, OPTIONS_WRONG };

extern const char options_help[];

/* WRONG: why is on standard error. A password isn't. */
enum options_wish options_read(struct options *options, int argc, char **argv);

/* Whether what is sent to this host doesn't leave the machine. Pure. */
bool options_is_local(const char *host);
