// SPDX-License-Identifier: MIT
#pragma once
/*
 * Responses, each with the headers that all have (HTTP.md).
 * Above: server.c and what it calls. Below: libmicrohttpd, jansson, the assets.
 */
#include <jansson.h>
#include <microhttpd.h>
#include <stdbool.h>

/* What is told when something is refused: {"error":{code,message,hint}}. */
struct refusal {
	unsigned status;
	const char *code, *message, *hint;
	const char *allow; /* with 405: the header Allow */
	unsigned retry_s;  /* with 429: Retry-After */
};

struct answer {
	struct MHD_Response *response; /* NULL: there was no memory for it */
	unsigned status;
};

/* value is stolen; NULL: no memory. */
struct answer answer_json(unsigned status, json_t *value);
struct answer answer_refusal(const struct refusal *refusal);
/* No body: 204, or 303 to a place. */
struct answer answer_empty(unsigned status, const char *location);
/* An asset of that name; 304 where if_none_match is its tag. A name that isn't there has no response. */
struct answer answer_asset(const char *name, const char *if_none_match);
/* The headers, on a response made elsewhere. False without memory. */
bool answer_headers(struct MHD_Response *response, const char *type, const char *cache);
