// SPDX-License-Identifier: MIT
#include "contrib/page/answer.h"
#include "contrib/page/asset.h"

/* Content Security Policy Level 3 (W3C); Fetch, "Cross-Origin-Resource-Policy"; HTML, "Cross-Origin-Opener-Policy". */
static const char *const always[][2] = {
	{ "Content-Security-Policy", "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; "
				     "connect-src 'self'; base-uri 'none'; "
				     "form-action 'none'; frame-ancestors 'none'" },
	{ "X-Content-Type-Options", "nosniff" },
	{ "Referrer-Policy", "no-referrer" },
	{ "Cross-Origin-Resource-Policy", "same-origin" },
	{ "Cross-Origin-Opener-Policy", "same-origin" },
};

static bool add(struct MHD_Response *response, const char *name, const char *value)
{
	return MHD_add_response_header(response, name, value) == MHD_YES;
}

bool answer_headers(struct MHD_Response *response, const char *type, const char *cache)
{
	bool added = add(response, "Cache-Control", cache) && (!type || add(response, "Content-Type", type));

	for (size_t i = 0; added && i < sizeof always / sizeof *always; i++)
		added = add(response, always[i][0], always[i][1]);
	return added;
}

static struct answer finish(unsigned status, struct MHD_Response *response, bool whole)
{
	if (response && !whole) {
		MHD_destroy_response(response);
		response = NULL;
	}
	return (struct answer){ response, status };
}

struct answer answer_json(unsigned status, json_t *value)
{
	char *text = value ? json_dumps(value, JSON_COMPACT) : NULL;
	struct MHD_Response *response = NULL;

	json_decref(value);
	if (text)
		response = MHD_create_response_from_buffer(strlen(text), text, MHD_RESPMEM_MUST_FREE);
	if (text && !response)
		free(text);
	return finish(status, response, response && answer_headers(response, "application/json", "no-store"));
}

struct answer answer_refusal(const struct refusal *refusal)
{
	struct answer answer =
		answer_json(refusal->status, json_pack("{s:{s:s, s:s, s:s}}", "error", "code", refusal->code, "message",
						       refusal->message, "hint", refusal->hint));
	char seconds[16];
	bool whole = true;

	if (!answer.response)
		return answer;
	if (refusal->allow)
		whole = add(answer.response, "Allow", refusal->allow);
	if (whole && refusal->retry_s) {
		(void)snprintf(seconds, sizeof seconds, "%u", refusal->retry_s);
		whole = add(answer.response, "Retry-After", seconds);
	}
	return finish(answer.status, answer.response, whole);
}

static struct MHD_Response *empty(void)
{
	static char nothing[1];

	return MHD_create_response_from_buffer(0, nothing, MHD_RESPMEM_PERSISTENT);
}

struct answer answer_empty(unsigned status, const char *location)
{
	struct MHD_Response *response = empty();
	bool whole = response && answer_headers(response, NULL, "no-store") &&
		     (!location || add(response, "Location", location));

	return finish(status, response, whole);
}

static const struct asset *find(const char *name)
{
	for (size_t i = 0; i < assets_n; i++)
		if (strcmp(assets[i].name, name) == 0)
			return &assets[i];
	return NULL;
}

struct answer answer_asset(const char *name, const char *if_none_match)
{
	const struct asset *asset = find(name);
	struct MHD_Response *response;
	bool known;

	if (!asset)
		return (struct answer){ 0 };
	known = if_none_match && strcmp(if_none_match, asset->etag) == 0;
	/* it is never written to: MHD_RESPMEM_PERSISTENT */
	response = known ? empty()
			 : MHD_create_response_from_buffer(asset->size, (void *)asset->data, MHD_RESPMEM_PERSISTENT);
	return finish(known ? MHD_HTTP_NOT_MODIFIED : MHD_HTTP_OK, response,
		      response && answer_headers(response, asset->type, "no-cache") &&
			      add(response, "ETag", asset->etag));
}
