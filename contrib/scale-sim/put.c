// SPDX-License-Identifier: MIT
#include "put.h"

void put_oom(void)
{
	fputs("scale-sim: out of memory\n", stderr);
	exit(1);
}

void *put_alloc(size_t n, size_t size)
{
	void *memory = calloc(n ? n : 1, size);

	if (!memory)
		put_oom();
	return memory;
}

static void must(dbus_bool_t done)
{
	if (!done)
		put_oom();
}

void put_open(DBusMessageIter *iter, int type, const char *signature, DBusMessageIter *ret_inside)
{
	must(dbus_message_iter_open_container(iter, type, signature, ret_inside));
}

void put_close(DBusMessageIter *iter, DBusMessageIter *inside)
{
	must(dbus_message_iter_close_container(iter, inside));
}

void put_string(DBusMessageIter *iter, const char *text)
{
	must(dbus_message_iter_append_basic(iter, DBUS_TYPE_STRING, &text));
}

void put_path(DBusMessageIter *iter, const char *path)
{
	must(dbus_message_iter_append_basic(iter, DBUS_TYPE_OBJECT_PATH, &path));
}

void put_bool(DBusMessageIter *iter, bool value)
{
	dbus_bool_t word = value;

	must(dbus_message_iter_append_basic(iter, DBUS_TYPE_BOOLEAN, &word));
}

void put_octets(DBusMessageIter *iter, const uint8_t *octets, size_t n)
{
	DBusMessageIter array;

	put_open(iter, DBUS_TYPE_ARRAY, "y", &array);
	must(dbus_message_iter_append_fixed_array(&array, DBUS_TYPE_BYTE, &octets, (int)n));
	put_close(iter, &array);
}

void put_octets_variant(DBusMessageIter *iter, const uint8_t *octets, size_t n)
{
	DBusMessageIter variant;

	put_open(iter, DBUS_TYPE_VARIANT, "ay", &variant);
	put_octets(&variant, octets, n);
	put_close(iter, &variant);
}

DBusMessage *put_ok(DBusMessage *msg)
{
	DBusMessage *reply = dbus_message_new_method_return(msg);

	must(reply != NULL);
	return reply;
}

DBusMessage *put_error(DBusMessage *msg, const char *name, const char *text)
{
	char full[SIM_NAME + 32];

	snprintf(full, sizeof(full), "%s%s", strchr(name, '.') ? "" : "org.bluez.Error.", name);
	/* Text may quote a client's word cut short, in the middle of a character; libdbus would end the program. */
	DBusMessage *reply = dbus_message_new_error(msg, full, dbus_validate_utf8(text, NULL) ? text : "");
	must(reply != NULL);
	return reply;
}
