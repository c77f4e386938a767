// SPDX-License-Identifier: MIT
#pragma once
/*
 * The command line of bismar-gather. What it has in common with bismar-broker is called as there.
 * Above: gather. Below: broker's setup, login.
 */
#include "contrib/merge/broker.h"

struct gather_options {
	struct broker_setup broker; /* borrows from here, and from argv */
	int wait_s;                 /* from when something is missing to the first wish */
	int every_s;                /* between two wishes to a bridge */
	bool once, create;
	struct login login;
	char client[24]; /* 23 characters: what every broker must take (MQTT 3.1.1, 3.1.3.1) */
};

/* What is wrong is on standard error. A password isn't. */
enum usage gather_options_read(struct gather_options *options, int argc, char **argv);
