// SPDX-License-Identifier: MIT
#include "client.h"
#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <poll.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

struct client {
	struct rig *rig;
	struct tape *tape;
	char name[16];
	int id; /* of the newest request */
};

struct client *client_open(struct rig *rig)
{
	struct client *client = calloc(1, sizeof *client);
	struct sockaddr_un address = { .sun_family = AF_UNIX };
	int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);

	if (!client || fd < 0)
		deck_fail(rig->deck, "no client: %s", strerror(errno));
	(void)snprintf(address.sun_path, sizeof address.sun_path, "%s", rig->socket);
	if (connect(fd, (const struct sockaddr *)&address, sizeof address) < 0)
		deck_fail(rig->deck, "can't connect to bismard: %s", strerror(errno));
	(void)fcntl(fd, F_SETFL, O_NONBLOCK); /* can't fail on a socket */
	client->rig = rig;
	(void)snprintf(client->name, sizeof client->name, "client %u", ++rig->clients);
	client->tape = tape_new(rig->deck, client->name, fd);
	return client;
}

struct client *client_close(struct client *client)
{
	if (!client)
		return NULL;
	tape_close(client->tape);
	free(client);
	return NULL;
}

bool client_write(struct client *client, const char *octets, size_t n)
{
	int64_t until_ms = deck_ms(client->rig->deck) + TAPE_PATIENCE_MS;

	while (n > 0) {
		int fd = tape_fd(client->tape);
		ssize_t taken = fd < 0 ? -1 : send(fd, octets, n, MSG_NOSIGNAL);
		if (taken > 0) {
			octets += taken;
			n -= (size_t)taken;
			continue;
		}
		if (fd < 0 || errno != EAGAIN)
			return false;
		if (deck_ms(client->rig->deck) > until_ms)
			deck_fail(client->rig->deck, "%s: bismard doesn't read", client->name);
		/* it may wait for us to read; without that, there is nothing to read and room may come */
		deck_turn(client->rig->deck, 0);
		(void)poll(&(struct pollfd){ .fd = fd, .events = POLLOUT }, 1, 10);
	}
	return true;
}

void client_say(struct client *client, const char *format, ...)
{
	va_list list;
	char *line = NULL;
	int n;

	va_start(list, format);
	n = vasprintf(&line, format, list);
	va_end(list);
	if (n < 0)
		abort();
	deck_note(client->rig->deck, client->name, "> %s", line);
	line[n] = '\n';                                  /* in place of the NUL */
	(void)client_write(client, line, (size_t)n + 1); /* closed: what is waited for next tells */
	free(line);
}

static bool is_text(const struct tape_line *line, const void *wanted)
{
	(void)wanted;
	return !line->json;
}

const char *client_line(struct client *client)
{
	return tape_take(client->tape, is_text, NULL, "a line of text")->text;
}

const char *client_word(struct client *client, const char *word)
{
	client_say(client, "%s", word);
	return client_line(client);
}

void client_read(struct client *client, bool on)
{
	tape_read(client->tape, on);
}

void client_await_end(struct client *client)
{
	tape_await_end(client->tape);
}

bool client_ended(const struct client *client)
{
	return tape_ended(client->tape);
}

/* ---- requests ---- */

static int ask(struct client *client, const char *method, const char *format, va_list list)
{
	json_t *request = json_pack("{s:s, s:i, s:s}", "jsonrpc", "2.0", "id", ++client->id, "method", method);
	json_t *params = format ? json_vpack_ex(NULL, 0, format, list) : NULL;
	char *line;

	if (!request || (format && (!params || json_object_set_new(request, "params", params) < 0)))
		deck_fail(client->rig->deck, "%s: params can't be made of %s", method, format ? format : "");
	line = json_dumps(request, JSON_COMPACT);
	if (!line)
		abort();
	client_say(client, "%s", line);
	free(line);
	json_decref(request);
	return client->id;
}

int client_ask(struct client *client, const char *method, const char *format, ...)
{
	va_list list;
	int id;

	va_start(list, format);
	id = ask(client, method, format, list);
	va_end(list);
	return id;
}

static bool is_reply(const struct tape_line *line, const void *id)
{
	const json_t *number = json_object_get(line->json, "id");

	return json_is_integer(number) && json_integer_value(number) == *(const int *)id;
}

