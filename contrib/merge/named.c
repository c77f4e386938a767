// SPDX-License-Identifier: MIT
#include "contrib/merge/named.h"
#include "daemon/ctl/text.h"
#include <string.h>

bool named_good(const char *name, const char **ret_why)
{
	if (!*name || strlen(name) > NAMED_MAX) {
		*ret_why = "it has 1 to 64 octets";
		return false;
	}
	if (strpbrk(name, "/+#")) {
		*ret_why = "it has no /, + or # (it is a level of an MQTT topic too)";
		return false;
	}
	for (const char *at = name; *at;) {
		bool shown;
		at += text_next(at, &shown);
		if (!shown) {
			*ret_why = "it has no control characters and is UTF-8";
			return false;
		}
	}
	return true;
}
