// SPDX-License-Identifier: MIT
#pragma once
/*
 * What the desk's files share. Not for anyone outside this folder.
 */
#include "daemon/desk/asks.h"
#include "daemon/desk/clock.h"
#include "daemon/desk/desk.h"
#include "daemon/desk/passage.h"
#include "daemon/desk/pending.h"
#include "daemon/desk/roster.h"
#include "daemon/desk/stream.h"
#include "protocols/declared.h"

/* A container.tare that nobody gave a mass lapses: else a pup weighed an hour later would become the tare. */
#define DESK_TARE_WAIT_S 180

struct desk {
	struct sd_event *event;
	struct store *store;
	struct prompt *prompt; /* NULL until joined */
	struct radio *radio;   /* NULL until joined */
	struct roster roster;
	struct asks asks;
	struct pending pending;
	struct model *models;            /* growth of the open litters; models.c's */
	struct worry *worries;           /* concerns that are open; worries.c's */
	struct sd_event_source *look;    /* at concerns, as time goes by */
	struct open_round *rounds;       /* rounds.c's */
	struct open_whelping *whelpings; /* whelping.c's */
	struct pending undated;          /* results whose scale's clock is still to be read; undated.c's */
	struct stream *streams;          /* of scales that stream; stream.c's */
	struct keys *keys;               /* of scales that encrypt; NULL: none can be kept */
	const struct declared *formats;  /* the settings' own, main's */
	size_t n_formats;
	int64_t wall_ahead_ms;           /* the wall clock less the boot clock, until the former is set */
	struct { /* container.tare that waits for a result */
		bool waiting;
		struct sd_event_source *lapse; /* DESK_TARE_WAIT_S after it was asked for */
		char container_id[UUID7_SIZE];
		char scale_id[UUID7_SIZE]; /* "": any scale */
		char peer[ROSTER_TEXT], said[ROSTER_TEXT];
	} tare;
	struct import *import;     /* readings of a file that wait for their commit; import.c's; NULL: none do */
	bool pairing_wants_digits; /* the question that pairing has asked; pairing.c's own */
};

/* frames.c: decodes, and hands on what came of it: to passage.c, stream.c or broadcast.c. */
void desk_take_frame(struct desk *desk, const struct radio_frame *frame);
/* Which of the settings' formats is meant, or NULL. */
const struct declared *desk_declared(const struct desk *desk, enum radio_kind kind, const char *uuid);
bool desk_wanted(void *userdata, enum radio_kind kind, const char *uuid);
void desk_on_clock(void *userdata, const char *address, const uint8_t *octets, size_t n, int64_t received_ms, uint32_t link,
		   bool set);
void desk_on_feature(void *userdata, const char *address, uint16_t uuid16, const uint8_t *octets, size_t n);

/* desk.c */
/* Keeps what the ledger can't take now, and tries again until it can. */
void desk_hold(struct desk *desk, const struct passage *passage);
struct store_stamp desk_stamp(const char *peer, const char *said);
/* Sends params (stolen) with a readable line. */
void desk_tell(struct desk *desk, enum prompt_topic topic, json_t *params, const char *text);
/* The roster's newest mass of one animal, after an answer touched it. */
void desk_refresh_animal(struct desk *desk, const char *animal_id);
/* Finds out whether the wall clock has been set since it was last asked; what is remembered by it moves along. */
void desk_follow_clock(struct desk *desk);
/* Closes asks that have been open too long or are too many. */
void desk_prune_asks(struct desk *desk);
/* Opens the question for a weighing that the ledger has, and tells it. */
void desk_open_ask(struct desk *desk, const struct ask *ask);
/* No tare is awaited any more. */
void desk_end_tare(struct desk *desk);
/* Tells what is new with a scale: its link's state, its battery. */
void desk_tell_scale(struct desk *desk, const struct roster_scale *scale, enum link_state state);

/* answers.c: shared by requests and bare words. 0 done and *ret_result (may be NULL when not wanted), 1 refused. */
int desk_answer(struct desk *desk, const struct rpc_caller *caller, const char *ask, const char *animal,
		const char *said, json_t **ret_result, struct rpc_refusal *refusal);
