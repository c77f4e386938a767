// SPDX-License-Identifier: MIT
#include "daemon/ctl/import_layout.h"
#include "daemon/ctl/text.h"
#include <ctype.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

/* The names that people give to columns, in small letters, with one blank for whatever stands between words. */
static const struct {
	enum import_kind kind;
	const char *word;
} words[] = {
	{ IMPORT_DATE, "date" },
	{ IMPORT_DATE, "day" },
	{ IMPORT_DATE, "when" },
	{ IMPORT_DATE, "date time" },
	{ IMPORT_DATE, "date and time" },
	{ IMPORT_DATE, "datetime" },
	{ IMPORT_DATE, "timestamp" },
	{ IMPORT_DATE, "at" },
	{ IMPORT_DATE, "weighed" },
	{ IMPORT_DATE, "weighed at" },
	{ IMPORT_DATE, "weighed on" },
	{ IMPORT_TIME, "time" },
	{ IMPORT_TIME, "hour" },
	{ IMPORT_TIME, "clock" },
	{ IMPORT_TIME, "time of day" },
	{ IMPORT_LITTER, "litter" },
	{ IMPORT_ANIMAL, "animal" },
	{ IMPORT_ANIMAL, "pup" },
	{ IMPORT_ANIMAL, "puppy" },
	{ IMPORT_ANIMAL, "dog" },
	{ IMPORT_ANIMAL, "name" },
	{ IMPORT_COLLAR, "collar" },
	{ IMPORT_COLLAR, "ribbon" },
	{ IMPORT_COLLAR, "band" },
	{ IMPORT_COLLAR, "colour" },
	{ IMPORT_COLLAR, "color" },
	{ IMPORT_COLLAR, "collar colour" },
	{ IMPORT_COLLAR, "collar color" },
	{ IMPORT_MASS, "weight" },
	{ IMPORT_MASS, "mass" },
	{ IMPORT_MASS, "net" },
	{ IMPORT_MASS, "net weight" },
	{ IMPORT_MASS, "net mass" },
	{ IMPORT_FED, "fed" },
	{ IMPORT_FED, "feed" },
	{ IMPORT_FED, "before after" },
	{ IMPORT_FED, "before or after" },
	{ IMPORT_IGNORED, "note" },
	{ IMPORT_IGNORED, "notes" },
	{ IMPORT_IGNORED, "remark" },
	{ IMPORT_IGNORED, "remarks" },
	{ IMPORT_IGNORED, "comment" },
	{ IMPORT_IGNORED, "comments" },
	{ IMPORT_IGNORED, "who" },
	{ IMPORT_IGNORED, "by" },
	{ IMPORT_IGNORED, "weighed by" },
	{ IMPORT_IGNORED, "initials" },
	{ IMPORT_IGNORED, "no" },
	{ IMPORT_IGNORED, "round" },
	{ IMPORT_IGNORED, "age" },
};

static const struct {
	const char *word, *unit;
} units[] = {
	{ "g", "g" },          { "gram", "g" },   { "grams", "g" },   { "kg", "kg" },     { "kilogram", "kg" },
	{ "kilograms", "kg" }, { "oz", "oz" },    { "ounce", "oz" },  { "ounces", "oz" }, { "lb", "lb" },
	{ "lbs", "lb" },       { "pound", "lb" }, { "pounds", "lb" },
};

const char *import_layout_unit(const char *word)
{
	for (size_t i = 0; i < sizeof units / sizeof *units; i++)
		if (strcasecmp(units[i].word, word) == 0)
			return units[i].unit;
	return NULL;
}

/* Small letters, one blank for whatever isn't a letter, a digit or beyond ASCII; cut. */
static void plain(const char *name, char *to, size_t size)
{
	size_t n = 0;

	for (; *name && n + 1 < size; name++) {
		unsigned char c = (unsigned char)*name;
		if (isalnum(c) || c >= 0x80)
			to[n++] = (char)tolower(c);
		else if (n && to[n - 1] != ' ')
			to[n++] = ' ';
	}
	if (n && to[n - 1] == ' ')
		n--;
	to[n] = '\0';
}

/* Takes the unit off the end: "weight (g)", "Moss [oz]". NULL: there is none in brackets. */
static const char *take_bracketed(char *name)
{
	size_t n = strlen(name);
	char *open = n ? strrchr(name, name[n - 1] == ')' ? '(' : '[') : NULL;
	const char *unit;
	char word[16];

	if (!open || open == name || (name[n - 1] != ')' && name[n - 1] != ']'))
		return NULL;
	plain(open + 1, word, sizeof word);
	unit = import_layout_unit(word);
	if (!unit)
		return NULL;
	while (open > name && open[-1] == ' ')
		open--;
	*open = '\0';
	return unit;
}

