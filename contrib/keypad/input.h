// SPDX-License-Identifier: MIT
#pragma once
/*
 * The keys of one device, also when it is plugged in later, or again. The device is grabbed: what is typed there goes
 * nowhere else (a digit would land in a login's password as well).
 * Above: pad.c. Below: seek.c, libevdev, sd-event.
 */
#include <stdbool.h>
#include <stdint.h>
#include <systemd/sd-event.h>

struct input;

struct input_choice {
	const char *path; /* the device; NULL: by its name */
	const char *name; /* as the kernel has it (EVIOCGNAME) */
	bool replay;      /* path is a FIFO of struct input_event records, as a device gives them when read */
};

struct input_calls {
	/* It is there; name is from outside. */
	void (*here)(void *user, const char *path, const char *name);
	/* A key: code and value as in struct input_event, on CLOCK_MONOTONIC, or on the recording's clock. */
	void (*key)(void *user, unsigned code, int value, int64_t at_ms);
	/* Events were lost: what is held isn't known. */
	void (*lost)(void *user);
	/* It has gone, or can't be had (once); it is waited for. say tells people. */
	void (*gone)(void *user, const char *say);
};

/* All is copied but user. If it is there it is taken at once, and calls->here called. 0 or -errno: nothing was begun.
 */
int input_new(struct input **ret, sd_event *event, const struct input_choice *choice, const struct input_calls *calls,
	      void *user);
struct input *input_free(struct input *input); /* takes NULL, returns NULL */

/* Prints the devices with keys to standard output, path and name, those under names that stay first. How many. */
unsigned input_list(void);
