// SPDX-License-Identifier: MIT
#pragma once
/*
 * What is open at the daemon, and what comes of an act: the request, its reply, the words for both.
 * Above: pad.c. Below: act; contrib/client. One request is under way at a time.
 */
#include "contrib/client/peer.h"
#include "contrib/keypad/act.h"
#include "daemon/weigh/quantity.h"
#include <systemd/sd-event.h>

#define ANSWERING_NAME_SIZE 96

/* All strings last as long as it does. */
struct answering_setup {
	const char *socket; /* the daemon's */
	const char *aloud;  /* the voice's */
	enum quantity_unit unit;
};

struct answering_calls {
	/* What was asked for isn't so, or it isn't known: the same may be asked for at once. */
	void (*undone)(void *user);
};

struct answering {
	sd_event *event;
	const struct answering_setup *setup;
	const struct answering_calls *calls;
	void *user;
	struct peer *peer;
	struct questions questions;
	int aloud;
	int64_t skew_ms;             /* of a recording's clock against ours */
	bool skewed;                 /* it is known */
	int64_t shown_ms, marked_ms; /* since when, on our clock with the skew */
	struct act_mark mark;
	bool busy;
	enum act_kind doing;          /* what is under way */
	char asked[QUESTION_ID_SIZE]; /* of which question */
	char last[QUESTION_ID_SIZE];  /* the answer that can be taken back; "": none */
	char last_name[ANSWERING_NAME_SIZE];
};

/* All is borrowed; it isn't moved. 0 or -errno, and answering_end() follows in either case. */
int answering_begin(struct answering *it, sd_event *event, const struct answering_setup *setup,
		    const struct answering_calls *calls, void *user);
void answering_end(struct answering *it);
/* The loop's monotonic clock; under a recording, the recording's. */
int64_t answering_now_ms(const struct answering *it);
/* A recording says that it is at_ms. Its first event is now; the others keep their distance from it, however fast they
 * are read. */
void answering_follow(struct answering *it, int64_t at_ms);
struct act_moment answering_moment(const struct answering *it);
/* Does it, or says why not; key names what was pressed, for the journal. */
void answering_carry_out(struct answering *it, const struct act *act, const char *key);
/* Answers with what a tag says. A question is open. */
void answering_code(struct answering *it, const char *code);
