// SPDX-License-Identifier: MIT
#include "contrib/page/judge.h"
#include "contrib/page/host.h"
#include "contrib/page/route.h"
#include <strings.h>

#define COOKIE "bismar"
/* A phone's own requests; a person's thumb makes a few a second. */
#define PHONE_BURST 60.0
#define PHONE_PER_S 20.0

static void refuse(struct request *request, unsigned status, const char *code, const char *message, const char *hint)
{
	request->refusal = (struct refusal){ .status = status, .code = code, .message = message, .hint = hint };
}

static const char *cookie_of(const struct request *request)
{
	return MHD_lookup_connection_value(request->connection, MHD_COOKIE_KIND, COOKIE);
}

/* Whose it is; and what a paired phone may do in a second. */
static void recognise(const struct judge *judge, struct request *request)
{
	const union MHD_ConnectionInfo *info =
		MHD_get_connection_info(request->connection, MHD_CONNECTION_INFO_SOCKET_CONTEXT);
	const char *token = cookie_of(request);
	struct rate *rate = NULL;
	const struct paired_phone *phone = token ? phones_find(judge->phones, token, &rate) : NULL;
	unsigned retry_s = 0;

	if (!phone)
		return;
	request->paired = true;
	request->phone = *phone;
	if (info)
		guests_greet(judge->guests, info->socket_context);
	if (rate_take(rate, PHONE_BURST, PHONE_PER_S, judge->now_usec, &retry_s))
		return;
	refuse(request, MHD_HTTP_TOO_MANY_REQUESTS, "too-many", "Too many requests.", "Wait a moment.");
	request->refusal.retry_s = retry_s;
}

static bool is_json(const char *type)
{
	size_t n = type ? strcspn(type, "; ") : 0;

	return n == strlen("application/json") && strncasecmp(type, "application/json", n) == 0;
}

/* Whether another site had a hand in it. */
static bool is_cross(const struct judge *judge, const struct request *request)
{
	const struct route *route = request->route;
	const char *mode = request_header(request, "Sec-Fetch-Mode");

	if (route->kind == ROUTE_CALL && !request_header(request, "X-Bismar"))
		return true; /* a form can't send it, and a script of another site must ask first */
	if (!host_is_origin(request_header(request, "Origin"), request_header(request, "Host"),
			    judge->options->certificate != NULL))
		return true;
	return host_is_cross(request_header(request, "Sec-Fetch-Site")) &&
	       !(route->page && mode && strcmp(mode, "navigate") == 0);
}

void judge_too_large(struct request *request)
{
	refuse(request, MHD_HTTP_CONTENT_TOO_LARGE, "too-large", "The body is over 64 KiB.", "Send less.");
}

static void look_at_post(struct request *request)
{
	const char *length = request_header(request, "Content-Length");

	if (!is_json(request_header(request, "Content-Type")))
		refuse(request, MHD_HTTP_UNSUPPORTED_MEDIA_TYPE, "not-json", "The body isn't declared as JSON.",
		       "Send it with Content-Type: application/json.");
	else if (length && strtoull(length, NULL, 10) > REQUEST_BODY_MAX)
		judge_too_large(request);
}

static void refuse_route(struct request *request, const char *path)
{
	if (!request->paired && !route_find(path, "GET")) {
		refuse(request, MHD_HTTP_UNAUTHORIZED, "not-paired", "This phone isn't paired.", "Open /pair.");
	} else if (!route_known(path)) {
		refuse(request, MHD_HTTP_NOT_FOUND, "not-found", "There is nothing of that name.", "Open /.");
	} else {
		refuse(request, MHD_HTTP_METHOD_NOT_ALLOWED, "method", "That can't be done with it.",
		       "See the header Allow.");
		request->refusal.allow = !route_find(path, "GET")   ? "POST"
					 : route_find(path, "POST") ? "GET, HEAD, POST"
					 : route_find(path, "HEAD") ? "GET, HEAD"
								    : "GET";
	}
}

void judge_request(const struct judge *judge, struct request *request, const char *path, const char *method)
{
	const struct server_options *options = judge->options;

	if (!host_is_ours(request_header(request, "Host"), options->names, options->n_names)) {
		refuse(request, MHD_HTTP_MISDIRECTED_REQUEST, "wrong-host", "This server isn't known under that name.",
		       "Use its address, or start bismar-page with --host NAME.");
		return;
	}
	recognise(judge, request);
	if (request->refusal.status)
		return;
	request->route = route_find(path, method);
	if (!request->route)
		refuse_route(request, path);
	else if (is_cross(judge, request))
		refuse(request, MHD_HTTP_FORBIDDEN, "cross-site", "Another site has asked for this.",
		       "Open the page itself.");
	else if (!request->paired && !request->route->open && !request->route->page)
		refuse(request, MHD_HTTP_UNAUTHORIZED, "not-paired", "This phone isn't paired.", "Open /pair.");
	else if (request->route->post)
		look_at_post(request);
}
