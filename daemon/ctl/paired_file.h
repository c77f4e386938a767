// SPDX-License-Identifier: MIT
#pragma once
/*
 * Small JSON files in a folder that two users may write to (root, for its owner): whole or not at all, never followed
 * through a link, owned by the folder's owner.
 * Above: paired.c. Below: files.
 */
#include <jansson.h>
#include <stdbool.h>
#include <stdint.h>

/* A new reference; NULL when there is none, or it isn't a JSON object of a few hundred octets. */
json_t *paired_file_read(int dir_fd, const char *name);
/* Mode 0600, synced. 0 or -errno. object is borrowed. */
int paired_file_write(int dir_fd, const char *name, const json_t *object);
/* 0, or -errno: -ENOENT. */
int paired_file_remove(int dir_fd, const char *name);
/* flock(2) on the folder; wait: for as long as it takes, else -EAGAIN. Unlocking can't fail. */
int paired_file_lock(int dir_fd, bool wait);
void paired_file_unlock(int dir_fd);
