// SPDX-License-Identifier: MIT
#include "tape.h"
#include <errno.h>
#include <poll.h>
#include <setjmp.h>
#include <unistd.h>
#include <cmocka.h>

#define SHOWN 600 /* octets of a line that are shown */

struct tape {
	struct deck *deck;
	char name[32];
	int fd; /* -1: closed */
	bool off, ended;
	char *part; /* the line that hasn't ended */
	size_t n_part, room_part;
	struct tape_line *lines;
	size_t n, room, first; /* all before first are taken */
};

struct deck {
	int64_t began_ms;
	struct tape **tapes;
	struct pollfd *fds; /* room for as many */
	size_t n, room;
	char *seen;
	size_t n_seen;
	FILE *seen_stream;
};

static int64_t now_ms(void)
{
	struct timespec now;

	(void)clock_gettime(CLOCK_MONOTONIC, &now);
	return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

/* The test can't go on without memory. */
static void *grow(void *old, size_t n, size_t size)
{
	void *new = reallocarray(old, n, size);

	if (!new)
		abort();
	return new;
}

struct deck *deck_new(void)
{
	struct deck *deck = grow(NULL, 1, sizeof *deck);

	*deck = (struct deck){ .began_ms = now_ms() };
	deck->seen_stream = open_memstream(&deck->seen, &deck->n_seen);
	if (!deck->seen_stream)
		abort();
	return deck;
}

static void tape_free(struct tape *tape)
{
	for (size_t i = 0; i < tape->n; i++) {
		free(tape->lines[i].text);
		json_decref(tape->lines[i].json);
	}
	tape_close(tape);
	free(tape->lines);
	free(tape->part);
	free(tape);
}

struct deck *deck_free(struct deck *deck)
{
	if (!deck)
		return NULL;
	for (size_t i = 0; i < deck->n; i++)
		tape_free(deck->tapes[i]);
	free(deck->tapes);
	free(deck->fds);
	(void)fclose(deck->seen_stream);
	free(deck->seen);
	free(deck);
	return NULL;
}

int64_t deck_ms(const struct deck *deck)
{
	return now_ms() - deck->began_ms;
}

static void see(struct deck *deck, const char *who, const char *text)
{
	(void)fprintf(deck->seen_stream, "%8.3f %-10s %.*s%s\n", (double)deck_ms(deck) / 1000, who, SHOWN, text,
		      strlen(text) > SHOWN ? "..." : "");
}

void deck_note(struct deck *deck, const char *who, const char *format, ...)
{
	char text[1024];
	va_list list;

	va_start(list, format);
	(void)vsnprintf(text, sizeof text, format, list);
	va_end(list);
	see(deck, who, text);
}

void deck_print(const struct deck *deck)
{
	(void)fflush(deck->seen_stream);
	(void)fprintf(stderr, "---- seen ----\n%s---- end ----\n", deck->seen);
}

void deck_fail(struct deck *deck, const char *format, ...)
{
	char text[1024];
	va_list list;

	va_start(list, format);
	(void)vsnprintf(text, sizeof text, format, list);
	va_end(list);
	deck_turn(deck, 0);
	deck_print(deck);
	fail_msg("%s", text);
	abort(); /* fail_msg doesn't return */
}

/* ---- tapes ---- */

struct tape *tape_new(struct deck *deck, const char *name, int fd)
{
	struct tape *tape = grow(NULL, 1, sizeof *tape);

	if (deck->n == deck->room) {
		deck->room = deck->room ? deck->room * 2 : 16;
		deck->tapes = grow(deck->tapes, deck->room, sizeof *deck->tapes);
		deck->fds = grow(deck->fds, deck->room, sizeof *deck->fds);
	}
	*tape = (struct tape){ .deck = deck, .fd = fd };
	(void)snprintf(tape->name, sizeof tape->name, "%s", name);
	deck->tapes[deck->n++] = tape;
	return tape;
}

void tape_close(struct tape *tape)
{
	if (tape->fd >= 0)
		(void)close(tape->fd);
	tape->fd = -1;
	tape->ended = true;
}

int tape_fd(const struct tape *tape)
{
	return tape->fd;
}

bool tape_ended(const struct tape *tape)
{
	return tape->ended;
}

void tape_read(struct tape *tape, bool on)
{
	tape->off = !on;
}

static void add_line(struct tape *tape, const char *octets, size_t n)
{
	struct tape_line line = { .text = grow(NULL, n + 1, 1) };

	memcpy(line.text, octets, n);
	line.text[n] = '\0';
	if (*line.text == '{' || *line.text == '[')
		line.json = json_loads(line.text, 0, NULL);
	if (tape->n == tape->room) {
		tape->room = tape->room ? tape->room * 2 : 16;
		tape->lines = grow(tape->lines, tape->room, sizeof *tape->lines);
	}
	tape->lines[tape->n++] = line;
	see(tape->deck, tape->name, line.text);
}

static void add_octets(struct tape *tape, const char *octets, size_t n)
{
	size_t from = 0;

	if (tape->room_part - tape->n_part < n) {
		tape->room_part = (tape->n_part + n) * 2;
		tape->part = grow(tape->part, tape->room_part, 1);
	}
	memcpy(tape->part + tape->n_part, octets, n);
	tape->n_part += n;
	for (char *end; (end = memchr(tape->part + from, '\n', tape->n_part - from));
	     from = (size_t)(end - tape->part) + 1)
		add_line(tape, tape->part + from, (size_t)(end - tape->part) - from);
	tape->n_part -= from;
	memmove(tape->part, tape->part + from, tape->n_part);
}

static void read_some(struct tape *tape)
{
	char chunk[65536];
	ssize_t n = read(tape->fd, chunk, sizeof chunk);

	if (n < 0 && (errno == EAGAIN || errno == EINTR))
		return;
	if (n > 0) {
		add_octets(tape, chunk, (size_t)n);
		return;
	}
	if (tape->n_part)
		add_line(tape, tape->part, tape->n_part);
	tape->n_part = 0;
	see(tape->deck, tape->name, "(end)");
	tape_close(tape);
}

static bool is_read(const struct tape *tape)
{
	return tape->fd >= 0 && !tape->off;
}

/* Those that have ended aren't handed to poll(): it takes no more than there may be descriptors. */
void deck_turn(struct deck *deck, int timeout_ms)
{
	size_t n = 0;

	for (size_t i = 0; i < deck->n; i++)
		if (is_read(deck->tapes[i]))
			deck->fds[n++] = (struct pollfd){ .fd = deck->tapes[i]->fd, .events = POLLIN };
	if (poll(deck->fds, n, timeout_ms) <= 0)
		return;
	n = 0;
	for (size_t i = 0; i < deck->n; i++)
		if (is_read(deck->tapes[i]) && deck->fds[n++].revents)
			read_some(deck->tapes[i]);
}

const struct tape_line *tape_look(struct tape *tape, tape_fits *fits, const void *wanted)
{
	while (tape->first < tape->n && tape->lines[tape->first].taken)
		tape->first++;
	for (size_t i = tape->first; i < tape->n; i++) {
		if (tape->lines[i].taken || !fits(&tape->lines[i], wanted))
			continue;
		tape->lines[i].taken = true;
		return &tape->lines[i];
	}
	return NULL;
}

const struct tape_line *tape_take(struct tape *tape, tape_fits *fits, const void *wanted, const char *what)
{
	int64_t until_ms = now_ms() + TAPE_PATIENCE_MS;

	for (;;) {
		const struct tape_line *line = tape_look(tape, fits, wanted);
		int64_t left_ms = until_ms - now_ms();
		if (line)
			return line;
		if (tape->ended)
			deck_fail(tape->deck, "%s ended, and %s never came", tape->name, what);
		if (left_ms <= 0)
			deck_fail(tape->deck, "%s: waited in vain for %s", tape->name, what);
		deck_turn(tape->deck, (int)left_ms);
	}
}

void tape_await_end(struct tape *tape)
{
	int64_t until_ms = now_ms() + TAPE_PATIENCE_MS;

	while (!tape->ended) {
		int64_t left_ms = until_ms - now_ms();
		if (left_ms <= 0)
			deck_fail(tape->deck, "%s: waited in vain for its end", tape->name);
		deck_turn(tape->deck, (int)left_ms);
	}
}

size_t tape_count(const struct tape *tape, tape_fits *fits, const void *wanted)
{
	size_t n = 0;

	for (size_t i = tape->first; i < tape->n; i++)
		n += !tape->lines[i].taken && fits(&tape->lines[i], wanted);
	return n;
}

const struct tape_line *tape_line(const struct tape *tape, size_t i)
{
	return i < tape->n ? &tape->lines[i] : NULL;
}
