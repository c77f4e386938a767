// SPDX-License-Identifier: MIT
#include "contrib/merge/record.h"
#include "daemon/ctl/text.h"
#include <errno.h>
#include <stdbool.h>
#include <stdint.h>
#include <string.h>

/* The ranges are wide: they tell what can't be from what is odd. Times end with the year 9999 (RFC 3339), integers
 * where a double is still exact (RFC 8259, 6), masses at a tonne. */
#define MS_MOST 253402300799999.0
#define SEQ_MOST 9007199254740991.0
#define GRAMS 1e6

enum type { ID, TEXT, INTEGER, NUMBER, WORD };

struct member {
	const char *name;
	enum type type;
	bool or_null;
	double least, most;
	const char *words; /* of WORD: " a b " */
};

static const struct member reading[] = {
	{ "id", ID, false, 0, 0, NULL },
	{ "seq", INTEGER, false, 1, SEQ_MOST, NULL },
	{ "reading_id", ID, false, 0, 0, NULL },
	{ "kind", WORD, false, 0, 0, " answer correct aside reopen " },
	{ "animal_id", ID, true, 0, 0, NULL },
	{ "animal", TEXT, true, 0, 0, NULL },
	{ "collar", TEXT, true, 0, 0, NULL },
	{ "litter_id", ID, true, 0, 0, NULL },
	{ "litter", TEXT, true, 0, 0, NULL },
	{ "at_ms", INTEGER, false, 0, MS_MOST, NULL },
	{ "offset_min", INTEGER, false, -1440, 1440, NULL },
	{ "net_g", NUMBER, false, -GRAMS, GRAMS, NULL },
	{ "u_g", NUMBER, false, 0, GRAMS, NULL },
	{ "gross_g", NUMBER, false, -GRAMS, GRAMS, NULL },
	{ "tare_g", NUMBER, false, -GRAMS, GRAMS, NULL },
	{ "step_g", NUMBER, true, 0, GRAMS, NULL },
	{ "container", TEXT, true, 0, 0, NULL },
	{ "scale", TEXT, true, 0, 0, NULL },
	{ "origin", WORD, false, 0, 0, " radio stored typed " },
	{ "state", WORD, false, 0, 0, " settled restless " },
	{ "fed", WORD, true, 0, 0, " before after " },
	{ "why", TEXT, true, 0, 0, NULL },
	{ "answered_at_ms", INTEGER, false, 0, MS_MOST, NULL },
	{ "answered_by", TEXT, false, 0, 0, NULL },
};

static const struct member concern[] = {
	{ "id", ID, false, 0, 0, NULL },
	{ "seq", INTEGER, false, 1, SEQ_MOST, NULL },
	{ "concern_id", ID, false, 0, 0, NULL },
	{ "animal_id", ID, true, 0, 0, NULL },
	{ "animal", TEXT, true, 0, 0, NULL },
	{ "litter_id", ID, false, 0, 0, NULL },
	{ "litter", TEXT, false, 0, 0, NULL },
	{ "at_ms", INTEGER, false, 0, MS_MOST, NULL },
	{ "state", WORD, false, 0, 0, " open closed " },
	{ "level", WORD, false, 0, 0, " look act vet " },
	{ "rule", TEXT, false, 0, 0, NULL },
	{ "text", TEXT, false, 0, 0, NULL },
	{ "source", TEXT, false, 0, 0, NULL },
	{ "since_ms", INTEGER, false, 0, MS_MOST, NULL },
};

static const struct member state_here[] = {
	{ "state", WORD, false, 0, 0, " here " },
	{ "reading", INTEGER, false, 0, SEQ_MOST, NULL },
	{ "concern", INTEGER, false, 0, SEQ_MOST, NULL },
};

static const struct member state_gone[] = { { "state", WORD, false, 0, 0, " gone " } };

/* 36 characters, hexadecimal in lower case and four hyphens (RFC 9562, 4); of which version is no matter to a key. */
static bool is_id(const char *text, size_t n)
{
	if (n != 36)
		return false;
	for (size_t i = 0; i < n; i++) {
		bool hyphen = i == 8 || i == 13 || i == 18 || i == 23;
		if (hyphen ? text[i] != '-' : !strchr("0123456789abcdef", text[i]))
			return false;
	}
	return true;
}

static bool is_word(const char *words, const char *text, size_t n)
{
	if (n == 0 || text[0] == ' ') /* so that a hit has something before it */
		return false;
	for (const char *at = words; (at = strstr(at, text)); at++)
		if (at[-1] == ' ' && at[n] == ' ')
			return true;
	return false;
}

