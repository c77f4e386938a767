// SPDX-License-Identifier: MIT
/* The test plays the daemon; messages are as the JSON-RPC 2.0 specification and protocols/prompt.md have them. */
#include "contrib/client/peer.h"
#include "tests/unit/ctl/lab.h"
#include <errno.h>
#include <stdio.h>
#include <sys/select.h>

#define TOLD 1024

struct desk {
	struct lab lab;
	sd_event *event;
	struct peer *peer;
	int fd;          /* the daemon's end */
	FILE *in;        /* the same, to read lines */
	char told[TOLD]; /* what the calls and replies said, in order */
};

__attribute__((format(printf, 2, 3))) static void note(struct desk *desk, const char *format, ...)
{
	size_t n = strlen(desk->told);
	va_list ap;

	va_start(ap, format);
	(void)vsnprintf(desk->told + n, sizeof desk->told - n, format, ap);
	va_end(ap);
}

static void on_up(void *user)
{
	note(user, "up|");
}

static void on_down(void *user, const char *say)
{
	note(user, "down %.15s|", say);
}

static void on_notice(void *user, const char *topic, const json_t *params)
{
	note(user, "%s %s|", topic, json_string_value(json_object_get(params, "ask")));
}

static const struct peer_calls calls = { .up = on_up, .down = on_down, .notice = on_notice };
static const char *const topics[] = { "ask", "recorded", NULL };

static void on_reply(void *user, enum peer_outcome outcome, const json_t *body)
{
	const json_t *code = json_object_get(json_object_get(body, "data"), "code");

	if (outcome == PEER_REFUSED)
		note(user, "refused %s|", json_string_value(code));
	else
		note(user, "%s|", outcome == PEER_LOST ? "lost" : "result");
}

/* Lets the loop do what there is; all of it is local, so none of it is waited for. */
static void settle(struct desk *desk)
{
	while (sd_event_run(desk->event, 0) > 0)
		;
}

/* Lets the loop run until something more was told. */
static void await(struct desk *desk)
{
	size_t n = strlen(desk->told);

	while (strlen(desk->told) == n)
		assert_true(sd_event_run(desk->event, UINT64_MAX) >= 0);
}

static void is_told(struct desk *desk, const char *text)
{
	assert_string_equal(desk->told, text);
	*desk->told = '\0';
}

static void tell(struct desk *desk, const char *text)
{
	assert_int_equal(write(desk->fd, text, strlen(text)), (ssize_t)strlen(text));
	settle(desk);
}

/* The next request that the daemon gets. */
static json_t *hear(struct desk *desk)
{
	char *line = NULL;
	size_t size = 0;
	json_t *request;

	assert_true(getline(&line, &size, desk->in) > 0);
	request = json_loads(line, 0, NULL);
	assert_non_null(request);
	free(line);
	return request;
}

static void answer(struct desk *desk, json_t *request, const char *members)
{
	char text[256];

	(void)snprintf(text, sizeof text, "{\"jsonrpc\":\"2.0\",\"id\":%lld,%s}\n",
		       (long long)json_integer_value(json_object_get(request, "id")), members);
	json_decref(request);
	tell(desk, text);
}

static void meet(struct desk *desk)
{
	desk->fd = accept(desk->lab.listener, NULL, NULL);
	assert_true(desk->fd >= 0);
	desk->in = fdopen(desk->fd, "r");
	assert_non_null(desk->in);
}

static void part(struct desk *desk)
{
	assert_int_equal(fclose(desk->in), 0);
	desk->in = NULL;
}

static json_t *hear_follow(struct desk *desk, size_t n)
{
	json_t *request = hear(desk);

	assert_string_equal(json_string_value(json_object_get(request, "method")), "follow");
	assert_int_equal(json_array_size(json_object_get(json_object_get(request, "params"), "topics")), n);
	return request;
}

static void connect_up(struct desk *desk)
{
	json_t *none;

	/* listening: the socket is there, so the first attempt's only event connects */
	for (int ready = 0; !ready;) {
		struct timeval zero = { 0 };
		fd_set set;

		assert_true(sd_event_run(desk->event, UINT64_MAX) >= 0);
		FD_ZERO(&set);
		FD_SET(desk->lab.listener, &set);
		ready = select(desk->lab.listener + 1, &set, NULL, NULL, &zero);
	}
	meet(desk);
	none = hear_follow(desk, 0);
	json_t *follow = hear_follow(desk, 2);
	tell(desk, "{\"jsonrpc\":\"2.0\",\"method\":\"ask\",\"params\":{\"ask\":\"before\"}}\n");
	answer(desk, none, "\"result\":{\"topics\":[]}");
	is_told(desk, "");
	answer(desk, follow, "\"result\":{\"topics\":[\"ask\",\"recorded\"]}");
	is_told(desk, "up|");
	assert_true(peer_is_up(desk->peer));
}

