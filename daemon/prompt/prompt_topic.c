// SPDX-License-Identifier: MIT
#include "daemon/prompt/prompt_topic.h"

const char *prompt_topic_text(enum prompt_topic topic)
{
	switch (topic) {
	case PROMPT_ASK:
		return "ask";
	case PROMPT_WITHDRAW:
		return "withdraw";
	case PROMPT_RECORDED:
		return "recorded";
	case PROMPT_LIVE:
		return "live";
	case PROMPT_CONCERN:
		return "concern";
	case PROMPT_SCALE:
		return "scale";
	case PROMPT_CONTAINER:
		return "container";
	case PROMPT_FOUND:
		return "found";
	case PROMPT_PAIRING:
		return "pairing";
	case PROMPT_OFFER:
		return "offer";
	case PROMPT_ROUND:
		return "round";
	case PROMPT_IMPORTED:
		return "imported";
	case PROMPT_TOPICS:
		break;
	}
	return "?";
}
