// SPDX-License-Identifier: MIT
#pragma once
/*
 * What happens at the daemon, said: the question of the moment, what was recorded, concerns; and what a keypad wants
 * said. Above: main.c. Below: voice, turn, quiet; contrib/client.
 */
#include "contrib/speak/quiet.h"
#include "contrib/speak/voice.h"
#include "daemon/weigh/quantity.h"
#include <systemd/sd-event.h>

struct talk_setup {
	struct voice_setup voice;
	const char *socket; /* the daemon's */
	const char *aloud;  /* where others have something said; NULL: nowhere */
	enum quantity_unit unit;
	int volume; /* 0..100 */
	struct quiet quiet;
	/* Then; 0: nothing is said but "call your vet", and that at `volume`. Other concerns wait for its end. */
	int quiet_volume;
};

struct talk;

/* All strings must last as long as the talk. 0 or -errno; told to the journal. */
int talk_new(struct talk **ret, sd_event *event, const struct talk_setup *setup);
struct talk *talk_free(struct talk *talk); /* takes NULL, returns NULL */
