// SPDX-License-Identifier: MIT
#include "contrib/broker/message.h"
#include "daemon/ctl/text.h"
#include <errno.h>
#include <stdlib.h>
#include <string.h>

/* Grams with three decimals have no more digits, and come back as the same number. */
#define FLAGS (JSON_COMPACT | JSON_REAL_PRECISION(15))

/* A new reference. */
static json_t *cut(json_t *value)
{
	const char *text = json_string_value(value);
	size_t n = json_string_length(value);

	if (!text || n <= MESSAGE_TEXT_BYTES)
		return json_incref(value);
	return json_stringn(text, text_whole(text, MESSAGE_TEXT_BYTES));
}

int message_row(const json_t *row, const char *bridge, char **ret, size_t *ret_n)
{
	json_t *message = json_object(), *value;
	const char *key;
	char *text = NULL;
	bool fine = message && json_object_set_new(message, "id", json_incref(json_object_get(row, "id"))) == 0 &&
		    json_object_set_new(message, "bridge", json_string(bridge)) == 0;

	json_object_foreach ((json_t *)row, key, value)
		if (fine && strcmp(key, "id") != 0)
			fine = json_object_set_new(message, key, cut(value)) == 0;
	if (fine)
		text = json_dumps(message, FLAGS);
	json_decref(message);
	if (!text)
		return -ENOMEM;
	if (strlen(text) > MESSAGE_BYTES) {
		free(text);
		return -EMSGSIZE;
	}
	*ret = text;
	*ret_n = strlen(text);
	return 0;
}

size_t message_state(const char *bridge, const int64_t seq[LOG_KINDS], char buffer[MESSAGE_STATE_SIZE])
{
	json_t *state = json_pack("{s:s, s:s}", "state", seq ? "here" : "gone", "bridge", bridge);
	size_t n;

	if (seq) { /* without memory they are missing, as with `gone` */
		(void)json_object_set_new(state, "reading", json_integer(seq[LOG_READING]));
		(void)json_object_set_new(state, "concern", json_integer(seq[LOG_CONCERN]));
	}
	n = json_dumpb(state, buffer, MESSAGE_STATE_SIZE, FLAGS);
	json_decref(state);
	return n;
}
