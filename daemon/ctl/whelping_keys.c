// SPDX-License-Identifier: MIT
#include "daemon/ctl/whelping_keys.h"
#include "daemon/ctl/text.h"
#include "daemon/litter/apgar.h"
#include <string.h>

enum { CTRL_C = 3, CTRL_D = 4, CTRL_H = 8, CTRL_U = 21, ESCAPE = 27, DELETE = 127 };

static void clear(struct whelping_line *line)
{
	line->n = 0;
	line->text[0] = '\0';
}

static bool complete(const struct whelping_line *line, enum whelping_takes takes)
{
	switch (takes) {
	case WHELPING_TEXT:
		return false;
	case WHELPING_KEY:
		return true;
	case WHELPING_DIGITS:
		return line->n == APGAR_ITEMS && strspn(line->text, "0123456789") == APGAR_ITEMS;
	}
	return false;
}

enum whelping_typed whelping_keys_take(struct whelping_line *line, enum whelping_takes takes, char key)
{
	unsigned char octet = (unsigned char)key;

	if (key == '\r' || key == '\n')
		return WHELPING_ANSWER;
	if (octet == CTRL_C || (octet == CTRL_D && line->n == 0))
		return WHELPING_LEAVE;
	if (octet == CTRL_H || octet == DELETE)
		text_backspace(line->text, &line->n);
	if (octet == ESCAPE || octet == CTRL_U)
		clear(line);
	if (octet < ' ' || octet == DELETE || line->n + 1 >= sizeof line->text)
		return WHELPING_MORE;
	line->text[line->n++] = key;
	line->text[line->n] = '\0';
	return complete(line, takes) ? WHELPING_ANSWER : WHELPING_MORE;
}
