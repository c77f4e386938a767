// SPDX-License-Identifier: MIT
#include "contrib/page/route.h"
#include <stddef.h>

static const struct route routes[] = {
	{ "/", false, ROUTE_ASSET, "index.html", false, true },
	{ "/pair", false, ROUTE_ASSET, "pair.html", true, true },
	{ "/pair", true, ROUTE_PAIR, NULL, true, false },
	{ "/pair.js", false, ROUTE_ASSET, "pair.js", true, false },
	{ "/page.css", false, ROUTE_ASSET, "page.css", true, false },
	{ "/icon.svg", false, ROUTE_ASSET, "icon.svg", true, false },
	{ "/page.js", false, ROUTE_ASSET, "page.js", false, false },
	{ "/moment.js", false, ROUTE_ASSET, "moment.js", false, false },
	{ "/lists.js", false, ROUTE_ASSET, "lists.js", false, false },
	{ "/bedside.js", false, ROUTE_ASSET, "bedside.js", false, false },
	{ "/curve.js", false, ROUTE_ASSET, "curve.js", false, false },
	{ "/words.js", false, ROUTE_ASSET, "words.js", false, false },
	{ "/events", false, ROUTE_EVENTS, NULL, false, false },
	{ "/call", true, ROUTE_CALL, NULL, false, false },
	{ "/animals", false, ROUTE_ANIMALS, NULL, false, false },
	{ "/curve", false, ROUTE_CURVE, NULL, false, false },
	{ "/signs", false, ROUTE_SIGNS, NULL, false, false },
};

bool route_known(const char *path)
{
	for (size_t i = 0; i < sizeof routes / sizeof *routes; i++)
		if (strcmp(routes[i].path, path) == 0)
			return true;
	return false;
}

const struct route *route_find(const char *path, const char *method)
{
	bool post = strcmp(method, "POST") == 0, get = strcmp(method, "GET") == 0, head = strcmp(method, "HEAD") == 0;

	for (size_t i = 0; i < sizeof routes / sizeof *routes; i++) {
		const struct route *route = &routes[i];
		/* a stream without its events is of no use, and would never end */
		bool fits = route->post ? post : get || (head && route->kind != ROUTE_EVENTS);
		if (fits && strcmp(route->path, path) == 0)
			return route;
	}
	return NULL;
}
