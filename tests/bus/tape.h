// SPDX-License-Identifier: MIT
#pragma once
/*
 * What comes out of descriptors, by line, with one clock for all: the programs under test talk at the same time, and a
 * wait for one of them reads from each. Above: rig.c, client.c. Below: poll(2). It knows no program and no protocol.
 *
 * A wait ends as soon as its line is there. One that fails prints all that was seen, in the order in which it came.
 */
#include <jansson.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* How long a wait for what must come may take. Only a failing test takes as long. */
#define TAPE_PATIENCE_MS 15000

struct deck;
struct tape;

struct tape_line {
	char *text;
	json_t *json; /* when it is an object or array; or NULL */
	bool taken;
};

typedef bool tape_fits(const struct tape_line *line, const void *wanted);

struct deck *deck_new(void);
/* Takes NULL; returns NULL. Closes the descriptors. */
struct deck *deck_free(struct deck *deck);
/* Puts a line of the test's own between what is seen. */
__attribute__((format(printf, 3, 4))) void deck_note(struct deck *deck, const char *who, const char *format, ...);
/* Prints all that was seen, and ends the test as failed. */
__attribute__((format(printf, 2, 3), noreturn)) void deck_fail(struct deck *deck, const char *format, ...);
void deck_print(const struct deck *deck);
/* Reads from all, for at most so long; returns as soon as something came. 0: reads what is there. */
void deck_turn(struct deck *deck, int timeout_ms);
/* Milliseconds since the deck was made. */
int64_t deck_ms(const struct deck *deck);

/* fd is taken over. The tape is freed with its deck: lines stay readable after the end. */
struct tape *tape_new(struct deck *deck, const char *name, int fd);
void tape_close(struct tape *tape);
int tape_fd(const struct tape *tape);
/* Nothing will come any more. */
bool tape_ended(const struct tape *tape);
/* Whether it is read from; a client that doesn't read is made so. */
void tape_read(struct tape *tape, bool on);
/* The oldest line that fits and wasn't taken: takes it. NULL: not there, and nothing more is waited for. */
const struct tape_line *tape_look(struct tape *tape, tape_fits *fits, const void *wanted);
/* The same, but waits; what says for whom a failure is explained what was waited for. */
const struct tape_line *tape_take(struct tape *tape, tape_fits *fits, const void *wanted, const char *what);
/* Waits until it has ended. */
void tape_await_end(struct tape *tape);
/* How many of those not taken fit. */
size_t tape_count(const struct tape *tape, tape_fits *fits, const void *wanted);
/* Line i from the beginning, whoever took it; NULL: there are no more. */
const struct tape_line *tape_line(const struct tape *tape, size_t i);
