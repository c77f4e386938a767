// SPDX-License-Identifier: MIT
#pragma once
/*
 * What a whelping looks like in words; shared by its verbs (whelping.c) and the dialogue at the box (whelping_talk.c).
 * Above: those two. Below: prose, show, when.
 */
#include "daemon/ctl/ctl.h"
#include <jansson.h>

/* Births so far, who is without weight or score, time since the last. now_ms: the time to count from. */
void whelping_print(const struct ctl *ctl, const json_t *whelping, int64_t now_ms);
/* "pup 3: 310 g, 25 min after the one before." */
void whelping_print_pup(const struct ctl *ctl, const json_t *pup);
void whelping_print_score(const struct ctl *ctl, const json_t *score);

/* The dialogue. At a terminal one key is an answer where one will do, else each is a line of standard input. It ends with
 * q or the end of the input. */
enum ctl_status whelping_talk(const struct ctl *ctl, const char *litter);