int desk_aside(struct desk *desk, const struct rpc_caller *caller, const char *ask, const char *why,
	       const char *said, json_t **ret_result, struct rpc_refusal *refusal);
/* A reading has another animal now: tells it. by: who said so. */
void desk_tell_corrected(struct desk *desk, const char *reading_id, const char *by);
/* Refuses in the ledger's words; r as a store call returned it. Returns 1, or r when it is < 0. */
int desk_refuse_ledger(int r, struct rpc_refusal *refusal);
/* A typed time may be ahead of our clock by this much, for clocks that differ. */
#define DESK_AHEAD_MS (2 * 60 * 1000)
/* Finds one animal or refuses. */
int desk_find_animal(struct desk *desk, const char *word, struct roster_animal **ret, struct rpc_refusal *refusal);

/* pairing.c */
void desk_on_pairing(void *userdata, const char *address, enum radio_pairing what, uint32_t passkey, const char *text);
void desk_on_offer(void *userdata, const char *address, const struct radio_offer *offer, bool ok);
/* Tells the radio, once it has the scales, which users' consent codes the ledger has for them. */
void desk_give_consents(struct desk *desk);

/* words.c */
void desk_word(void *userdata, const struct rpc_caller *caller, const char *word, char *ret_line, size_t size);

/* The requests, one row each. */
extern const struct rpc_method desk_methods[];
extern const size_t desk_n_methods;

/* The rows' functions, as struct rpc_method wants them. */
#define DESK_METHOD(name)                                                                                   \
	int name(void *userdata, const struct rpc_caller *caller, const struct rpc_value *values,           \
		 json_t **ret_result, struct rpc_refusal *refusal)
DESK_METHOD(desk_status);
DESK_METHOD(desk_list_asks);
DESK_METHOD(desk_do_answer);
DESK_METHOD(desk_do_aside);
DESK_METHOD(desk_reopen);
DESK_METHOD(desk_correct);
DESK_METHOD(desk_weigh);
DESK_METHOD(desk_scale_find);
DESK_METHOD(desk_scale_adopt);
DESK_METHOD(desk_scale_forget);
DESK_METHOD(desk_scale_key);
DESK_METHOD(desk_scale_pair);
DESK_METHOD(desk_scale_passkey);
DESK_METHOD(desk_scale_consent);
DESK_METHOD(desk_scale_offers);
DESK_METHOD(desk_container_tare);
DESK_METHOD(desk_container_on);
DESK_METHOD(desk_container_none);
DESK_METHOD(desk_litter_add);
DESK_METHOD(desk_litter_limits);
DESK_METHOD(desk_growth);
DESK_METHOD(desk_concerns);
DESK_METHOD(desk_round);
DESK_METHOD(desk_round_begin);
DESK_METHOD(desk_round_end);
DESK_METHOD(desk_round_exchange);
DESK_METHOD(desk_whelping);
DESK_METHOD(desk_whelping_begin);
DESK_METHOD(desk_whelping_pup);
DESK_METHOD(desk_whelping_score);
DESK_METHOD(desk_whelping_end);
DESK_METHOD(desk_look);
DESK_METHOD(desk_sign);
DESK_METHOD(desk_feed_plan);
DESK_METHOD(desk_feed_give);
DESK_METHOD(desk_feed_nursed);
DESK_METHOD(desk_order_add);
DESK_METHOD(desk_order_list);
DESK_METHOD(desk_order_end);
DESK_METHOD(desk_dose_plan);
DESK_METHOD(desk_dose_give);
DESK_METHOD(desk_import_begin);
DESK_METHOD(desk_import_rows);
DESK_METHOD(desk_import_check);
DESK_METHOD(desk_import_commit);
DESK_METHOD(desk_import_drop);
DESK_METHOD(desk_litter_close);
DESK_METHOD(desk_animal_add);
DESK_METHOD(desk_animal_alias);
DESK_METHOD(desk_animal_gone);