static void open_desk(struct desk *desk)
{
	*desk = (struct desk){ .fd = -1 };
	lab_init(&desk->lab);
	assert_true(sd_event_new(&desk->event) >= 0);
	assert_int_equal(peer_new(&desk->peer, desk->event, desk->lab.socket, topics, &calls, desk), 0);
	assert_false(peer_is_up(desk->peer));
}

static void close_desk(struct desk *desk)
{
	desk->peer = peer_free(desk->peer);
	if (desk->in)
		part(desk);
	sd_event_unref(desk->event);
	lab_done(&desk->lab);
}

static void test_notices(void **state)
{
	struct desk desk;

	(void)state;
	open_desk(&desk);
	connect_up(&desk); /* the asks that come before the reply come again after it: handed out once */
	tell(&desk, "{\"jsonrpc\":\"2.0\",\"method\":\"ask\",\"params\":{\"ask\":\"a\"}}\n"
		    "{\"jsonrpc\":\"2.0\",\"method\":\"recorded\",\"params\":{\"ask\":\"b\"}}\n");
	is_told(&desk, "ask a|recorded b|");
	close_desk(&desk);
}

static void test_requests(void **state)
{
	struct desk desk;
	json_t *first, *second;

	(void)state;
	open_desk(&desk);
	assert_int_equal(peer_request(desk.peer, "status", NULL, on_reply, &desk), -ENOTCONN);
	connect_up(&desk);
	assert_int_equal(peer_request(desk.peer, "answer", json_pack("{s:s}", "animal", "green"), on_reply, &desk), 0);
	assert_int_equal(peer_request(desk.peer, "status", NULL, on_reply, &desk), 0);
	assert_int_equal(peer_request(desk.peer, "round", NULL, NULL, NULL), 0);
	first = hear(&desk);
	second = hear(&desk);
	assert_string_equal(json_string_value(json_object_get(json_object_get(first, "params"), "animal")), "green");
	assert_null(json_object_get(second, "params")); /* an object, an array, or not there: JSON-RPC 2.0, 4.2 */
	answer(&desk, second, "\"result\":{}"); /* the specification lets replies come in any order */
	is_told(&desk, "result|");
	answer(&desk, first, "\"error\":{\"code\":-32000,\"message\":\"m\",\"data\":{\"code\":\"not-found\"}}");
	is_told(&desk, "refused not-found|");
	answer(&desk, hear(&desk), "\"result\":{}");
	is_told(&desk, "");
	close_desk(&desk);
}

static void test_lost(void **state)
{
	struct desk desk;

	(void)state;
	open_desk(&desk);
	connect_up(&desk);
	assert_int_equal(peer_request(desk.peer, "answer", NULL, on_reply, &desk), 0);
	json_decref(hear(&desk));
	part(&desk);
	settle(&desk);
	is_told(&desk, "lost|down The daemon at /|");
	assert_false(peer_is_up(desk.peer));
	assert_int_equal(peer_request(desk.peer, "status", NULL, on_reply, &desk), -ENOTCONN);
	connect_up(&desk); /* by itself */
	assert_int_equal(peer_request(desk.peer, "answer", NULL, on_reply, &desk), 0);
	close_desk(&desk);
	is_told(&desk, "lost|");
}

static void test_nobody(void **state)
{
	struct desk desk;

	(void)state;
	open_desk(&desk);
	assert_int_equal(unlink(desk.lab.socket), 0);
	await(&desk);
	is_told(&desk, "down No daemon answe|");
	for (int i = 0; i < 3; i++) /* more attempts, and not told again */
		assert_true(sd_event_run(desk.event, UINT64_MAX) >= 0);
	is_told(&desk, "");
	close_desk(&desk);
	assert_null(peer_free(NULL));
}

static void test_broken(void **state)
{
	struct desk desk;

	(void)state;
	open_desk(&desk);
	connect_up(&desk);
	tell(&desk, "{\"jsonrpc\":\"2.0\",\"method\":\"ask\",\"params\":{\"ask\":\"a\"}}\nnonsense\n");
	is_told(&desk, "ask a|down What answers at|"); /* what came before it counts */
	close_desk(&desk);
}

static void test_older(void **state)
{
	struct desk desk;

	(void)state;
	open_desk(&desk);
	assert_true(sd_event_run(desk.event, UINT64_MAX) >= 0);
	meet(&desk);
	answer(&desk, hear_follow(&desk, 0), "\"result\":{}");
	answer(&desk, hear_follow(&desk, 2),
	       "\"error\":{\"code\":-32602,\"message\":\"Invalid params: unknown topic\",\"data\":{\"code\":"
	       "\"unknown-topic\"}}");
	is_told(&desk, "down Invalid params:|");
	close_desk(&desk);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_notices), cmocka_unit_test(test_requests), cmocka_unit_test(test_lost),
		cmocka_unit_test(test_nobody),  cmocka_unit_test(test_broken),   cmocka_unit_test(test_older),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
