// SPDX-License-Identifier: MIT
#pragma once
/*
 * What comes from a broker, read: a topic and a payload become a row that is safe to keep, or a reason why not
 * (contrib/broker/MESSAGES.md). Whoever may publish there may publish anything, so every member's type and range is
 * held here, and what isn't known is left out. Pure but for memory. Above: intake, main. Below: jansson, named.
 */
#include "contrib/broker/name.h"
#include <jansson.h>
#include <stddef.h>

#define RECORD_OCTETS 65536 /* a message has no more (MESSAGES.md) */
#define RECORD_TEXT 4096    /* octets in one text; bismard keeps none over 256, a concern's may have more */

enum record_kind { RECORD_READING, RECORD_CONCERN, RECORD_STATE };
enum { RECORD_LOGS = 2 }; /* the first two kinds have rows */

struct record {
	enum record_kind kind;
	char bridge[NAME_BRIDGE_BYTES + 1];
	json_t *row; /* the members of MESSAGES.md, each one there, `at` left out; the caller's */
};

/*
 * base: what the topics begin with. 0; -EINVAL: refused, *ret_why says why (static), and ret->bridge is the topic's
 * bridge, or "" when the topic is none of ours; -ENOMEM.
 */
int record_read(const char *base, const char *topic, const void *octets, size_t n, struct record *ret,
		const char **ret_why);
