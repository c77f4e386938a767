// SPDX-License-Identifier: MIT
#pragma once
/*
 * The desk: where the rooms meet. Takes octets from the radio, has them decoded and made a weighing, commits it,
 * asks who it was, and files the answer. Requests of clients end here.
 * Above: main.c, which makes the rooms and introduces them. Below: store, prompt, radio, and the pure rooms.
 * It owns none of the three; they outlive its use of them (main.c tears down in reverse).
 *
 * Files: frames.c (octets to results), stream.c and broadcast.c (scales that stream or broadcast), passage.c (a result to
 * a weighing and a question), buttons.c, keys.c and seal.c (encrypted broadcasts), pending.c (what can't be written yet), undated.c (what
 * waits for a scale's clock), asks.c (open questions),
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

struct declared;
/* The formats that the settings declare; they must outlive the desk, or the next call. */
void desk_set_formats(struct desk *desk, const struct declared *list, size_t n);

/* One line for people: what is wrong, and how many scales and open questions there are ("no Bluetooth adapter;
 * 2 scales, 1 question open"). Cut at size. */
void desk_status_text(const struct desk *desk, char *ret, size_t size);
/* Where keys of scales that encrypt are kept (keys.h); without it, or when it can't be used, which is logged, such scales
 * aren't understood. */
void desk_open_keys(struct desk *desk, const char *state_dir);
