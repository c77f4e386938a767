// SPDX-License-Identifier: MIT
#pragma once
/*
 * Tells when a device may have come: something has appeared, or may be opened now, in a folder of its path.
 * Above: input.c. Below: inotify(7), sd-event. It opens no device.
 *
 * All folders up to the root are watched, since /dev/input/by-id, and /dev/input itself, come with the first device.
 */
#include <systemd/sd-event.h>

struct seek;

/* path is a device, or a file in the folder where it will be. told is called at any such change, whether the device is
 * there or not. 0, -ENOMEM, or what inotify and sd-event return. */
int seek_new(struct seek **ret, sd_event *event, const char *path, void (*told)(void *user), void *user);
struct seek *seek_free(struct seek *seek); /* takes NULL, returns NULL */
