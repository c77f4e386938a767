// SPDX-License-Identifier: MIT
#pragma once
/*
 * Local accounts: /etc/passwd and /etc/group, read as files. Not through the C library's name service: that may ask a
 * directory server and hang the loop, and loads modules that cost more memory than the whole prompt.
 * Above: client.c, listener.c. Below: nothing.
 */
#include <stdbool.h>
#include <stddef.h>
#include <sys/types.h>

/* The local user's name, when there is one and it fits. */
bool accounts_user(uid_t uid, char *ret_name, size_t size);
/* The local group of that name. */
bool accounts_group(const char *name, gid_t *ret_gid);
