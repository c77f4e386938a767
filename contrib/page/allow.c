// SPDX-License-Identifier: MIT
#include "contrib/page/allow.h"

/* tests/page/test_security.py holds `by` to protocols/prompt.md */
static const struct allow allowed[] = {
	{ "status", false },        { "asks", false },        { "answer", true },         { "aside", true },
	{ "reopen", true },         { "correct", true },      { "weigh", true },          { "growth", false },
	{ "concerns", false },      { "round", true },        { "round.begin", true },    { "round.end", true },
	{ "round.exchange", true }, { "look", false },        { "sign", true },           { "feed.plan", false },
	{ "feed.give", true },      { "feed.nursed", true },  { "order.list", false },    { "dose.plan", false },
	{ "dose.give", true },      { "whelping", false },    { "whelping.pup", true },   { "whelping.score", true },
	{ "container.tare", true }, { "container.on", true }, { "container.none", true },
};

const struct allow *allow_find(const char *method)
{
	for (size_t i = 0; i < sizeof allowed / sizeof *allowed; i++)
		if (strcmp(allowed[i].method, method) == 0)
			return &allowed[i];
	return NULL;
}
