// SPDX-License-Identifier: MIT
#pragma once
/*
 * From keys to answers: the device, what is open at the daemon, and the rules in between.
 * Above: main.c. Below: input, stroke, tag, act; contrib/client. It prints a line a keypress, and has said aloud why
 * nothing was done.
 */
#include "contrib/keypad/input.h"
#include "daemon/weigh/quantity.h"
#include <systemd/sd-event.h>

enum pad_kind {
	PAD_KEYS,
	PAD_TURNER,
	PAD_TAG,
};

struct pad_setup {
	enum pad_kind kind;
	struct input_choice input;
	const char *socket; /* the daemon's */
	const char *aloud;  /* the voice's */
	enum quantity_unit unit;
};

struct pad;

/* All strings must last as long as the pad. 0 or -errno. */
int pad_new(struct pad **ret, sd_event *event, const struct pad_setup *setup);
struct pad *pad_free(struct pad *pad); /* takes NULL, returns NULL */
