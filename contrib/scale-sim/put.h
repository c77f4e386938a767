// SPDX-License-Identifier: MIT
#pragma once
/*
 * Appending to D-Bus messages, and the two kinds of answer. Above: props.c and every file with D-Bus calls. Below:
 * libdbus. Out of memory ends the program: a simulator has nothing to save.
 */
#include "sim.h"

void put_oom(void) __attribute__((noreturn));
void *put_alloc(size_t n, size_t size); /* zeroed; never NULL */

void put_open(DBusMessageIter *iter, int type, const char *signature, DBusMessageIter *ret_inside);
void put_close(DBusMessageIter *iter, DBusMessageIter *inside);
void put_string(DBusMessageIter *iter, const char *text);
void put_path(DBusMessageIter *iter, const char *path);
void put_bool(DBusMessageIter *iter, bool value);
void put_octets(DBusMessageIter *iter, const uint8_t *octets, size_t n);
void put_octets_variant(DBusMessageIter *iter, const uint8_t *octets, size_t n);

/* Answers to msg, for the dispatcher to send. */
DBusMessage *put_ok(DBusMessage *msg);
/* name: "Failed" stands for org.bluez.Error.Failed; one with a dot in it is taken as it stands. */
DBusMessage *put_error(DBusMessage *msg, const char *name, const char *text);
