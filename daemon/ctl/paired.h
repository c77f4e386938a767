// SPDX-License-Identifier: MIT
#pragma once
/*
 * Which phones may use the page (contrib/page), and the one-time code by which one comes to be. On disk are SHA-256
 * (FIPS 180-4) of tokens and of the code, never these: a folder of mode 0700 with one file for each phone, phone-ID,
 * and `code` while one is waiting; each JSON, mode 0600, written under another name and renamed. The folder itself is
 * locked (flock(2)) by whoever changes it: `bismar page` and bismar-page. A code has 10^8 values; who reads the folder
 * finds it by trying all, so what protects it is the folder's mode, its ten minutes, and that it serves once. Above:
 * ctl/page.c, contrib/page. Below: libgcrypt, jansson, files.
 */
#include "daemon/limits.h"
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define PAIRED_DIR "/var/lib/bismar-page"
#define PAIRED_CODE_SIZE 9 /* eight digits and the NUL */
#define PAIRED_CODE_MS (INT64_C(10) * 60 * 1000)
#define PAIRED_TRIES 5                              /* so many wrong ones, and the code is void */
#define PAIRED_FOR_MS (INT64_C(180) * 86400 * 1000) /* then it is paired anew; a litter is with us for weeks */
#define PAIRED_PHONES 16
#define PAIRED_TOKEN_SIZE 65 /* 256 random bits in hexadecimal and the NUL */
#define PAIRED_ID_SIZE 9
#define PAIRED_HASH 32

struct paired_phone {
	char id[PAIRED_ID_SIZE];
	char name[LIMIT_NAME_BYTES + 1];
	uint8_t hash[PAIRED_HASH]; /* of its token */
	int64_t since_ms;
};

struct paired {
	struct paired_phone phones[PAIRED_PHONES]; /* by their ids */
	size_t n;
	size_t unreadable; /* files that weren't taken */
};

/*
 * Opens the folder; make: with mkdir(2), mode 0700. 0 and *ret_fd; -ENOENT; -EPERM when it belongs to somebody else
 * (not for root) or others than its owner may enter it; or -errno.
 */
int paired_open(const char *dir, bool make, int *ret_fd);
/* 0 or -errno. More than PAIRED_PHONES are left out, and counted as unreadable. */
int paired_load(int dir_fd, struct paired *ret);
/* The phone of a token at that time, or NULL. */
const struct paired_phone *paired_find(const struct paired *paired, const char *token, int64_t now_ms);

/* A new code instead of any that is waiting. 0 or -errno. */
int paired_new_code(int dir_fd, int64_t now_ms, char ret_code[PAIRED_CODE_SIZE]);

enum paired_outcome {
	PAIRED_DONE = 0,
	PAIRED_NO_CODE,  /* none is waiting, or its time is over; it is gone then */
	PAIRED_BAD_CODE, /* counted; the fifth takes the code away */
	PAIRED_BAD_NAME, /* not counted: empty, over LIMIT_NAME_BYTES, not UTF-8, or with control characters */
	PAIRED_FULL,     /* not counted: PAIRED_PHONES are paired */
};
/* Uses the code up. PAIRED_DONE and *ret_token; or what is wrong; or -errno: -EAGAIN when the folder is locked. */
int paired_redeem(int dir_fd, const char *code, const char *name, int64_t now_ms, char ret_token[PAIRED_TOKEN_SIZE],
		  struct paired_phone *ret_phone);
/* 0; -ENOENT when there is none of that id; -errno. */
int paired_revoke(int dir_fd, const char *id);
