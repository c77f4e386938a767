// SPDX-License-Identifier: MIT
#pragma once
/* org.freedesktop.DBus.Introspectable, so that bus browsers can walk the tree. It names interfaces and children, and
 * leaves members out. Above: calls.c. Below: node.h, show.h. */
#include "sim.h"

DBusMessage *introspect_call(const struct node *node, DBusMessage *msg);
/* For /org, which has children and no interface. */
DBusMessage *introspect_org(struct sim *sim, DBusMessage *msg);
