// SPDX-License-Identifier: MIT
#include "daemon/desk/names.h"
#include "daemon/limits.h"
#include "daemon/prompt/rpc.h"
#include <stdbool.h>
#include <strings.h>

static bool reserved(const char *text)
{
	return strcmp(text, "-") == 0 || strcmp(text, "?") == 0 || strcasecmp(text, "text") == 0 || *text == '{' ||
	       *text == '[' || strchr(text, '/');
}

static bool printable(const char *text)
{
	for (const unsigned char *c = (const unsigned char *)text; *c; c++)
		if (*c < ' ' || *c == 0x7f)
			return false;
	return true;
}

int name_check_text(const char *text, const char *what, struct rpc_refusal *refusal)
{
	size_t n = strlen(text);

	if (n == 0)
		return rpc_refuse(refusal, "bad-value", "Give at least one letter.", "the %s is empty", what);
	if (n > LIMIT_NAME_BYTES)
		return rpc_refuse(refusal, "bad-value", "Use at most 64 octets.", "the %s is too long", what);
	if (!printable(text) || text[0] == ' ' || text[n - 1] == ' ')
		return rpc_refuse(refusal, "bad-value", "Use letters and digits, with no blank at either end.",
				  "the %s has control characters, or a blank at an end", what);
	return 0;
}

int name_check(const char *text, const char *what, struct rpc_refusal *refusal)
{
	int r = name_check_text(text, what, refusal);

	if (r == 0 && reserved(text))
		return rpc_refuse(refusal, "bad-value", "\"-\", \"?\", \"text\", \"/\" and a leading { or [ have a meaning of "
				  "their own on the socket.", "\"%s\" can't be a %s", text, what);
	return r;
}
