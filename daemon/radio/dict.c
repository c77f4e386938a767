// SPDX-License-Identifier: MIT
#include "dict.h"
#include <strings.h>

static int type_of(DBusMessageIter *at)
{
	return dbus_message_iter_get_arg_type(at);
}

bool dict_enter(DBusMessageIter *at, DBusMessageIter *ret)
{
	if (type_of(at) != DBUS_TYPE_ARRAY ||
	    dbus_message_iter_get_element_type(at) != DBUS_TYPE_DICT_ENTRY)
		return false;
	dbus_message_iter_recurse(at, ret);
	return true;
}

bool dict_next(DBusMessageIter *dict, const char **ret_key, DBusMessageIter *ret_value)
{
	while (type_of(dict) == DBUS_TYPE_DICT_ENTRY) {
		DBusMessageIter entry;
		int type;

		dbus_message_iter_recurse(dict, &entry);
		dbus_message_iter_next(dict);
		type = type_of(&entry);
		if (type != DBUS_TYPE_STRING && type != DBUS_TYPE_OBJECT_PATH)
			continue;
		dbus_message_iter_get_basic(&entry, ret_key);
		dbus_message_iter_next(&entry);
		if (type_of(&entry) == DBUS_TYPE_VARIANT)
			dbus_message_iter_recurse(&entry, ret_value);
		else
			*ret_value = entry;
		return true;
	}
	return false;
}

bool dict_find(DBusMessageIter *at, const char *key, DBusMessageIter *ret_value)
{
	DBusMessageIter dict, value;
	const char *name;

	if (!dict_enter(at, &dict))
		return false;
	while (dict_next(&dict, &name, &value))
		if (strcmp(name, key) == 0) {
			*ret_value = value;
			return true;
		}
	return false;
}

static bool basic(DBusMessageIter *value, int type, void *ret)
{
	if (type_of(value) != type)
		return false;
	dbus_message_iter_get_basic(value, ret);
	return true;
}

bool dict_text(DBusMessageIter *value, const char **ret)
{
	return basic(value, DBUS_TYPE_STRING, ret);
}

bool dict_path(DBusMessageIter *value, const char **ret)
{
	return basic(value, DBUS_TYPE_OBJECT_PATH, ret);
}

bool dict_flag(DBusMessageIter *value, bool *ret)
{
	dbus_bool_t flag; /* wider than bool */

	if (!basic(value, DBUS_TYPE_BOOLEAN, &flag))
		return false;
	*ret = flag;
	return true;
}

bool dict_u8(DBusMessageIter *value, uint8_t *ret)
{
	return basic(value, DBUS_TYPE_BYTE, ret);
}

bool dict_u16(DBusMessageIter *value, uint16_t *ret)
{
	return basic(value, DBUS_TYPE_UINT16, ret);
}

bool dict_i16(DBusMessageIter *value, int16_t *ret)
{
	return basic(value, DBUS_TYPE_INT16, ret);
}

bool dict_octets(DBusMessageIter *value, const uint8_t **ret, size_t *ret_n)
{
	DBusMessageIter octets;
	int n = 0;

	if (type_of(value) != DBUS_TYPE_ARRAY ||
	    dbus_message_iter_get_element_type(value) != DBUS_TYPE_BYTE)
		return false;
	dbus_message_iter_recurse(value, &octets);
	dbus_message_iter_get_fixed_array(&octets, ret, &n);
	*ret_n = n > 0 ? (size_t)n : 0;
	return true;
}

bool dict_is_list(DBusMessageIter *value)
{
	return type_of(value) == DBUS_TYPE_ARRAY &&
	       dbus_message_iter_get_element_type(value) == DBUS_TYPE_STRING;
}

bool dict_lists(DBusMessageIter *value, const char *text)
{
	DBusMessageIter at;
	const char *one;

	if (!dict_is_list(value))
		return false;
	for (dbus_message_iter_recurse(value, &at); dict_text(&at, &one);
	     dbus_message_iter_next(&at))
		if (strcasecmp(one, text) == 0)
			return true;
	return false;
}
