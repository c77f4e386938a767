// SPDX-License-Identifier: MIT
#include "daemon/ctl/html.h"
#include "daemon/ctl/text.h"

static const char *entity(char c)
{
	switch (c) {
	case '&':
		return "&amp;";
	case '<':
		return "&lt;";
	case '>':
		return "&gt;";
	case '"':
		return "&quot;";
	case '\'':
		return "&#39;";
	default:
		return NULL;
	}
}

void html_text(FILE *to, const char *text)
{
	while (*text) {
		bool shown;
		size_t n = text_next(text, &shown);
		const char *instead = shown ? entity(*text) : "?";
		if (instead)
			(void)fputs(instead, to);
		else
			(void)fwrite(text, 1, n, to);
		text += n;
	}
}

void html_element(FILE *to, const char *tag, const char *text)
{
	(void)fprintf(to, "<%s>", tag);
	html_text(to, text);
	(void)fprintf(to, "</%.*s>", (int)strcspn(tag, " "), tag);
}
