// SPDX-License-Identifier: MIT
#pragma once
/*
 * The keys of scales that broadcast encrypted: files that nobody but the daemon's user can read, DIR/keys/SCALE_ID
 * (folder 0700, file 0600), each 32 hexadecimal digits and a newline. Not in the database: a group reads it, and it is
 * copied.
 * Above: the desk. Below: the file system. It decrypts nothing, and logs no key, nor anything else.
 *
 * What it read or wrote is wiped from its own memory before it returns; the key that a caller holds is the caller's to
 * wipe with explicit_bzero().
 */
#include <stddef.h>
#include <stdint.h>

#define KEYS_KEY_SIZE 16

struct keys;

/* Makes state_dir/keys when it isn't there, and closes it to others when it is open to them. state_dir must exist.
 * 0, or -errno (-ENOTDIR: something else is in its place). */
int keys_open(const char *state_dir, struct keys **ret);
/* Takes NULL; returns NULL. */
struct keys *keys_close(struct keys *keys);

/* scale_id: of the store: lower-case letters, digits and hyphens, else -EINVAL. 0; -ENOENT: none is kept; -EBADMSG: the
 * file holds no key; -errno. */
int keys_load(struct keys *keys, const char *scale_id, uint8_t ret[KEYS_KEY_SIZE]);
/* Durable when it returns 0; else -errno. Whatever happens, the whole old key is there or the whole new one. */
int keys_store(struct keys *keys, const char *scale_id, const uint8_t key[KEYS_KEY_SIZE]);
/* 0 also when there was none; -errno. */
int keys_remove(struct keys *keys, const char *scale_id);

enum keys_typed {
	KEYS_TYPED_OK = 0,
	KEYS_TYPED_SHORT,   /* fewer than 32 digits */
	KEYS_TYPED_LONG,    /* more */
	KEYS_TYPED_NOT_HEX, /* something that is neither a digit, nor a space, nor a colon */
};

/* A key as people type it: 32 hexadecimal digits of any case, with spaces and colons wherever they like. */
enum keys_typed keys_parse(const char *text, uint8_t ret[KEYS_KEY_SIZE]);
/* What is wrong and what helps, for people: "a key has 32 hexadecimal digits (0-9, a-f); this has fewer". Static. */
const char *keys_typed_text(enum keys_typed typed);
