// SPDX-License-Identifier: MIT
#pragma once
/* What there is under which path. */
#include <stdbool.h>

enum route_kind {
	ROUTE_ASSET,
	ROUTE_EVENTS,
	ROUTE_CALL,
	ROUTE_PAIR,
	ROUTE_ANIMALS,
	ROUTE_CURVE,
	ROUTE_SIGNS,
};

struct route {
	const char *path;
	bool post; /* else GET and HEAD */
	enum route_kind kind;
	const char *asset;
	bool open; /* for a phone that isn't paired too */
	bool page; /* may be gone to from elsewhere, by a link or a bookmark */
};

/* The path is there at all, with this method or another. */
bool route_known(const char *path);
/* NULL: not with this method. */
const struct route *route_find(const char *path, const char *method);
