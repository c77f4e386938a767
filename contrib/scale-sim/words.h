// SPDX-License-Identifier: MIT
#pragma once
/*
 * Words of a command line, and numbers, octets, addresses and UUIDs in them. Above: script.c, commands.c. Below:
 * nothing. All parsers take whole words only, and write their outputs only on success.
 */
#include "sim.h"

/* Splits line in place at blanks; "double quotes" hold a word with blanks together. Returns the number of words,
 * or -1: more than max, or a quote isn't closed. */
int words_split(char *line, char **words, int max);
/* Decimal, min..max. */
bool words_number(const char *word, int64_t min, int64_t max, int64_t *ret);
/* Pairs of hexadecimal digits, at most size octets; "-" is no octet at all. */
bool words_octets(const char *word, uint8_t *octets, size_t size, size_t *ret_n);
/* "aa:bb:cc:dd:ee:ff" in any case; ret gets upper case. */
bool words_address(const char *word, char ret[static SIM_ADDRESS]);
/* 4 digits (with or without 0x), or all 36 characters; ret gets the long form in lower case. */
bool words_uuid(const char *word, char ret[static SIM_UUID]);
/* The 4 digits of a UUID of the Bluetooth base, else all of it; in buffer. Returns buffer. */
const char *words_short(const char *uuid, char buffer[static SIM_UUID]);
/* "on" or "off". */
bool words_switch(const char *word, bool *ret);
/* Copies what fits; always ends with a NUL. */
void words_copy(char *to, size_t size, const char *from);
