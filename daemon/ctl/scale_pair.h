// SPDX-License-Identifier: MIT
#pragma once
/*
 * What a pairing or an adoption that goes on says, and what the person at the terminal says to it.
 * Above: scale_adopt. Below: request, socket.
 */
#include "daemon/ctl/ctl.h"
#include "daemon/ctl/socket.h"

/* What the wait is for. */
enum scale_wait {
	SCALE_WAIT_PAIRED, /* scale.pair was asked for: until it is done or failed */
	SCALE_WAIT_READY,  /* until the scale is connected to, or heard; pairs when it wants that; Enter ends the wait */
};

/* Follows a scale by its name on a connection that follows `pairing` and `scale`, answering from standard input. */
enum ctl_status scale_pair_wait(const struct ctl *ctl, struct socket *socket, const char *scale, enum scale_wait wait);
