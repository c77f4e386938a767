// SPDX-License-Identifier: MIT
#pragma once
/*
 * Having something said: one datagram, one sentence, to the voice (contrib/speak) if it runs. The sender never waits
 * and never learns: who isn't heard has its journal. Above: contrib/keypad (sends), contrib/speak (hears). Below:
 * AF_UNIX, SOCK_DGRAM.
 */
#include <stddef.h>

#define ALOUD_SOCKET "/run/bismar-speak/aloud.sock"
/* Octets of UTF-8; a longer one is cut. */
#define ALOUD_BYTES 256
/* Before a sentence: it takes the place of a question that is being said. */
#define ALOUD_NOW "!"
/* Instead of a sentence: the question once more. */
#define ALOUD_AGAIN "?"

/* A socket to send from; -errno. */
int aloud_open(void);
/* 0, or why it isn't heard: -ENOENT and -ECONNREFUSED without a voice, -EAGAIN when it is busy, ... */
int aloud_send(int fd, const char *path, const char *sentence);
/* The socket that hears, in place of one that is there; mode 0660. -errno. Whoever closes it unlinks path. */
int aloud_listen(const char *path);
/* One datagram of it, NUL-terminated; its length, 0 for an empty one, or -errno (-EAGAIN: none). */
int aloud_receive(int fd, char *buffer, size_t size);
