// SPDX-License-Identifier: MIT
#pragma once
/*
 * A private bus, the fake org.bluez on it, and the real bismard; one rig a test. All of it lives in one temporary
 * directory and dies with the test, however that ends.
 * Above: the tests. Below: tape.c; dbus-daemon, contrib/scale-sim, bismard, bismar as programs; sqlite3, to read.
 *
 * A call that waits ends when what it waits for has come; one that waits in vain fails the test and prints all that
 * was seen of every program.
 */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>

#include "tape.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/types.h>

#define RIG_ARGS_MAX 16

struct rig {
	struct deck *deck;
	char dir[64];
	char state[96]; /* bismard's --state; exists */
	char socket[96];
	char tz[64];
	pid_t bus, sim, daemon; /* 0: doesn't run */
	struct tape *bus_out, *sim_out, *sim_err, *log;
	int sim_in;
	unsigned clients; /* connected so far */
	size_t n_log;     /* lines of the log that rig_news() has counted */
	const char *config; /* bismard's --config; NULL: /dev/null */
	char config_path[96]; /* rig_configure()'s */
	const char *input; /* standard input of what rig_run_*() runs; NULL: nothing */
	/* called in bismard's process just before it becomes bismard: its environment, its descriptors; or NULL */
	void (*before_daemon)(const struct rig *rig);
};

/* argv of a test program: the paths of bismard, scale-sim and bismar, then what the test itself wants. */
void rig_programs(int argc, char **argv);
/* The test's own argument, from 0 on; "" when there is none. */
const char *rig_argument(int i);

/* cmocka's setup and teardown. All runs after the setup, with a fast radio, an adapter hci0 and no scale, TZ=UTC.
 * The teardown ends bismard by SIGTERM and fails the test when it exits with another status than 0, or when a
 * sanitizer spoke. */
int rig_setup(void **state);
int rig_setup_bare(void **state); /* only the directory: start what you want */
int rig_teardown(void **state);

void rig_start_bus(struct rig *rig);
void rig_stop_bus(struct rig *rig); /* SIGKILL */
void rig_start_sim(struct rig *rig);
/* It has ended, or ends now, because its bus is gone. */
void rig_reap_sim(struct rig *rig);
/* Writes bismard's settings; for the next start, or for rig_reload(). */
void rig_configure(struct rig *rig, const char *text);
/* SIGHUP, and waits until the settings have been read again. */
void rig_reload(struct rig *rig);
/* Waits until it listens. */
void rig_start_daemon(struct rig *rig);
/* Sends a signal, waits for its end, and returns the status of waitpid(). */
int rig_stop_daemon(struct rig *rig, int signal);
/* SIGKILL, which must be what ended it. */
void rig_kill_daemon(struct rig *rig);

struct rig_ran {
	int status;     /* exit status; -1: killed by a signal */
	char out[8192]; /* standard output */
	char err[8192]; /* standard error */
};
/* Runs a bismard, or bismar with --socket and --database of this rig, to its end. args ends with NULL. */
void rig_run_daemon(struct rig *rig, const char *const args[], struct rig_ran *ret);
void rig_run_ctl(struct rig *rig, const char *const args[], struct rig_ran *ret);

/* A further program beside bismard. */
struct rig_program {
	pid_t pid;
	struct tape *out, *err;
};
/* Starts it; argv ends with NULL. Its standard input is at its end. */
void rig_begin(struct rig *rig, const char *name, const char *const argv[], struct rig_program *ret);
/* Waits for a line of its standard error with these words in it, from the ones not found yet on. */
const char *rig_heard(struct rig_program *program, const char *words);
/* Sends a signal (0: none), waits for its end, and returns the status of waitpid(); fails the test when a sanitizer spoke. */
int rig_end(struct rig *rig, struct rig_program *program, int signal);

/* Sends a command to the fake bluetoothd; an "error" fails the test. Returns what follows "ok COMMAND ". */
__attribute__((format(printf, 2, 3))) const char *rig_sim(struct rig *rig, const char *format, ...);
/* Sends it without waiting for the answer; rig_sim_answer() has it later. */
__attribute__((format(printf, 2, 3))) void rig_sim_send(struct rig *rig, const char *format, ...);
const char *rig_sim_answer(struct rig *rig);
/* Waits for the next event that begins so ("connect AA:..."), and returns it. Events before it stay to be waited for.
 */
const char *rig_event(struct rig *rig, const char *begin);
/* How many such events have come and were not waited for. */
size_t rig_events(struct rig *rig, const char *begin);
/* Waits for a line of bismard's log with these words in it; each line is found once. */
const char *rig_log(struct rig *rig, const char *words);
/* How many such lines have come, and were not waited for. */
size_t rig_logged(struct rig *rig, const char *words);
/* How many lines it has logged since the last call, or since its start, that are more than debugging. Two equal ones in
 * a row fail the test. What bismard said before it last answered a client counts. */
size_t rig_news(struct rig *rig);

/* First row of a query on the database, read-only: columns with | between them, "" for NULL; "(none)" without a row.
 * The text lasts until the next call. */
__attribute__((format(printf, 2, 3))) const char *rig_row(struct rig *rig, const char *format, ...);
/* Waits until the query's first row is this. */
__attribute__((format(printf, 3, 4))) void rig_await_row(struct rig *rig, const char *row, const char *format, ...);
/* Fails the test unless it is that already. */
__attribute__((format(printf, 3, 4))) void rig_expect_row(struct rig *rig, const char *row, const char *format, ...);
/* Waits until so many frames are in the ledger: bismard has dealt with them. */
void rig_await_frames(struct rig *rig, size_t n);
