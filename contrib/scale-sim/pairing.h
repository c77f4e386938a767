// SPDX-License-Identifier: MIT
#pragma once
/*
 * What a scale wants to know before it bonds, asked through the client's Agent1, and a scale that threw its bond away.
 * Above: device.c (Pair), commands.c. Below: bus.h, apps.h. A scale that asks nothing is "just works".
 */
#include "commands.h"

enum pairing_outcome {
	PAIRING_PASSED = 0,
	PAIRING_WAITS,
	PAIRING_FAILED,   /* the digits are others */
	PAIRING_REJECTED, /* the client said no */
};

/* Option words from `passkey|display|confirm DIGITS`; false: not one of them, or no six digits. */
bool pairing_option(struct peer *peer, const char *word, const char *digits);
/* Asks, when that wasn't done for this Pair, and tells what has come of it. */
enum pairing_outcome pairing_step(struct device *device);
/* Pair is over: a question that is still open is cancelled. */
void pairing_end(struct device *device);

/* `type ADDR DIGITS`: what its user types on the scale. `unbond ADDR`: it throws its bond away. */
enum command_outcome pairing_type(struct sim *sim, int n, char **words, char *text);
enum command_outcome pairing_unbond(struct sim *sim, int n, char **words, char *text);
