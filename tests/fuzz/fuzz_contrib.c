// SPDX-License-Identifier: MIT
/*
 * What the programs of contrib/ take from outside: messages of a broker, questions of the socket, headers of a browser,
 * keys of a device, a file of their own. The first octet says which.
 */
#include "contrib/broker/position.h"
#include "contrib/client/question.h"
#include "contrib/client/words.h"
#include "contrib/keypad/stroke.h"
#include "contrib/keypad/tag.h"
#include "contrib/merge/record.h"
#include "contrib/page/host.h"
#include "contrib/speak/quiet.h"
#include "daemon/ctl/text.h"
#include "fuzz.h"

#define NOW_MS INT64_C(1795610730000) /* 2026-11-25T12:45:30Z */

static void record(const char *text, size_t size)
{
	const char *line = memchr(text, '\n', size), *why = NULL;
	size_t n = line ? (size_t)(line - text) : size;
	struct record read = { 0 };
	char *topic = fuzz_text((const uint8_t *)text, n);
	int r;

	n += line ? 1 : 0;
	r = record_read("kennel", topic, text + n, size - n, &read, &why);
	FUZZ_HOLDS(r == 0 ? json_is_object(read.row) : why != NULL);
	FUZZ_HOLDS(strlen(read.bridge) <= NAME_BRIDGE_BYTES);
	if (r == 0)
		json_decref(read.row);
	free(topic);
}

static void check_words(const char *said)
{
	FUZZ_HOLDS(strlen(said) < WORDS_SIZE && text_valid(said) && !strpbrk(said, "\n\033<>&|\\[]"));
}

static void question(const char *text, size_t size)
{
	static struct questions questions;
	json_t *json = json_loadb(text, size, JSON_DECODE_ANY, NULL);
	char said[WORDS_SIZE];
	size_t i;
	json_t *one;

	questions = (struct questions){ 0 };
	(void)questions_set(&questions, json, NOW_MS);
	json_array_foreach (json, i, one)
		(void)questions_put(&questions, one, NOW_MS);
	(void)questions_put(&questions, json, NOW_MS);
	FUZZ_HOLDS(questions.n <= LIMIT_OPEN_ASKS);
	for (i = 0; i < questions.n; i++) {
		const struct question *at = &questions.list[i];
		FUZZ_HOLDS(*at->id && at->n_suggestions <= LIMIT_CANDIDATES && question_named(at) <= at->n_suggestions);
		words_question(at, -1, QUANTITY_GRAMS, said);
		check_words(said);
	}
	while (questions.n)
		(void)questions_drop(&questions, questions.list[0].id);
	json_decref(json);
}

static void position(const char *text, size_t size)
{
	json_t *json = json_loadb(text, size, JSON_DECODE_ANY, NULL);
	struct position read;

	if (position_unpack(json, "a", &read) == POSITION_FOUND)
		for (size_t i = 0; i < LOG_KINDS; i++)
			FUZZ_HOLDS(read.seq[i] >= 0 && strlen(read.id[i]) < WINDOW_ID_SIZE);
	json_decref(json);
}

static void words(const char *text)
{
	char said[WORDS_SIZE];

	words_clean(text, said, sizeof said);
	check_words(said);
	words_recorded(text, 304000, true, QUANTITY_OUNCES, said);
	check_words(said);
	words_concern(text, text, text, said);
	check_words(said);
}

static void headers(const char *text)
{
	static const char *const names[] = { "page.example" };
	struct sockaddr_storage address;
	socklen_t length = 0;
	struct quiet quiet;

	(void)host_is_ours(text, names, 1); /* any answer, within bounds */
	(void)host_is_cross(text);
	/* another site's Origin is never ours */
	FUZZ_HOLDS(!host_is_origin("http://evil.example", text, false) || strncmp(text, "evil.example", 12) == 0 ||
		   strncasecmp(text, "evil.example", 12) == 0);
	(void)host_is_origin(text, "page.example", true);
	if (host_address(text, &address, &length)) {
		FUZZ_HOLDS(length > 0 && length <= sizeof address);
		(void)host_is_loopback((const struct sockaddr *)&address);
		FUZZ_HOLDS(host_same((const struct sockaddr *)&address, (const struct sockaddr *)&address));
	}
	if (quiet_parse(text, &quiet) == 0)
		for (int minute = 0; minute < 1440; minute += 97)
			FUZZ_HOLDS((quiet_left_min(&quiet, minute) > 0) == quiet_at(&quiet, minute));
}

/* Four octets an event: the code, its value, how long after. */
static void keys(const uint8_t *data, size_t size)
{
	struct stroke stroke;
	struct tag tag = { 0 };
	int64_t at_ms = 0;
	unsigned code = 0;

	stroke_clear(&stroke);
	tag_clear(&tag);
	for (; size >= 4; data += 4, size -= 4) {
		at_ms += data[3] * 16;
		if (stroke_elapse(&stroke, at_ms, &code) != STROKE_NONE)
			FUZZ_HOLDS(code <= 0x1ff);
		stroke_event(&stroke, data[0] | (data[1] & 1u) << 8, data[2] % 3, at_ms);
		FUZZ_HOLDS(stroke.n_held <= STROKE_HELD);
		if (tag_event(&tag, data[0] | (data[1] & 1u) << 8, data[2] % 3, at_ms) == TAG_CODE)
			FUZZ_HOLDS(*tag.code && strlen(tag.code) < TAG_SIZE);
	}
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	char *text;

	if (size == 0)
		return 0;
	text = fuzz_text(data + 1, size - 1);
	switch (*data % 6) {
	case 0:
		record(text, size - 1);
		break;
	case 1:
		question(text, size - 1);
		break;
	case 2:
		position(text, size - 1);
		break;
	case 3:
		words(text);
		break;
	case 4:
		headers(text);
		break;
	default:
		keys(data + 1, size - 1);
	}
	free(text);
	return 0;
}
