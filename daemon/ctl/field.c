// SPDX-License-Identifier: MIT
#include "daemon/ctl/field.h"
#include "daemon/ctl/show.h"
#include "daemon/ctl/text.h"
#include "daemon/ctl/when.h"
#include <errno.h>

const char *field_text(const json_t *object, const char *key)
{
	const char *text = json_string_value(json_object_get(object, key));

	return text ? text : "";
}

void field_copy(const json_t *object, const char *key, char *buffer, size_t size)
{
	text_copy(buffer, size, field_text(object, key));
}

bool field_mg(const json_t *object, const char *key, int64_t *ret_mg)
{
	const json_t *value = json_object_get(object, key);

	if (!json_is_number(value))
		return false;
	*ret_mg = show_mg(json_number_value(value));
	return true;
}

bool field_number(const json_t *object, const char *key, double *ret)
{
	const json_t *value = json_object_get(object, key);

	if (!json_is_number(value))
		return false;
	*ret = json_number_value(value);
	return true;
}

bool field_whole(const json_t *object, const char *key, int64_t *ret)
{
	const json_t *value = json_object_get(object, key);

	if (!json_is_integer(value))
		return false;
	*ret = json_integer_value(value);
	return true;
}

bool field_time(const json_t *object, const char *key, int64_t *ret_ms)
{
	int offset_min;

	return quantity_rfc3339(field_text(object, key), ret_ms, &offset_min) == QUANTITY_OK;
}

bool field_true(const json_t *object, const char *key)
{
	return json_is_true(json_object_get(object, key));
}

int field_put(json_t *object, const char *key, const char *text)
{
	if (!text)
		return 0;
	/* a word that isn't UTF-8 is refused by json_string(); the callers' words were checked in main.c */
	return json_object_set_new(object, key, json_string(text)) == 0 ? 0 : -ENOMEM;
}

int field_put_time(json_t *object, const char *key, int64_t ms)
{
	char text[WHEN_SIZE];

	when_rfc3339(text, ms);
	return field_put(object, key, text);
}

void field_write(FILE *to, const json_t *object)
{
	/* 15 digits: what a double holds for certain, so that 304.1 stays 304.1 */
	(void)json_dumpf(object, to, JSON_COMPACT | JSON_REAL_PRECISION(15)); /* failures stay in the stream's error flag */
}

void field_print(const json_t *object)
{
	field_write(stdout, object);
	(void)putchar('\n');
}