const json_t *client_reply(struct client *client, int id)
{
	char what[32];

	(void)snprintf(what, sizeof what, "the reply to %d", id);
	return tape_take(client->tape, is_reply, &id, what)->json;
}

const json_t *client_call(struct client *client, const char *method, const char *format, ...)
{
	const json_t *reply, *result;
	va_list list;
	int id;

	va_start(list, format);
	id = ask(client, method, format, list);
	va_end(list);
	reply = client_reply(client, id);
	result = json_object_get(reply, "result");
	if (!result)
		deck_fail(client->rig->deck, "%s was refused", method);
	return result;
}

const json_t *client_refused(struct client *client, const char *code, const char *method, const char *format, ...)
{
	const json_t *error, *word;
	va_list list;
	int id;

	va_start(list, format);
	id = ask(client, method, format, list);
	va_end(list);
	error = json_object_get(client_reply(client, id), "error");
	word = json_object_get(json_object_get(error, "data"), "code");
	if (!error || !word || strcmp(json_string_value(word), code) != 0)
		deck_fail(client->rig->deck, "%s wasn't refused with %s", method, code);
	return error;
}

static bool is_stray_error(const struct tape_line *line, const void *wanted)
{
	(void)wanted;
	return json_is_object(json_object_get(line->json, "error")) && json_is_null(json_object_get(line->json, "id"));
}

const json_t *client_stray_error(struct client *client)
{
	return json_object_get(tape_take(client->tape, is_stray_error, NULL, "an error without id")->json, "error");
}

/* ---- notifications ---- */

struct wanted {
	const char *topic, *key, *value;
};

static bool is_notice(const struct tape_line *line, const void *userdata)
{
	const struct wanted *wanted = userdata;
	const char *method = json_string_value(json_object_get(line->json, "method")), *value;

	if (!method || strcmp(method, wanted->topic) != 0)
		return false;
	if (!wanted->key)
		return true;
	value = json_string_value(json_object_get(json_object_get(line->json, "params"), wanted->key));
	return value && strcmp(value, wanted->value) == 0;
}

const json_t *client_notice_of(struct client *client, const char *topic, const char *key, const char *value)
{
	const struct wanted wanted = { topic, key, value };
	char what[128];

	(void)snprintf(what, sizeof what, "a notification %s %s %s", topic, key ? key : "", value ? value : "");
	return json_object_get(tape_take(client->tape, is_notice, &wanted, what)->json, "params");
}

const json_t *client_notice(struct client *client, const char *topic)
{
	return client_notice_of(client, topic, NULL, NULL);
}

const json_t *client_look(struct client *client, const char *topic)
{
	const struct wanted wanted = { topic, NULL, NULL };
	const struct tape_line *line = tape_look(client->tape, is_notice, &wanted);

	return line ? json_object_get(line->json, "params") : NULL;
}

size_t client_notices(struct client *client, const char *topic)
{
	const struct wanted wanted = { topic, NULL, NULL };

	/* what was sent to us before the reply is here when the reply is */
	(void)client_call(client, "hello", NULL);
	return tape_count(client->tape, is_notice, &wanted);
}

const char *client_scale_state(struct client *client, const char *scale)
{
	const json_t *scales = json_object_get(client_call(client, "status", NULL), "scales"), *it;
	size_t i;

	json_array_foreach (scales, i, it)
		if (strcmp(client_text(client, it, "scale"), scale) == 0)
			return client_text(client, it, "state");
	return "";
}

void client_await_scale(struct client *client, const char *scale, const char *state)
{
	const char *now = client_scale_state(client, scale);

	while (strcmp(now, state) != 0)
		now = client_text(client, client_notice_of(client, "scale", "scale", scale), "state");
}

/* ---- members ---- */

const char *client_text(struct client *client, const json_t *object, const char *key)
{
	const char *text = json_string_value(json_object_get(object, key));

	if (!text)
		deck_fail(client->rig->deck, "%s: there is no text \"%s\"", client->name, key);
	return text;
}

int64_t client_mg(struct client *client, const json_t *object, const char *key)
{
	const json_t *number = json_object_get(object, key);
	double mg = json_number_value(number) * 1000;

	if (!json_is_number(number) || fabs(mg - round(mg)) > 1e-6)
		deck_fail(client->rig->deck, "%s: \"%s\" is no whole number of milligrams", client->name, key);
	return (int64_t)llround(mg);
}
