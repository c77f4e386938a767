// SPDX-License-Identifier: MIT
#pragma once
/*
 * The desk: where the rooms meet. Takes octets from the radio, has them decoded and made a weighing, commits it,
 * asks who it was, and files the answer. Requests of clients end here.
 * Above: main.c, which makes the rooms and introduces them. Below: store, prompt, radio, and the pure rooms.
 * It owns none of the three; they outlive its use of them (main.c tears down in reverse).
 *
 * Files: frames.c (octets to weighing), pending.c (frames that can't be written yet), asks.c (open questions),
 * roster.c (who there is), answers.c, care.c, scales.c (requests, by kind), words.c (bare-word answers), clock.c.
 */
#include "daemon/prompt/prompt.h"
#include "daemon/radio/radio.h"
#include "daemon/store/store.h"

struct desk;
struct sd_event;

/* Reads the roster and the open questions from the ledger. -ENOMEM, or the store's outcome. */
int desk_new(struct sd_event *event, struct store *store, struct desk **ret);
/* Takes NULL; returns NULL. */
struct desk *desk_free(struct desk *desk);

/* Callbacks for radio_new() and prompt_new(); the desk is their userdata. */
extern const struct radio_ops desk_radio_ops;
void desk_prompt_ops(struct desk *desk, struct prompt_ops *ret);

/* Introduces the other two and adopts the ledger's scales. prompt and radio may be NULL again when they go. */
int desk_join(struct desk *desk, struct prompt *prompt, struct radio *radio);
