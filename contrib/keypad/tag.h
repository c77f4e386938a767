// SPDX-License-Identifier: MIT
#pragma once
/*
 * A reader of tags that types: the code and Enter, in one go. Pure.
 * Above: pad.c. Below: nothing but the kernel's key codes. US layout, as such readers have it from the factory.
 */
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Longest code, octets: LIMIT_NAME_BYTES, since it is an alias. */
#define TAG_SIZE 65
/* A reader types within this from key to key; after a longer pause another code begins. Our judgement. */
#define TAG_GAP_MS 1000
/* A tag that is read again and again while the pup lies there was read once. Our judgement. */
#define TAG_AGAIN_MS 10000

enum tag_outcome {
	TAG_NONE,  /* not yet, or nothing */
	TAG_CODE,  /* tag->code */
	TAG_AGAIN, /* the same code as just before */
	TAG_UNFIT, /* longer than a code is, or a key that no code has */
};

struct tag {
	char code[TAG_SIZE], before[TAG_SIZE]; /* NUL-terminated */
	size_t n;
	bool shift, unfit;
	int64_t at_ms, before_ms; /* of the newest key; of the newest code */
};

void tag_clear(struct tag *tag);
/* The newest code answered nothing: reading it again isn't a repeat. */
void tag_forget(struct tag *tag);
/* value as in struct input_event. tag->code lasts until the next call. */
enum tag_outcome tag_event(struct tag *tag, unsigned code, int value, int64_t at_ms);
