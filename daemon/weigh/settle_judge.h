// SPDX-License-Identifier: MIT
#pragma once
/*
 * What the samples of a load or of an empty scale allow to be told. Above: settle.c, which says when to look and owns
 * the life of a load. Below: plateau, samples. Pure.
 *
 * Each looks at the newest sample and those kept; the state is set when something is told. A load that was told before,
 * and came back under a passing weight, isn't told again: its state is SETTLE_IS_TOLD and the event SETTLE_NOTHING.
 */
#include "daemon/weigh/settle.h"

/* SETTLE_LOADED, or SETTLE_NOTHING yet. */
enum settle_event settle_judge_load(struct settle *settle, struct settle_result *ret);
/* The same by the scale's own mark on the newest sample; first: it is the first of the load. */
enum settle_event settle_judge_mark(struct settle *settle, bool first, struct settle_result *ret);
/* The load went at end_us before it was told. SETTLE_NOTHING: a hand in passing. */
enum settle_event settle_judge_removed(struct settle *settle, uint64_t end_us, struct settle_result *ret);
/* SETTLE_IDLE when the empty scale lies still. */
enum settle_event settle_judge_emptied(struct settle *settle, struct settle_result *ret);
/* SETTLE_ONSET when another load than the one told has lain there long enough. Forgets samples older than that. */
enum settle_event settle_judge_exchanged(struct settle *settle);

/* There has been no sample for a while: tells what there is of a load. */
enum settle_event settle_judge_silence(struct settle *settle, struct settle_result *ret);
/* ... and of the empty scale. */
void settle_judge_emptied_last(struct settle *settle, struct settle_result *ret);
/* The newest sample agrees with the one before it, and isn't marked as moving: the scale falls silent because its mass
 * no longer changes. */
bool settle_judge_ends_still(const struct settle *settle);
/* Told, and the newest sample since is clearly another mass. */
bool settle_judge_differs(const struct settle *settle);
