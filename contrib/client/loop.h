// SPDX-License-Identifier: MIT
#pragma once
/*
 * The event loop of a program beside bismard: SIGTERM and SIGINT end it, and systemd's watchdog is kicked by it, where
 * there is one, and by nothing else. Above: the main.c of contrib/page, contrib/keypad, contrib/speak, contrib/broker.
 * Below: sd-event.
 */
#include <systemd/sd-event.h>

/* Both signals are blocked from then on. 0 or -errno; *ret, NULL or not, is the caller's in either case. */
int loop_new(sd_event **ret);
