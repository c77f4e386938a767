// SPDX-License-Identifier: MIT
#pragma once
/*
 * The terminal itself: one key at a time, its size, and giving it back as it was.
 * Above: watch.c. Below: termios(3).
 */
#include <stdbool.h>
#include <stddef.h>

struct terminal; /* one at a time */

/* Single keys, no echo, keys that make signals are keys. 0, or -errno. */
int terminal_new(struct terminal **ret);
/* Back as it was, the cursor below the picture. Takes NULL; returns NULL. */
struct terminal *terminal_free(struct terminal *terminal);
/* The same with the cursor where it is, for what prints line after line. */
struct terminal *terminal_leave(struct terminal *terminal);
/* The next key, as one octet; waits. 0 and *ret_key, or -errno; -EPIPE: nobody types any more. */
int terminal_key(char *ret_key);
/* Drops what was typed ahead. */
void terminal_drop(void);
/* After the process was stopped and goes on: somebody else had the terminal meanwhile. */
void terminal_resume(const struct terminal *terminal);
/* Columns and rows of standard output's terminal; 80 x 24 when it doesn't say. */
void terminal_size(unsigned *ret_width, unsigned *ret_height);
/* Sends octets to standard output, all of them. 0, or -errno. */
int terminal_write(const char *octets, size_t n);
