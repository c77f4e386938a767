// SPDX-License-Identifier: MIT
#include "daemon/ctl/request.h"
#include "daemon/ctl/args.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/text.h"
#include <errno.h>
#include <limits.h>
#include <stdarg.h>

#define METHOD_NOT_FOUND (-32601) /* JSON-RPC 2.0, 5.1 */

void request_trouble(const char *path, int r, char *buffer, size_t size)
{
	switch (-r) {
	case ENOENT:
	case ECONNREFUSED:
	case ENOTSOCK:
		(void)snprintf(buffer, size,
			       "No daemon answers at %s: start it with `systemctl start bismard`, or name "
			       "its socket with --socket.",
			       path);
		break;
	case EACCES:
	case EPERM:
		(void)snprintf(buffer, size,
			       "You may not speak to the daemon at %s: join its group (`sudo usermod -aG "
			       "bismar $USER`) and log in again.",
			       path);
		break;
	case ENAMETOOLONG:
		(void)snprintf(buffer, size, "The path %s is too long for a socket.", path);
		break;
	case ETIMEDOUT:
	case EAGAIN:
		(void)snprintf(buffer, size, "The daemon at %s doesn't answer: look at `systemctl status bismard`.",
			       path);
		break;
	case ECONNRESET:
	case EPIPE:
		(void)snprintf(buffer, size,
			       "The daemon at %s has closed the connection: look at `systemctl status "
			       "bismard`.",
			       path);
		break;
	case EPROTO:
	case EMSGSIZE:
		(void)snprintf(buffer, size, "What answers at %s isn't bismard, or another version of it.", path);
		break;
	default:
		(void)snprintf(buffer, size, "Speaking to the daemon at %s failed: %s.", path, strerror(-r));
		break;
	}
}

static enum ctl_status trouble(const struct ctl *ctl, int r)
{
	char text[512];

	request_trouble(ctl->socket_path, r, text, sizeof text);
	ctl_error("%s", text);
	return CTL_ABSENT;
}

static const char *stop(const char *text)
{
	size_t n = strlen(text);

	return n && (text[n - 1] == '.' || text[n - 1] == '?' || text[n - 1] == '!') ? "" : ".";
}

void request_refusal(const json_t *error, char *buffer, size_t size)
{
	const char *message = field_text(error, "message");
	const char *hint = field_text(json_object_get(error, "data"), "hint");
	char raw[1024];
	int64_t code = 0;

	if (field_whole(error, "code", &code) && code == METHOD_NOT_FOUND)
		hint = "The daemon is of another version than this program.";
	(void)snprintf(raw, sizeof raw, "%s%s%s%s", message, stop(message), *hint ? " " : "", hint);
	if (*hint && strlen(raw) + 1 < sizeof raw && *stop(hint))
		raw[strlen(raw) + 1] = '\0', raw[strlen(raw)] = '.';
	/* a reason can quote a name that somebody sent: nothing of it may steer the terminal */
	(void)text_fit(buffer, size, raw, UINT_MAX, true);
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

enum ctl_status request_on(const struct ctl *ctl, struct socket *socket, const char *method, json_t *params,
			   json_t **ret_result)
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
		r = socket_wait(socket, SOCKET_PATIENCE_MS, &message);
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
