// SPDX-License-Identifier: MIT
#pragma once
/*
 * A scale with several users may tell a user's weights only to who knows his consent code (User Data Service; facts,
 * 5.5): once a link the User Control Point is told the index and the code that radio_consent() gave. It says nothing else
 * there, ever: it registers nobody and deletes nothing.
 * Above: scale.c, subscribe.c. Below: bus.c. A refusal is logged, and no error of the link.
 */
#include "protocols/bytes.h"
#include "scale.h"

#define CONSENT_USER_CONTROL_POINT 0x2A9F
#define CONSENT_NO_USER 0xFF
#define CONSENT_CODE_MAX 9999
/* A procedure that has no answer by then has failed, and no other may begin on the same link. */
#define CONSENT_LIMIT_US UINT64_C(30000000)

/* 0, or -errno of sd-event. */
int consent_init(struct scale *scale);
void consent_done(struct scale *scale);
/* index 0xff: none. On the next link, or on this one if nothing was said on it yet. */
void consent_give(struct scale *scale, uint8_t index, unsigned code);
/* Begins if there is a subscribed link on which it wasn't done. */
void consent_look(struct scale *scale);
/* The User Control Point has indicated something. */
void consent_value(struct scale *scale, struct bytes value);
/* The link is over. */
void consent_end(struct scale *scale);

/* The outcome that an indication tells, in words, and whether it is the good one; NULL when it is no answer to our
 * request. Pure. */
const char *consent_outcome(struct bytes value, bool *ret_accepted);
