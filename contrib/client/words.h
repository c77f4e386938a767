// SPDX-License-Identifier: MIT
#pragma once
/*
 * What is said aloud, in words. Pure.
 * Above: contrib/speak, contrib/keypad. Below: question.
 *
 * Names and texts come from the socket, so from anybody in its group: what a voice could take for a command, markup or
 * phonemes never gets into a sentence, and a sentence has an end.
 */
#include "contrib/client/question.h"
#include "daemon/weigh/quantity.h"

/* A sentence, octets with the NUL; a longer one is cut at a whole character. */
#define WORDS_SIZE 512

/* Copies text into a buffer of size > 0 octets: control characters, what isn't UTF-8, and the characters by which
 * voices are steered (brackets, &, |, \, ^, ~, *, #, @, ...) become blanks, and of several blanks one is left. */
void words_clean(const char *text, char *buffer, size_t size);
/* "304 grams", to whole grams, halves away from 0: no scale for pups tells more by ear, and decimals aren't kept in
 * mind. "10.7 ounces", to tenths; from 16 on "1 pound 0.3 ounces". */
void words_mass(int64_t mass_mg, enum quantity_unit unit, char *buffer, size_t size);
/* "One, Moss, green." Suggestion n from 0, n < question->n_suggestions. */
void words_suggestion(const struct question *question, size_t n, char *buffer, size_t size);
/* "304 grams. One, Moss, green. Two, Fern, red." weighed_min: the local time of day in minutes at which it was weighed,
 * if that is to be said; else -1. */
void words_question(const struct question *question, int weighed_min, enum quantity_unit unit, char buffer[WORDS_SIZE]);
/* "Moss, 304 grams." */
void words_recorded(const char *name, int64_t net_mg, bool corrected, enum quantity_unit unit, char buffer[WORDS_SIZE]);
/* "Call your vet. Fern: gums dry." Units are spelt out; the name ("" of a whole litter) is left out where the text has
 * it. A level that isn't known here counts as the highest, as everywhere. */
void words_concern(const char *level, const char *name, const char *text, char buffer[WORDS_SIZE]);
