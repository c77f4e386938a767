// SPDX-License-Identifier: MIT
#include "contrib/client/words.h"
#include "daemon/ctl/level.h"
#include "daemon/ctl/text.h"
#include <ctype.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

/* Whether the character of n octets, which text_next() would show, may be in a sentence: of ASCII what isn't a command
 * to any voice, and beyond it no joiner that has no sound (U+200B to U+200D, U+2060 to U+206F) or byte order mark
 * (U+FEFF). */
static bool is_sayable(const unsigned char *at, size_t n)
{
	if (n == 1)
		return isalnum(*at) || strchr(" .,;:!?'-+%/()", *at);
	if (n == 3 && at[0] == 0xe2 && at[1] == 0x80)
		return at[2] < 0x8b || at[2] > 0x8d;
	if (n == 3 && at[0] == 0xe2 && at[1] == 0x81)
		return at[2] < 0xa0 || at[2] > 0xaf;
	return !(n == 3 && at[0] == 0xef && at[1] == 0xbb && at[2] == 0xbf);
}

void words_clean(const char *text, char *buffer, size_t size)
{
	size_t n = 0;
	bool blank = false;

	while (*text) {
		bool shown;
		size_t step = text_next(text, &shown);
		bool fine = shown && *text != ' ' && is_sayable((const unsigned char *)text, step);
		if (fine) {
			if (n + (blank && n) + step >= size)
				break;
			if (blank && n)
				buffer[n++] = ' ';
			memcpy(buffer + n, text, step);
			n += step;
		}
		blank = !fine;
		text += step;
	}
	buffer[n] = '\0';
}

/* A sentence under construction; it ends where something doesn't fit. */
struct sentence {
	char *at;
	size_t size, n;
};

__attribute__((format(printf, 2, 3))) static void add(struct sentence *sentence, const char *format, ...)
{
	size_t before = sentence->n;
	char piece[WORDS_SIZE];
	va_list args;

	va_start(args, format);
	(void)vsnprintf(piece, sizeof piece, format, args);
	va_end(args);
	text_copy(sentence->at + sentence->n, sentence->size - sentence->n, piece);
	sentence->n += strlen(sentence->at + sentence->n);
	if (strlen(piece) > strlen(sentence->at + before))
		sentence->size = sentence->n + 1;
}

static struct sentence begin(char *buffer, size_t size)
{
	*buffer = '\0';
	return (struct sentence){ buffer, size, 0 };
}

/* Tenths of an ounce, halves away from 0. */
static void say_ounces(int64_t mass_mg, char *buffer, size_t size)
{
	bool below = mass_mg < 0;
	/* an ounce is 28.349523125 g exactly (international pound, 1959); doubles are exact far beyond what is weighed
	 */
	long long tenths = (long long)((double)(below ? -mass_mg : mass_mg) / 2834.9523125 + 0.5),
		  pounds = tenths / 160;
	const char *sign = below && tenths ? "-" : "";

	if (pounds == 0)
		(void)snprintf(buffer, size, "%s%lld.%lld ounces", sign, tenths / 10, tenths % 10);
	else
		(void)snprintf(buffer, size, "%s%lld pound%s %lld.%lld ounces", sign, pounds, pounds > 1 ? "s" : "",
			       tenths % 160 / 10, tenths % 10);
}

void words_mass(int64_t mass_mg, enum quantity_unit unit, char *buffer, size_t size)
{
	long long grams = (mass_mg + (mass_mg < 0 ? -500 : 500)) / 1000;

	if (unit == QUANTITY_OUNCES) {
		say_ounces(mass_mg, buffer, size);
		return;
	}
	(void)snprintf(buffer, size, "%lld gram%s", grams, grams == 1 || grams == -1 ? "" : "s");
}

void words_suggestion(const struct question *question, size_t n, char *buffer, size_t size)
{
	static const char *const numbers[LIMIT_CANDIDATES] = { "One",   "Two",   "Three", "Four", "Five",   "Six",
							       "Seven", "Eight", "Nine",  "Ten",  "Eleven", "Twelve" };
	const struct question_suggestion *suggestion = &question->suggestions[n];
	char name[QUESTION_NAME_SIZE], collar[QUESTION_NAME_SIZE];

	words_clean(suggestion->name, name, sizeof name);
	words_clean(suggestion->collar, collar, sizeof collar);
	(void)snprintf(buffer, size, "%s, %s%s%s.", numbers[n], name, *collar ? ", " : "", collar);
}

void words_question(const struct question *question, int weighed_min, enum quantity_unit unit, char buffer[WORDS_SIZE])
{
	struct sentence sentence = begin(buffer, WORDS_SIZE);
	size_t n = question_named(question);
	char piece[WORDS_SIZE];

	if (weighed_min >= 0)
		add(&sentence, "Weighed at %d:%02d. ", weighed_min / 60, weighed_min % 60);
	words_mass(question->net_mg, unit, piece, sizeof piece);
	add(&sentence, "%s%s.", piece, question->restless ? ", restless" : "");
	for (size_t i = 0; i < n; i++) {
		words_suggestion(question, i, piece, sizeof piece);
		add(&sentence, " %s", piece);
	}
	if (n == 0)
		add(&sentence, " Which pup is it?");
	if (question->whelping)
		add(&sentence, " Or a new pup.");
}

void words_recorded(const char *name, int64_t net_mg, bool corrected, enum quantity_unit unit, char buffer[WORDS_SIZE])
{
	struct sentence sentence = begin(buffer, WORDS_SIZE);
	char who[QUESTION_NAME_SIZE], mass[64];

	words_clean(name, who, sizeof who);
	words_mass(net_mg, unit, mass, sizeof mass);
	add(&sentence, "%s%s, %s.", corrected ? "Corrected: " : "", who, mass);
}

/* The unit at text as a word, and how long it is there; NULL: none. */
static const char *unit_at(const char *text, size_t *ret_n)
{
	static const struct {
		const char *unit, *word;
	} units[] = { { "g", "grams" }, { "kg", "kilograms" }, { "mL", "millilitres" }, { "h", "hours" } };

	for (size_t i = 0; i < sizeof units / sizeof *units; i++) {
		size_t n = strlen(units[i].unit);
		if (strncmp(text, units[i].unit, n) == 0 && !isalnum((unsigned char)text[n])) {
			*ret_n = n;
			return units[i].word;
		}
	}
	return NULL;
}

/* "12 g" becomes "12 grams". */
static void add_spelt(struct sentence *sentence, const char *text)
{
	for (const char *at = text; *at;) {
		bool shown;
		size_t n;
		bool after = at - text >= 2 && at[-1] == ' ' && isdigit((unsigned char)at[-2]);
		const char *word = after ? unit_at(at, &n) : NULL;
		if (word) {
			add(sentence, "%s", word);
		} else {
			n = text_next(at, &shown); /* it was cleaned */
			add(sentence, "%.*s", (int)n, at);
		}
		at += n;
	}
}

void words_concern(const char *level, const char *name, const char *text, char buffer[WORDS_SIZE])
{
	static const char *const before[LEVEL_RANKS] = { "Call your vet. ", "Today: ", "" };
	struct sentence sentence = begin(buffer, WORDS_SIZE);
	char clean[WORDS_SIZE], who[QUESTION_NAME_SIZE];

	words_clean(text, clean, sizeof clean);
	words_clean(name, who, sizeof who);
	add(&sentence, "%s", before[level_rank(level)]);
	if (!strstr(clean, who)) /* never of "" */
		add(&sentence, "%s: ", who);
	add_spelt(&sentence, clean);
}
