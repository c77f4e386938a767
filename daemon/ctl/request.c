// SPDX-License-Identifier: MIT
#include "daemon/ctl/request.h"
#include "daemon/ctl/args.h"
#include "daemon/ctl/field.h"
#include <errno.h>
#include <limits.h>
#include <stdarg.h>

static enum ctl_status trouble(const struct ctl *ctl, int r)
{
	char text[512];

	request_trouble(ctl->socket_path, r, text, sizeof text);
	ctl_error("%s", text);
	return CTL_ABSENT;
}

enum ctl_status request_open(const struct ctl *ctl, struct socket **ret)
{
	int r = socket_new(ctl->socket_path, ret);

	return r < 0 ? trouble(ctl, r) : CTL_DONE;
}

static enum ctl_status take(json_t *message, json_t **ret_result)
{
	const json_t *error = json_object_get(message, "error");
	char text[1024];

	if (!error) {
		*ret_result = json_incref(json_object_get(message, "result"));
		return CTL_DONE;
	}
	request_refusal(error, text, sizeof text);
	ctl_error("%s", text);
	return CTL_REFUSED;
}

enum ctl_status request_within(const struct ctl *ctl, struct socket *socket, int timeout_ms, const char *method,
			       json_t *params, json_t **ret_result)
{
	json_t *message = NULL;
	enum ctl_status status;
	int64_t id;
	int r;

	if (!params)
		return trouble(ctl, -ENOMEM);
	r = socket_send(socket, method, params, &id);
	json_decref(params);
	while (r == 0) {
		r = socket_wait(socket, timeout_ms, &message);
		if (r != 0)
			break;
		if (socket_answers(message, id)) {
			status = take(message, ret_result);
			json_decref(message);
			return status;
		}
		json_decref(message);
	}
	return trouble(ctl, r);
}

enum ctl_status request_on(const struct ctl *ctl, struct socket *socket, const char *method, json_t *params,
			   json_t **ret_result)
{
	return request_within(ctl, socket, SOCKET_PATIENCE_MS, method, params, ret_result);
}

enum ctl_status request_follow(const struct ctl *ctl, json_t *topics, struct socket **ret)
{
	enum ctl_status status = request_open(ctl, ret);
	json_t *result = NULL;

	if (status != CTL_DONE) {
		json_decref(topics);
		return status;
	}
	status = request_on(ctl, *ret, "follow", topics ? json_pack("{s:o}", "topics", topics) : NULL, &result);
	json_decref(result);
	if (status != CTL_DONE)
		*ret = socket_free(*ret);
	return status;
}

enum ctl_status request_call(const struct ctl *ctl, const char *method, json_t *params, json_t **ret_result)
{
	struct socket *socket;
	enum ctl_status status = request_open(ctl, &socket);

	if (status != CTL_DONE) {
		json_decref(params);
		return status;
	}
	status = request_on(ctl, socket, method, params, ret_result);
	socket_free(socket);
	return status;
}

enum ctl_status request_notice(const struct ctl *ctl, struct socket *socket, const char *topic, int timeout_ms,
			       json_t **ret_params)
{
	for (;;) {
		json_t *message = NULL;
		int r = socket_wait(socket, timeout_ms, &message);
		if (r != 0)
			return trouble(ctl, r);
		if (strcmp(field_text(message, "method"), topic) == 0) {
			*ret_params = json_incref(json_object_get(message, "params"));
			json_decref(message);
			return CTL_DONE;
		}
		json_decref(message);
	}
}

json_t *request_params(const struct ctl *ctl)
{
	return ctl->by ? json_pack("{s:s}", "by", ctl->by) : json_object();
}

enum ctl_status request_show(const struct ctl *ctl, const char *method, json_t *params,
			     void (*show)(const struct ctl *ctl, const json_t *result))
{
	json_t *result = NULL;
	enum ctl_status status = request_call(ctl, method, params, &result);

	if (status != CTL_DONE)
		return status;
	if (ctl->json)
		field_print(result);
	else
		show(ctl, result);
	json_decref(result);
	return ctl_flush();
}

enum ctl_status request_print(const struct ctl *ctl, json_t *result, const char *format, ...)
{
	va_list list;

	va_start(list, format);
	if (ctl->json)
		field_print(result);
	else if (vprintf(format, list) >= 0)
		(void)putchar('\n'); /* failures stay in stdout's error flag, for ctl_flush() */
	va_end(list);
	json_decref(result);
	return ctl_flush();
}

enum ctl_status request_named(struct ctl *ctl, int argc, char **argv, const char *method, const char *before,
			      const char *after)
{
	enum ctl_status status;
	struct args args;
	json_t *params, *result = NULL;

	if (!args_parse(ctl, argc, argv, NULL, 0, 1, 1, &args))
		return CTL_USAGE;
	params = request_params(ctl);
	(void)field_put(params, "name", args.words[0]); /* left out for lack of memory, it is refused */
	status = request_call(ctl, method, params, &result);
	return status == CTL_DONE ? request_print(ctl, result, "%s %s %s", before, args.words[0], after) : status;
}

enum ctl_status request_of_whom(struct ctl *ctl, int argc, char **argv, const char *method, int64_t *ret_as_of_ms,
				json_t **ret_result)
{
	const char *as_of = NULL;
	const struct args_option options[] = { { .name = "--as-of", .value = &as_of } };
	struct args args;
	json_t *params;
	int64_t as_of_ms = 0;

	if (!args_parse(ctl, argc, argv, options, 1, 0, 1, &args) || !args_time(ctl, as_of, &as_of_ms))
		return CTL_USAGE;
	params = json_object();
	if (field_put(params, "who", args.n ? args.words[0] : NULL) < 0 ||
	    (as_of && field_put_time(params, "as_of", as_of_ms) < 0)) {
		json_decref(params); /* without them it would be another question */
		params = NULL;
	}
	*ret_as_of_ms = as_of_ms;
	return request_call(ctl, method, params, ret_result);
}
