// SPDX-License-Identifier: MIT
#pragma once
/*
 * From keys to answers: the device, and what its strokes and codes mean.
 * Above: main.c. Below: input, stroke, tag, act, answering. It prints a line a keypress, and has said aloud why nothing
 * was done.
 */
#include "contrib/keypad/answering.h"
#include "contrib/keypad/input.h"
#include <systemd/sd-event.h>

enum pad_kind {
	PAD_KEYS,
	PAD_TURNER,
	PAD_TAG,
};

struct pad_setup {
	enum pad_kind kind;
	struct input_choice input;
	struct answering_setup answering;
};

struct pad;

/* All strings must last as long as the pad. 0 or -errno. */
int pad_new(struct pad **ret, sd_event *event, const struct pad_setup *setup);
struct pad *pad_free(struct pad *pad); /* takes NULL, returns NULL */
