// SPDX-License-Identifier: MIT
/* The test plays the daemon; messages are as the JSON-RPC 2.0 specification has them. */
#include "daemon/ctl/field.h"
#include "daemon/ctl/socket.h"
#include "daemon/limits.h"
#include "lab.h"
#include <errno.h>

static struct lab lab;

static struct socket *meet(int *ret_peer)
{
	struct socket *socket = NULL;

	lab_init(&lab);
	assert_int_equal(socket_new(lab.socket, &socket), 0);
	*ret_peer = accept(lab.listener, NULL, NULL);
	assert_true(*ret_peer >= 0);
	return socket;
}

static void tell(int peer, const char *text)
{
	assert_int_equal(write(peer, text, strlen(text)), (ssize_t)strlen(text));
}

static void part(struct socket *socket, int peer)
{
	socket_free(socket);
	(void)close(peer);
	lab_done(&lab);
}

static void test_nobody(void **state)
{
	struct socket *socket = (struct socket *)&lab;
	char path[200];

	(void)state;
	assert_int_equal(socket_new("/nonexistent/sock", &socket), -ENOENT);
	memset(path, 'x', sizeof path - 1);
	path[sizeof path - 1] = '\0';
	assert_int_equal(socket_new(path, &socket), -ENAMETOOLONG);
	lab_init(&lab);
	(void)close(lab.listener);
	assert_int_equal(socket_new(lab.socket, &socket), -ECONNREFUSED);
	assert_ptr_equal(socket, &lab);
	lab_done(&lab);
	assert_null(socket_free(NULL));
}

static void test_request(void **state)
{
	char line[256] = "";
	json_t *params = json_pack("{s:s}", "animal", "green"), *request;
	int64_t id, other;
	int peer;
	struct socket *socket = meet(&peer);

	(void)state;
	assert_int_equal(socket_send(socket, "answer", params, &id), 0);
	assert_int_equal(socket_send(socket, "status", NULL, &other), 0);
	assert_true(id != other);
	json_decref(params);
	ssize_t n = read(peer, line, sizeof line - 1);
	assert_true(n > 0);
	char *end = memchr(line, '\n', (size_t)n);
	assert_non_null(end); /* one object a line */
	*end = '\0';
	request = json_loads(line, 0, NULL);
	assert_string_equal(field_text(request, "jsonrpc"), "2.0");
	assert_string_equal(field_text(request, "method"), "answer");
	assert_int_equal(json_integer_value(json_object_get(request, "id")), id);
	assert_string_equal(field_text(json_object_get(request, "params"), "animal"), "green");
	json_decref(request);
	part(socket, peer);
}

static void test_messages(void **state)
{
	json_t *message = NULL;
	int peer;
	struct socket *socket = meet(&peer);

	(void)state;
	assert_int_equal(socket_next(socket, &message), SOCKET_EMPTY);
	assert_int_equal(socket_wait(socket, 0, &message), -ETIMEDOUT);
	/* in pieces, then two at once */
	tell(peer, "{\"jsonrpc\":\"2.0\",\"id\":7,\"res");
	assert_int_equal(socket_wait(socket, 0, &message), -ETIMEDOUT);
	tell(peer, "ult\":1}\n{\"jsonrpc\":\"2.0\",\"method\":\"ask\",\"params\":{}}\n{");
	assert_int_equal(socket_wait(socket, 1000, &message), SOCKET_MESSAGE);
	assert_true(socket_answers(message, 7));
	assert_false(socket_answers(message, 8));
	json_decref(message);
	assert_int_equal(socket_next(socket, &message), SOCKET_MESSAGE);
	assert_string_equal(field_text(message, "method"), "ask");
	assert_false(socket_answers(message, 7));
	json_decref(message);
	assert_int_equal(socket_next(socket, &message), SOCKET_EMPTY);
	tell(peer, "}\n");
	assert_int_equal(socket_wait(socket, 1000, &message), SOCKET_MESSAGE);
	json_decref(message);
	part(socket, peer);
}

static void test_trouble(void **state)
{
	static const char *const lines[] = { "hello\n", "[]\n", "\n", "{\"a\":1,\"a\":2}\n", "{\"a\":\"\xff\"}\n" };
	json_t *message = NULL;
	int peer;
	struct socket *socket = meet(&peer);

	(void)state;
	for (size_t i = 0; i < sizeof lines / sizeof *lines; i++) {
		tell(peer, lines[i]);
		assert_int_equal(socket_wait(socket, 1000, &message), -EPROTO);
		assert_null(message);
	}
	(void)close(peer);
	assert_int_equal(socket_wait(socket, 1000, &message), -ECONNRESET);
	part(socket, -1);
}

/* A line without end isn't kept for ever. */
static void test_endless(void **state)
{
	static char much[4096];
	json_t *message = NULL;
	size_t sent = 0;
	int peer, r = 0;
	struct socket *socket = meet(&peer);

	(void)state;
	memset(much, 'x', sizeof much);
	while (r == 0 && sent < 4 * LIMIT_QUEUE_BYTES) {
		assert_int_equal(write(peer, much, sizeof much), sizeof much);
		sent += sizeof much;
		r = socket_fill(socket);
	}
	assert_int_equal(r, -EMSGSIZE);
	assert_true(sent > LIMIT_QUEUE_BYTES); /* but all that the daemon may hold for a client fits */
	assert_int_equal(socket_next(socket, &message), SOCKET_EMPTY);
	part(socket, peer);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_nobody),  cmocka_unit_test(test_request), cmocka_unit_test(test_messages),
		cmocka_unit_test(test_trouble), cmocka_unit_test(test_endless),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
