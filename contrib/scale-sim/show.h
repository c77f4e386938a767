// SPDX-License-Identifier: MIT
#pragma once
/* The interfaces of each kind of object and how each property is read: tables only. Above: props.c. Below: model.h. */
#include "sim.h"

struct prop {
	const char *name;
	const char *signature;
	bool (*exists)(const struct node *node); /* NULL: always */
	void (*put)(const struct node *node, DBusMessageIter *iter);
};

struct iface {
	enum node_kind kind;
	const char *name;
	bool (*exists)(const struct node *node); /* NULL: always */
	const struct prop *props;                /* ends with a row without name */
};

extern const struct iface show_ifaces[]; /* ends with a row without name */
