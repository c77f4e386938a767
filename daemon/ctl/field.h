// SPDX-License-Identifier: MIT
#pragma once
/*
 * Members of JSON objects, as they come from the socket: absent, null and of the wrong type are all "not there".
 * Above: everything that reads an answer. Below: jansson.
 */
#include <jansson.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

/* The member's text, borrowed; "" when it isn't there. */
const char *field_text(const json_t *object, const char *key);
/* Copies it, cut at a whole character. */
void field_copy(const json_t *object, const char *key, char *buffer, size_t size);
/* A number of grams, as milligrams. */
bool field_mg(const json_t *object, const char *key, int64_t *ret_mg);
bool field_number(const json_t *object, const char *key, double *ret);
bool field_whole(const json_t *object, const char *key, int64_t *ret);
/* RFC 3339, as ms. */
bool field_time(const json_t *object, const char *key, int64_t *ret_ms);
bool field_true(const json_t *object, const char *key);

/* Puts text at key; NULL puts nothing. 0, or -ENOMEM. */
int field_put(json_t *object, const char *key, const char *text);
/* A time in local time with its offset. */
int field_put_time(json_t *object, const char *key, int64_t ms);
/* One object on one line, without line end; a failure stays in the stream's error flag. */
void field_write(FILE *to, const json_t *object);
/* One object on a line of standard output. */
void field_print(const json_t *object);
