// SPDX-License-Identifier: MIT
#include "contrib/broker/name.h"
#include "daemon/ctl/text.h"
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

/* U+FDD0 to U+FDEF, and the last two of each plane: a broker may close the connection (1.5.3). */
static bool is_noncharacter(const unsigned char *at, size_t n)
{
	if (n == 3 && at[0] == 0xef && at[1] == 0xb7)
		return at[2] >= 0x90 && at[2] <= 0xaf;
	if (n == 3)
		return at[0] == 0xef && at[1] == 0xbf && at[2] >= 0xbe;
	return n == 4 && (at[1] & 0x0f) == 0x0f && at[2] == 0xbf && at[3] >= 0xbe;
}

static const char *wrong(const char *text, size_t most)
{
	if (!*text)
		return "is empty";
	if (strlen(text) > most)
		return most == NAME_BRIDGE_BYTES ? "is longer than 64 octets" : "is longer than 128 octets";
	if (*text == '$')
		return "begins with $, which is the broker's own";
	if (*text == ' ' || text[strlen(text) - 1] == ' ')
		return "begins or ends with a blank";
	for (const char *at = text; *at;) {
		bool shown;
		size_t n = text_next(at, &shown);
		if (!shown || is_noncharacter((const unsigned char *)at, n))
			return "has a character that can't be in a topic";
		if (*at == '+' || *at == '#')
			return "has + or #, which stand for any topic";
		at += n;
	}
	return NULL;
}

const char *name_bridge_wrong(const char *text)
{
	const char *why = wrong(text, NAME_BRIDGE_BYTES);

	if (!why && strchr(text, '/'))
		return "has /, which parts the levels of a topic";
	return why;
}

const char *name_base_wrong(const char *text)
{
	const char *why = wrong(text, NAME_BASE_BYTES);

	if (!why && (*text == '/' || text[strlen(text) - 1] == '/' || strstr(text, "//")))
		return "has an empty level";
	return why;
}

const char *name_topic(const char *base, const char *bridge, enum name_topic topic, char *buffer)
{
	static const char *const last[] = { "reading", "concern", "state", "again" };

	(void)snprintf(buffer, NAME_SIZE, "%s/%s/%s", base, bridge, last[topic]);
	return buffer;
}

/* FNV-1a, 64 bits (draft-eastlake-fnv): no secret is in it, and both names have a limit. */
static uint64_t mix(uint64_t sum, const char *text)
{
	do
		sum = (sum ^ (unsigned char)*text) * UINT64_C(0x100000001b3);
	while (*text++); /* the NUL too, so that where one name ends counts */
	return sum;
}

const char *name_client(const char *base, const char *bridge, char buffer[NAME_CLIENT_SIZE])
{
	uint64_t sum = mix(mix(UINT64_C(0xcbf29ce484222325), base), bridge);

	(void)snprintf(buffer, NAME_CLIENT_SIZE, "bismar%016" PRIx64, sum);
	return buffer;
}