static bool fits(const struct member *member, const json_t *value)
{
	const char *text = json_string_value(value);
	size_t n = json_string_length(value);
	double number = json_number_value(value);

	if (json_is_null(value))
		return member->or_null;
	switch (member->type) {
	case ID:
		return text && is_id(text, n);
	case TEXT:
		return text && n <= RECORD_TEXT;
	case WORD:
		return text && n <= 16 && is_word(member->words, text, n);
	case INTEGER:
		return json_is_integer(value) && number >= member->least && number <= member->most;
	case NUMBER:
		return json_is_number(value) && number >= member->least && number <= member->most;
	}
	return false;
}

/* The members into row. 0, -EINVAL and why, -ENOMEM. */
static int take(const json_t *object, const struct member *members, size_t n, json_t *row, const char **ret_why)
{
	for (size_t i = 0; i < n; i++) {
		json_t *value = json_object_get(object, members[i].name);
		if (!value || !fits(&members[i], value)) {
			*ret_why = members[i].name;
			return -EINVAL;
		}
		if (json_object_set(row, members[i].name, value) < 0)
			return -ENOMEM;
	}
	return 0;
}

/* An answer and a correction name an animal, the others none (MESSAGES.md). */
static bool agrees(const json_t *row)
{
	const char *kind = json_string_value(json_object_get(row, "kind"));
	bool names = kind && (strcmp(kind, "answer") == 0 || strcmp(kind, "correct") == 0);
	static const char *const members[] = { "animal_id", "animal", "litter_id", "litter" };

	for (size_t i = 0; i < sizeof members / sizeof *members; i++)
		if (json_is_null(json_object_get(row, members[i])) == names)
			return false;
	return true;
}

/* BASE/BRIDGE/WORD taken apart. */
static bool split(const char *base, const char *topic, struct record *ret)
{
	static const char *const words[] = { "reading", "concern", "state" };
	size_t n = strlen(base);
	const char *name = topic + n + 1, *end;

	ret->bridge[0] = '\0';
	if (strncmp(topic, base, n) != 0 || topic[n] != '/' || !(end = strchr(name, '/')) ||
	    end - name > NAME_BRIDGE_BYTES)
		return false;
	memcpy(ret->bridge, name, (size_t)(end - name));
	ret->bridge[end - name] = '\0';
	for (size_t i = 0; i < sizeof words / sizeof *words; i++) {
		if (strcmp(end + 1, words[i]) != 0)
			continue;
		ret->kind = (enum record_kind)i;
		if (!name_bridge_wrong(ret->bridge))
			return true;
	}
	ret->bridge[0] = '\0';
	return false;
}

static int take_kind(const json_t *object, struct record *ret, const char **ret_why)
{
	const char *state = json_string_value(json_object_get(object, "state"));
	int r;

	switch (ret->kind) {
	case RECORD_READING:
		r = take(object, reading, sizeof reading / sizeof *reading, ret->row, ret_why);
		if (r == 0 && !agrees(ret->row)) {
			*ret_why = "animal_id";
			return -EINVAL;
		}
		return r;
	case RECORD_CONCERN:
		return take(object, concern, sizeof concern / sizeof *concern, ret->row, ret_why);
	case RECORD_STATE:
		if (state && strcmp(state, "gone") == 0)
			return take(object, state_gone, 1, ret->row, ret_why);
		return take(object, state_here, sizeof state_here / sizeof *state_here, ret->row, ret_why);
	}
	return -EINVAL;
}

int record_read(const char *base, const char *topic, const void *octets, size_t n, struct record *ret,
		const char **ret_why)
{
	json_t *object, *bridge;
	int r = -EINVAL;

	ret->row = NULL;
	if (!split(base, topic, ret)) {
		*ret_why = "the topic";
		return -EINVAL;
	}
	if (n > RECORD_OCTETS) {
		*ret_why = "its size";
		return -EINVAL;
	}
	/* well-formed UTF-8 and no NUL are the parser's doing too */
	object = n ? json_loadb(octets, n, JSON_REJECT_DUPLICATES, NULL) : NULL;
	bridge = json_object_get(object, "bridge");
	ret->row = json_object();
	if (!ret->row)
		r = -ENOMEM;
	else if (!json_is_object(object))
		*ret_why = "no JSON object";
	else if (!json_is_string(bridge) || strcmp(json_string_value(bridge), ret->bridge) != 0)
		*ret_why = "bridge";
	else if (json_object_set(ret->row, "bridge", bridge) < 0)
		r = -ENOMEM;
	else
		r = take_kind(object, ret, ret_why);
	json_decref(object);
	if (r < 0) {
		json_decref(ret->row);
		ret->row = NULL;
	}
	return r;
}