/* Takes it off where it is the last word: "weight in g", "mass g". For what is known to be a weight's name. */
static const char *take_last_word(char *word)
{
	char *last = strrchr(word, ' ');
	const char *unit = last ? import_layout_unit(last + 1) : NULL;
	size_t n;

	if (!unit)
		return NULL;
	*last = '\0';
	n = strlen(word);
	if (n > 3 && strcmp(word + n - 3, " in") == 0)
		word[n - 3] = '\0';
	return unit;
}

/* IMPORT_KINDS: no name of a column. */
static enum import_kind kind_of(const char *word)
{
	for (size_t i = 0; i < sizeof words / sizeof *words; i++)
		if (strcmp(words[i].word, word) == 0)
			return words[i].kind;
	return IMPORT_KINDS;
}

/* False: the name is too long for a pup's. */
static bool read_column(const char *cell, struct import_column *ret)
{
	char name[IMPORT_CELL_BYTES + 1], word[IMPORT_NAME_BYTES + 1];
	const char *unit;

	*ret = (struct import_column){ .kind = IMPORT_UNNAMED };
	if (!*cell)
		return true;
	(void)snprintf(name, sizeof name, "%s", cell);
	ret->unit = take_bracketed(name);
	plain(name, word, sizeof word);
	ret->kind = kind_of(word);
	if (ret->kind == IMPORT_KINDS && !ret->unit) {
		unit = take_last_word(word);
		if (unit && kind_of(word) == IMPORT_MASS) {
			ret->kind = IMPORT_MASS;
			ret->unit = unit;
		}
	}
	text_copy(ret->name, sizeof ret->name, name);
	return strlen(name) <= IMPORT_NAME_BYTES || ret->kind != IMPORT_KINDS;
}

size_t import_layout_find(const struct import_layout *layout, enum import_kind kind)
{
	size_t i = 0;

	while (i < layout->n && layout->columns[i].kind != kind)
		i++;
	return i;
}

static bool has(const struct import_layout *layout, enum import_kind kind)
{
	return import_layout_find(layout, kind) < layout->n;
}

/* What isn't known is a pup of a wide layout, and ignored in a long one. */
static void settle(struct import_layout *layout)
{
	layout->wide = !has(layout, IMPORT_MASS);
	for (size_t i = 0; i < layout->n; i++) {
		struct import_column *column = &layout->columns[i];
		if (column->kind == IMPORT_KINDS)
			column->kind = layout->wide ? IMPORT_PUP : IMPORT_IGNORED;
	}
}

/* n: no two say the same. */
static size_t find_second(const struct import_layout *layout)
{
	for (size_t i = 0; i < layout->n; i++) {
		const struct import_column *column = &layout->columns[i];
		if (column->kind == IMPORT_UNNAMED || column->kind == IMPORT_IGNORED)
			continue;
		for (size_t k = 0; k < i; k++)
			if (layout->columns[k].kind == column->kind &&
			    (column->kind != IMPORT_PUP || strcasecmp(layout->columns[k].name, column->name) == 0))
				return i;
	}
	return layout->n;
}

enum import_layout_outcome import_layout_read(const struct import_cells *header, struct import_layout *ret,
					      size_t *ret_column)
{
	bool fits[IMPORT_COLUMNS];

	*ret = (struct import_layout){ .n = header->n };
	for (size_t i = 0; i < header->n; i++)
		fits[i] = read_column(header->cells[i], &ret->columns[i]);
	settle(ret);
	for (size_t i = 0; i < header->n; i++)
		if (!fits[i] && ret->columns[i].kind == IMPORT_PUP) {
			*ret_column = i;
			return IMPORT_LAYOUT_LONG_NAME;
		}
	*ret_column = find_second(ret);
	if (*ret_column < ret->n)
		return IMPORT_LAYOUT_TWICE;
	if (!has(ret, IMPORT_DATE) && !has(ret, IMPORT_TIME))
		return IMPORT_LAYOUT_NO_TIME;
	if (ret->wide)
		return has(ret, IMPORT_PUP) ? IMPORT_LAYOUT_READ : IMPORT_LAYOUT_NO_PUP;
	return has(ret, IMPORT_ANIMAL) || has(ret, IMPORT_COLLAR) ? IMPORT_LAYOUT_READ : IMPORT_LAYOUT_NO_ANIMAL;
}

const char *import_layout_hint(enum import_layout_outcome outcome)
{
	switch (outcome) {
	case IMPORT_LAYOUT_READ:
		return "";
	case IMPORT_LAYOUT_NO_TIME:
		return "no column is called date or time; the first row must have the columns' names.";
	case IMPORT_LAYOUT_NO_ANIMAL:
		return "no column is called pup, name or collar, so nobody can know whose the weights are.";
	case IMPORT_LAYOUT_NO_PUP:
		return "no column is called weight, and none after a pup.";
	case IMPORT_LAYOUT_TWICE:
		return "says what another column says already.";
	case IMPORT_LAYOUT_LONG_NAME:
		return "is longer than a pup's name may be, 64 octets.";
	}
	return "";
}
