// SPDX-License-Identifier: MIT
#pragma once
/*
 * Reading what stands in a D-Bus message: every type is looked at before the value is taken.
 * Above: this room. Below: libdbus. Nothing here allocates or logs; texts and octets are borrowed
 * from the message.
 *
 * Those that take a value return false and leave *ret alone when it is of another type.
 */
#include <dbus/dbus.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Enters a dictionary that stands at `at`. */
bool dict_enter(DBusMessageIter *at, DBusMessageIter *ret);
/* The next entry with a text or an object path as key, the value taken out of its variant. false:
 * no more. */
bool dict_next(DBusMessageIter *dict, const char **ret_key, DBusMessageIter *ret_value);
/* The entry of that name; false when there is none. */
bool dict_find(DBusMessageIter *at, const char *key, DBusMessageIter *ret_value);

bool dict_text(DBusMessageIter *value, const char **ret);
bool dict_path(DBusMessageIter *value, const char **ret);
bool dict_flag(DBusMessageIter *value, bool *ret);
bool dict_u8(DBusMessageIter *value, uint8_t *ret);
bool dict_u16(DBusMessageIter *value, uint16_t *ret);
bool dict_i16(DBusMessageIter *value, int16_t *ret);
bool dict_octets(DBusMessageIter *value, const uint8_t **ret, size_t *ret_n);
/* Whether value is an array of texts at all; whether it is and holds that one, in any
 * case of letters. */
bool dict_is_list(DBusMessageIter *value);
bool dict_lists(DBusMessageIter *value, const char *text);
