// SPDX-License-Identifier: MIT
#pragma once
/*
 * What the notifications are about: their words, which are the methods of the notifications too. Pure.
 * Above: rpc.c (`follow`), prompt.c, daemon/desk. Below: nothing.
 */

enum prompt_topic {
	PROMPT_ASK,
	PROMPT_WITHDRAW,
	PROMPT_RECORDED,
	PROMPT_LIVE,
	PROMPT_CONCERN,
	PROMPT_SCALE,
	PROMPT_CONTAINER, /* a tare was taken, or the empty container drifted */
	PROMPT_FOUND,     /* scale.find: a scale, or the end of the search */
	PROMPT_PAIRING,   /* a scale needs a bond; and how scale.pair goes on */
	PROMPT_OFFER,     /* scale.offers: a characteristic, or the end */
	PROMPT_ROUND,     /* a round began or ended, and what looks exchanged in it */
	PROMPT_IMPORTED,  /* readings of a file were added, all at once */
	PROMPT_TOPICS,
};
#define PROMPT_DEFAULT_TOPICS (1u << PROMPT_ASK | 1u << PROMPT_WITHDRAW | 1u << PROMPT_RECORDED)

/* The topic's word, which is the notification's method too: "ask", "withdraw", ... Static storage. */
const char *prompt_topic_text(enum prompt_topic topic);
