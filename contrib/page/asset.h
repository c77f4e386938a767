// SPDX-License-Identifier: MIT
#pragma once
/* The files of assets/, as embed makes them at build time. */
#include <stddef.h>

struct asset {
	const char *name; /* "page.css" */
	const char *type; /* for Content-Type */
	const char *etag; /* with its quotes; of the content */
	const unsigned char *data;
	size_t size;
};

extern const struct asset assets[];
extern const size_t assets_n;
