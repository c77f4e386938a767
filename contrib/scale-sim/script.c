// SPDX-License-Identifier: MIT
#include "script.h"
#include "chr.h"
#include "commands.h"
#include "model.h"
#include "say.h"
#include "words.h"
#include <errno.h>
#include <unistd.h>

bool script_wants_input(const struct script *script)
{
	return !script->ended && script->n < sizeof(script->buffer);
}

bool script_over(const struct script *script)
{
	return script->ended && !script->n && !script->waiting;
}

void script_read(struct script *script)
{
	ssize_t got = read(STDIN_FILENO, script->buffer + script->n, sizeof(script->buffer) - script->n);

	if (got > 0) {
		script->n += (size_t)got;
		return;
	}
	if (got < 0 && (errno == EINTR || errno == EAGAIN))
		return;
	script->ended = true;
	/* A last line without its end counts; there's room, or nobody would have read. */
	if (script->n && script->buffer[script->n - 1] != '\n')
		script->buffer[script->n++] = '\n';
}

static bool client_there(struct sim *sim, const char *address)
{
	for (struct peer *p = sim->peers; p; p = p->next)
		if (p->link && chr_live(p->link) && (!*address || !strcmp(address, p->address)))
			return true;
	return false;
}

static void start_waiting(struct script *script, int n, char **words)
{
	int64_t ms = 0;

	script->waiting = true;
	words_copy(script->command, sizeof(script->command), words[0]);
	*script->address = '\0';
	script->until_ms = SIM_NEVER;
	if (!strcmp(words[0], "pause") && words_number(words[1], 0, INT64_MAX, &ms))
		script->until_ms = model_now_ms() + ms;
	else if (n > 1)
		(void)words_address(words[1], script->address); /* commands_run() has seen that it is one */
}

static void run_line(struct script *script, struct sim *sim, char *line)
{
	char *words[COMMANDS_WORDS], text[COMMANDS_TEXT];
	int n = words_split(line, words, COMMANDS_WORDS);

	if (n < 0) {
		say_error("too many words, or an open quote");
		return;
	}
	if (!n || words[0][0] == '#')
		return; /* an empty line or a comment has no answer */
	switch (commands_run(sim, n, words, text)) {
	case COMMAND_DONE:
		say_ok(words[0], text);
		break;
	case COMMAND_ERROR:
		say_error(text);
		break;
	case COMMAND_WAIT:
		start_waiting(script, n, words);
		break;
	}
}

static bool check_waiting(struct script *script, struct sim *sim)
{
	if (script->until_ms == SIM_NEVER ? !client_there(sim, script->address) : model_now_ms() < script->until_ms)
		return false;
	script->waiting = false;
	say_ok(script->command, "");
	return true;
}

/* Takes the first line out of the buffer; false: there's none yet. */
static bool take_line(struct script *script, char line[static SCRIPT_LINE])
{
	char *end = memchr(script->buffer, '\n', script->n);

	if (!end && script->n == sizeof(script->buffer)) {
		if (!script->skipping)
			say_error("the line is too long");
		script->skipping = true;
		script->n = 0;
	}
	if (!end)
		return false;
	size_t length = (size_t)(end - script->buffer);
	memcpy(line, script->buffer, length);
	/* A NUL octet would hide the rest of its line. */
	line[length] = '\0';
	script->n -= length + 1;
	memmove(script->buffer, end + 1, script->n);
	if (length && line[length - 1] == '\r')
		line[length - 1] = '\0';
	if (script->skipping)
		*line = '\0';
	script->skipping = false;
	return true;
}

bool script_run(struct script *script, struct sim *sim)
{
	char line[SCRIPT_LINE];
	bool ran = script->waiting && check_waiting(script, sim);

	while (!script->waiting && !sim->quit && take_line(script, line)) {
		run_line(script, sim, line);
		ran = true;
	}
	return ran;
}
