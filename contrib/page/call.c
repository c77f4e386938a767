// SPDX-License-Identifier: MIT
#include "contrib/page/call.h"
#include "contrib/page/allow.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/socket.h"

struct call {
	struct calls *calls;
	struct request *request; /* NULL: it has gone */
	int64_t since_ms;
};

static int64_t clock_ms(void)
{
	struct timespec now;

	(void)clock_gettime(CLOCK_MONOTONIC, &now); /* can't fail */
	return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

static void refuse_lost(struct request *request, bool late)
{
	if (late)
		request_refuse(request, MHD_HTTP_GATEWAY_TIMEOUT, "timeout", "bismard didn't answer in time.",
			       "Look whether it was done before you do it again.");
	else
		request_refuse(
			request, MHD_HTTP_BAD_GATEWAY, "no-daemon", "bismard doesn't answer.",
			"Look whether it was done before you do it again; `systemctl status bismard` at the computer.");
}

/* The daemon's error as its readers want it: code is the word, the rest of its data stays. */
static struct answer refused(const json_t *error)
{
	json_t *told = json_object();
	const json_t *message = json_object_get(error, "message");

	if (told && json_object_update(told, json_object_get(error, "data")) < 0) {
		/* an error without data is of a daemon of another time */
		(void)json_object_set_new(told, "code", json_string("refused"));
		(void)json_object_set_new(told, "hint", json_string(""));
	}
	if (told && message)
		(void)json_object_set(told, "message", (json_t *)message);
	return answer_json(MHD_HTTP_CONFLICT, told ? json_pack("{s:o}", "error", told) : NULL);
}

static void on_reply(void *user, enum peer_outcome outcome, const json_t *body)
{
	struct call *call = user;
	struct request *request = call->request;

	call->calls->n--;
	if (request) {
		switch (outcome) {
		case PEER_RESULT:
			request->answer = answer_json(MHD_HTTP_OK, json_pack("{s:O}", "result", body));
			break;
		case PEER_REFUSED:
			request->answer = refused(body);
			break;
		case PEER_LOST:
			refuse_lost(request, clock_ms() - call->since_ms >= SOCKET_PATIENCE_MS);
			break;
		}
		request->call = NULL;
		MHD_resume_connection(request->connection);
		call->calls->run(call->calls->user);
	}
	free(call);
}

void call_forget(struct request *request)
{
	if (request->call)
		request->call->request = NULL;
	request->call = NULL;
}

/* The params with `by`; a new reference, NULL after refusing. */
static json_t *params_of(struct request *request, const json_t *object, const struct allow *allow)
{
	const json_t *given = json_object_get(object, "params");
	json_t *params = given && !json_is_null(given) ? json_copy((json_t *)given) : json_object();

	if (!json_is_object(params)) {
		json_decref(params);
		request_refuse(request, MHD_HTTP_BAD_REQUEST, "malformed", "params isn't an object.",
			       "Send {\"method\":…,\"params\":{…}}.");
		return NULL;
	}
	if (allow->by && !*field_text(params, "by") && field_put(params, "by", request->phone.name) < 0) {
		json_decref(params);
		request_refuse(request, MHD_HTTP_SERVICE_UNAVAILABLE, "internal", "There is no memory.", "Try again.");
		return NULL;
	}
	return params;
}

static void pass_on(struct calls *calls, struct request *request, const char *method, json_t *params)
{
	struct call *call = calloc(1, sizeof *call);
	int r;

	if (!call) {
		json_decref(params);
		request_refuse(request, MHD_HTTP_SERVICE_UNAVAILABLE, "internal", "There is no memory.", "Try again.");
		return;
	}
	*call = (struct call){ calls, request, clock_ms() };
	r = peer_request(calls->peer, method, params, on_reply, call);
	if (r < 0) {
		free(call);
		request_refuse(request, MHD_HTTP_BAD_GATEWAY, "no-daemon", "bismard doesn't answer.",
			       "Nothing was done. `systemctl status bismard` at the computer.");
		return;
	}
	calls->n++;
	request->call = call;
	MHD_suspend_connection(request->connection);
}

void call_begin(struct calls *calls, struct request *request)
{
	json_t *object = request_object(request), *params;
	const char *method = field_text(object, "method");
	const struct allow *allow = allow_find(method);

	if (!object)
		return;
	if (!json_is_string(json_object_get(object, "method"))) {
		request_refuse(request, MHD_HTTP_BAD_REQUEST, "malformed", "There is no method.",
			       "Send {\"method\":…,\"params\":{…}}.");
	} else if (!allow) {
		request_refuse(request, MHD_HTTP_FORBIDDEN, "method-not-allowed", "A phone may not do that.",
			       "Type it at the computer with `bismar`.");
	} else if (calls->n >= CALL_MAX) {
		request->answer = answer_refusal(&(struct refusal){ .status = MHD_HTTP_TOO_MANY_REQUESTS,
								    .code = "too-many",
								    .message = "Too many requests are under way.",
								    .hint = "Wait a moment.",
								    .retry_s = 1 });
	} else {
		params = params_of(request, object, allow);
		if (params)
			pass_on(calls, request, method, params);
	}
	json_decref(object);
}
