// SPDX-License-Identifier: MIT
#include "daemon/ctl/watch_keys.h"
#include "daemon/ctl/text.h"

#define ESC 0x1b

/* ESC [ parameters final, ESC O final (ECMA-48, 5.4; what VT100 keypads send): its length. */
static size_t sequence(const char *octets, size_t n)
{
	size_t at = 2;

	if (octets[1] == 'O')
		return n > 2 ? 3 : 2;
	if (octets[1] != '[')
		return 2; /* Alt and a key */
	while (at < n && (octets[at] < 0x40 || octets[at] > 0x7e))
		at++;
	return at < n ? at + 1 : n;
}

static enum watch_key_kind control(char c)
{
	switch (c) {
	case '\r':
	case '\n':
		return WATCH_KEY_ENTER;
	case 0x15: /* Ctrl-U */
		return WATCH_KEY_ESCAPE;
	case '\b':
	case 0x7f:
		return WATCH_KEY_BACKSPACE;
	case '\t':
		return WATCH_KEY_TAB;
	case 0x03: /* Ctrl-C */
	case 0x04: /* Ctrl-D */
		return WATCH_KEY_LEAVE;
	case 0x0c: /* Ctrl-L */
		return WATCH_KEY_REDRAW;
	default:
		return WATCH_KEY_OTHER;
	}
}

size_t watch_keys_next(const char *octets, size_t n, struct watch_key *ret)
{
	char piece[8] = "";
	size_t length;

	*ret = (struct watch_key){ .kind = WATCH_KEY_OTHER };
	if (octets[0] == ESC) {
		if (n == 1 || octets[1] == ESC) {
			ret->kind = WATCH_KEY_ESCAPE;
			return 1;
		}
		return sequence(octets, n);
	}
	if ((unsigned char)octets[0] < 0x20 || octets[0] == 0x7f) {
		ret->kind = control(octets[0]);
		return 1;
	}
	memcpy(piece, octets, n < 4 ? n : 4);
	length = (unsigned char)octets[0] < 0x80   ? 1
		 : (unsigned char)octets[0] < 0xe0 ? 2
		 : (unsigned char)octets[0] < 0xf0 ? 3
						   : 4;
	piece[length] = '\0';
	if (strlen(piece) != length || !text_valid(piece))
		return 1; /* malformed, or cut: an octet of no use */
	ret->kind = WATCH_KEY_TEXT;
	memcpy(ret->text, piece, sizeof ret->text);
	return length;
}
