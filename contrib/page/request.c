// SPDX-License-Identifier: MIT
#include "contrib/page/request.h"

const char *request_header(const struct request *request, const char *name)
{
	return MHD_lookup_connection_value(request->connection, MHD_HEADER_KIND, name);
}

void request_refuse(struct request *request, unsigned status, const char *code, const char *message, const char *hint)
{
	request->answer =
		answer_refusal(&(struct refusal){ .status = status, .code = code, .message = message, .hint = hint });
}

json_t *request_object(struct request *request)
{
	json_t *object = request->body ? json_loadb(request->body, request->n, JSON_REJECT_DUPLICATES, NULL) : NULL;

	if (json_is_object(object))
		return object;
	json_decref(object);
	request_refuse(request, MHD_HTTP_BAD_REQUEST, "malformed", "The body isn't a JSON object.",
		       "Send one object, in UTF-8, no name twice.");
	return NULL;
}
