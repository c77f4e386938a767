// SPDX-License-Identifier: MIT
#pragma once
/* Values and trees of a hostile org.bluez. Above: hostile_say.c. Below: hostile.h's chance, libdbus. */
#include "hostile.h"

enum put_list { PUT_PATH, PUT_INTERFACE, PUT_KEY, PUT_WORD, PUT_ERROR };

/* One of the words that mean something to bismard. Static. */
const char *put_one(struct hostile *hostile, enum put_list list);
/* Ends the program unless it is good: no memory, or our own mistake. */
void put_must(dbus_bool_t good);

void put_text(DBusMessageIter *at, int type, const char *text);
void put_octets(DBusMessageIter *at, const uint8_t *octets, size_t n);
void put_texts(DBusMessageIter *at, const char *const *list, size_t n);
/* Properties; nested no deeper than they may be, from depth on. */
void put_dict(struct hostile *hostile, DBusMessageIter *at, unsigned depth);
/* Interfaces with their properties. */
void put_interfaces(struct hostile *hostile, DBusMessageIter *at);
void put_any(struct hostile *hostile, DBusMessageIter *at);

/* An entry of a dictionary whose value is a variant of this kind. */
void put_open(DBusMessageIter *dict, const char *key, const char *kind, DBusMessageIter *entry,
	      DBusMessageIter *variant);
void put_close(DBusMessageIter *dict, DBusMessageIter *entry, DBusMessageIter *variant);
void put_flag(DBusMessageIter *dict, const char *key, bool flag);

/* A device that nobody adopted: its path and its interfaces. */
void put_stranger(struct hostile *hostile, DBusMessageIter *at, unsigned i);
void put_hostile_tree(struct hostile *hostile, DBusMessageIter *at);
/* An adapter, the adopted scale, connected, and its characteristic. */
void put_honest_tree(DBusMessageIter *at);
