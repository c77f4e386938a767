// SPDX-License-Identifier: MIT
#pragma once
/*
 * The command line of bismar-broker, and what follows from it: defaults, the password's file, what isn't allowed.
 * Above: main. Below: login, name, bridge.
 */
#include "contrib/broker/bridge.h"
#include "contrib/broker/login.h"

struct options {
	struct bridge_setup setup; /* borrows from here, and from argv */
	char host_name[NAME_BRIDGE_BYTES + 2];
	struct login login;
};

/* What is wrong is on standard error. A password isn't. */
enum usage options_read(struct options *options, int argc, char **argv);
