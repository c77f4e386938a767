// SPDX-License-Identifier: MIT
#include "daemon/ctl/field.h"
#include "daemon/ctl/request.h"
#include "daemon/ctl/text.h"
#include <errno.h>
#include <limits.h>

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
