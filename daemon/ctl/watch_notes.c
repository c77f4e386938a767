// SPDX-License-Identifier: MIT
#include "daemon/ctl/watch_notes.h"
#include <stdarg.h>

void watch_notes_say(struct watch_board *board, bool bad, const char *format, ...)
{
	va_list list;

	va_start(list, format);
	(void)vsnprintf(board->message, sizeof board->message, format, list);
	va_end(list);
	board->message_bad = bad;
}

void watch_notes_drop(struct watch_board *board, const char *what, const char *whom)
{
	char about[sizeof board->notes[0].about];

	(void)snprintf(about, sizeof about, "%s %s", what, whom);
	for (size_t i = board->n_notes; i-- > 0;)
		if (strcmp(board->notes[i].about, about) == 0)
			watch_board_cut(board->notes, sizeof *board->notes, &board->n_notes, i);
}

void watch_notes_add(struct watch_board *board, const char *what, const char *whom, const char *text, int64_t now_ms)
{
	struct watch_note *note = board->notes;

	watch_notes_drop(board, what, whom);
	if (board->n_notes == WATCH_NOTES)
		board->n_notes--;
	memmove(note + 1, note, board->n_notes * sizeof *note);
	*note = (struct watch_note){ .at_ms = now_ms };
	(void)snprintf(note->about, sizeof note->about, "%s %s", what, whom);
	WATCH_COPY(note->text, text);
	board->n_notes++;
}
