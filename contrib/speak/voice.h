// SPDX-License-Identifier: MIT
#pragma once
/*
 * Says one sentence at a time, by a program that is run for it: speech-dispatcher's spd-say(1), which the user's own
 * session has set up, or espeak-ng(1), which needs nothing. A sentence is an argument, never a command. Above: talk.c.
 * Below: sd-event, posix_spawn(3).
 */
#include <stdbool.h>
#include <systemd/sd-event.h>

/* A sound device that blocks would keep the voice for ever: a sentence has so long, and twice what its words take. A
 * word is six characters with its blank, as rates count them (common practice, no source). */
#define VOICE_PATIENCE_MS 10000
#define VOICE_WORD 6
#define VOICE_RATE_LEAST 80
#define VOICE_RATE_MOST 450

enum voice_by {
	VOICE_AUTO, /* spd-say where speech-dispatcher has a socket for this user, else espeak-ng; and espeak-ng if that
		       fails */
	VOICE_DISPATCHER,
	VOICE_ESPEAK,
};

struct voice_setup {
	enum voice_by by;
	int rate;        /* words a minute, VOICE_RATE_LEAST..VOICE_RATE_MOST */
	const char *wav; /* NULL: aloud. A folder: sentence n becomes n.wav (0001.wav) there, by espeak-ng */
};

struct voice;

/* SIGCHLD must be blocked. done is called when a sentence has ended, well or not, and not for voice_stop(). setup's
 * strings must last. 0 or -errno. */
int voice_new(struct voice **ret, sd_event *event, const struct voice_setup *setup, void (*done)(void *user, bool well),
	      void *user);
struct voice *voice_free(struct voice *voice); /* stops; takes NULL, returns NULL */
bool voice_is_busy(const struct voice *voice);
/* Only while it isn't busy. volume 0..100 of the device's. 0; -errno: it can't be said. */
int voice_say(struct voice *voice, const char *text, int volume);
/* Breaks off. */
void voice_stop(struct voice *voice);
