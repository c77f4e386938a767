// SPDX-License-Identifier: MIT
/*
 * The prompt on a real socket: server and clients in one thread, the loop driven by hand, nothing waits.
 * SIGPIPE keeps its default, so a write that raises it ends the test.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>

#include "daemon/limits.h"
#include "daemon/log.h"
#include "daemon/prompt/prompt.h"
#include <errno.h>
#include <fcntl.h>
#include <malloc.h>
#include <pwd.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <systemd/sd-event.h>
#include <unistd.h>

#define TURNS_MAX 1000000 /* of the loop without waiting: more is a busy loop */

/* ---- the server ---- */

static struct {
	char dir[64], path[128];
	sd_event *event;
	struct prompt *prompt;
	int open_asks;
	size_t padding; /* octets in each ask and notice */
	int words, bigs;
	char word[300];
	const struct rpc_caller *echoed; /* who asked last */
	const struct rpc_caller *left;   /* whose connection ended last */
	int n_left;
} server;

static void tell(enum prompt_topic topic, int number)
{
	char *padding = calloc(1, server.padding + 1), text[64];
	struct prompt_notice notice = { .topic = topic, .text = text };

	assert_non_null(padding);
	memset(padding, 'x', server.padding);
	(void)snprintf(text, sizeof text, "%s\n%d", prompt_topic_text(topic), number);
	notice.params = json_pack("{s:i, s:s}", "number", number, "padding", padding);
	assert_non_null(notice.params);
	prompt_tell(server.prompt, &notice);
	json_decref(notice.params);
	free(padding);
}

static void on_open_asks(void *userdata, void (*fn)(void *, const struct prompt_notice *), void *context)
{
	char *padding = calloc(1, server.padding + 1);

	(void)userdata;
	assert_non_null(padding);
	memset(padding, 'x', server.padding);
	for (int i = 0; i < server.open_asks; i++) {
		struct prompt_notice notice = { .topic = PROMPT_ASK, .text = "ask" };

		notice.params = json_pack("{s:i, s:s}", "number", i, "padding", padding);
		fn(context, &notice);
		json_decref(notice.params);
	}
	free(padding);
}

/* An answer is told to everybody, the one who gave it included. */
static void on_word(void *userdata, const struct rpc_caller *caller, const char *word, char *ret_line, size_t size)
{
	(void)userdata;
	(void)caller;
	server.words++;
	(void)snprintf(server.word, sizeof server.word, "%s", word);
	tell(PROMPT_RECORDED, server.words);
	(void)snprintf(ret_line, size, "ok %s", word);
}

/* Tells so much that whoever doesn't read in between is closed: the caller, within its own request. */
static int on_flood(void *userdata, const struct rpc_caller *caller, const struct rpc_value *values,
		    json_t **ret_result, struct rpc_refusal *refusal)
{
	(void)userdata;
	(void)refusal;
	(void)values;
	for (int i = 0; i < 2000; i++)
		tell(PROMPT_RECORDED, i);
	*ret_result = json_string(caller->peer);
	return 0;
}

static int on_echo(void *userdata, const struct rpc_caller *caller, const struct rpc_value *values,
		   json_t **ret_result, struct rpc_refusal *refusal)
{
	(void)userdata;
	(void)refusal;
	server.echoed = caller;
	*ret_result = json_string(values[0].text);
	return 0;
}

#define BIG_BYTES 20000
static int on_big(void *userdata, const struct rpc_caller *caller, const struct rpc_value *values,
		  json_t **ret_result, struct rpc_refusal *refusal)
{
	char text[BIG_BYTES + 1];

	(void)userdata;
	(void)caller;
	(void)values;
	(void)refusal;
	memset(text, 'x', BIG_BYTES);
	text[BIG_BYTES] = '\0';
	server.bigs++;
	*ret_result = json_string(text);
	return 0;
}

static const struct rpc_param echo_params[] = { { "text", NULL, RPC_TEXT, true } };
static const struct rpc_method methods[] = {
	{ "flood", NULL, 0, on_flood },
	{ "echo", echo_params, 1, on_echo },
	{ "big", NULL, 0, on_big },
};
static void on_left(void *userdata, const struct rpc_caller *caller)
{
	(void)userdata;
	server.left = caller;
	server.n_left++;
}

static const struct prompt_ops ops = {
	.service = { .methods = methods, .n_methods = 3, .word = on_word },
	.open_asks = on_open_asks,
	.left = on_left,
};

static int setup(void **state)
{
	(void)state;
	memset(&server, 0, sizeof server);
	(void)snprintf(server.dir, sizeof server.dir, "/tmp/bismar-prompt-XXXXXX");
	assert_non_null(mkdtemp(server.dir));
	(void)snprintf(server.path, sizeof server.path, "%s/prompt.sock", server.dir);
	assert_int_equal(sd_event_new(&server.event), 0);
	assert_int_equal(prompt_new(server.event, &ops, &server.prompt), 0);
	assert_int_equal(prompt_listen(server.prompt, server.path), 0);
	return 0;
}

static int teardown(void **state)
{
	(void)state;
	server.prompt = prompt_free(server.prompt);
	server.event = sd_event_unref(server.event);
	(void)unlink(server.path);
	assert_int_equal(rmdir(server.dir), 0);
	return 0;
}

/* Lets the server do all there is to do now. */
static void turn(void)
{
	int turns = 0;

	while (sd_event_run(server.event, 0) > 0)
		assert_true(++turns < TURNS_MAX);
}

/* ---- clients ---- */

static int try_connect(const char *path)
{
	struct sockaddr_un address = { .sun_family = AF_UNIX };
	int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);

	assert_true(fd >= 0);
	memcpy(address.sun_path, path, strlen(path) + 1);
	if (connect(fd, (struct sockaddr *)&address, sizeof address) == 0)
		return fd;
	close(fd);
	return -1;
}

static int connect_client(void)
{
	int fd = try_connect(server.path);

	assert_true(fd >= 0);
	turn();
	return fd;
}

static void say(int fd, const char *text)
{
	assert_int_equal(send(fd, text, strlen(text), MSG_NOSIGNAL), strlen(text));
}

/* What is there for the client, terminated; letting the server go on in between. *ret_closed may be NULL. */
static char *hear(int fd, size_t *ret_n, bool *ret_closed)
{
	size_t n = 0, room = 65536;
	char *text = malloc(room);
	bool closed = false;

	assert_non_null(text);
	for (;;) {
		ssize_t r = recv(fd, text + n, room - n - 1, 0);

		if (r == 0 || (r < 0 && errno == ECONNRESET)) {
			closed = true;
			break;
		}
		if (r < 0) {
			assert_int_equal(errno, EAGAIN);
			turn();
			r = recv(fd, text + n, 1, MSG_PEEK);
			if (r < 0 && errno == EAGAIN)
				break;
			continue;
		}
		n += (size_t)r;
		if (room - n < 65536) {
			room *= 2;
			text = realloc(text, room);
			assert_non_null(text);
		}
	}
	text[n] = '\0';
	if (ret_n)
		*ret_n = n;
	if (ret_closed)
		*ret_closed = closed;
	return text;
}

static void expect(int fd, const char *expected)
{
	char *text = hear(fd, NULL, NULL);

	assert_string_equal(text, expected);
	free(text);
}

static void expect_closed(int fd, const char *expected)
{
	bool closed;
	char *text = hear(fd, NULL, &closed);

	assert_string_equal(text, expected);
	assert_true(closed);
	free(text);
	close(fd);
}

static size_t count(const char *text, const char *part)
{
	size_t n = 0;

	for (; (text = strstr(text, part)); text += strlen(part))
		n++;
	return n;
}

/* At most so much is taken by the kernel for one who doesn't read. */
static size_t kernel_keeps(void)
{
	int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0), bytes = 0;
	socklen_t size = sizeof bytes;

	assert_int_equal(getsockopt(fd, SOL_SOCKET, SO_SNDBUF, &bytes, &size), 0);
	close(fd);
	return (size_t)bytes + 4096;
}

/* Each line is a whole JSON object; their number. */
static size_t count_json(char *text)
{
	size_t n = 0;

	for (char *end; (end = strchr(text, '\n')); text = end + 1, n++) {
		json_t *json = json_loadb(text, (size_t)(end - text), 0, NULL);

		assert_non_null(json);
		json_decref(json);
	}
	assert_string_equal(text, "");
	return n;
}

#define NOTICE(method, number)                                                                                         \
	"{\"jsonrpc\":\"2.0\",\"method\":\"" method "\",\"params\":{\"number\":" #number ",\"padding\":\"\"}}\n"
#define FOLLOW(topics) "{\"jsonrpc\":\"2.0\",\"method\":\"follow\",\"params\":{\"topics\":[" topics "]},\"id\":1}\n"
#define FOLLOWED(topics) "{\"jsonrpc\":\"2.0\",\"result\":{\"topics\":[" topics "]},\"id\":1}\n"

/* ---- tests ---- */

static void test_newcomer(void **state)
{
	int fd;

	(void)state;
	server.open_asks = 2;
	fd = connect_client();
	assert_int_equal(prompt_clients(server.prompt), 1);
	expect(fd, NOTICE("ask", 0) NOTICE("ask", 1));
	close(fd);
	turn();
	assert_int_equal(prompt_clients(server.prompt), 0);
}

/* Who has left is told once, as the caller that its requests came from; the others aren't. */
static void test_left(void **state)
{
	static const char echo[] = "{\"jsonrpc\":\"2.0\",\"method\":\"echo\",\"params\":[\"x\"]}\n";
	int stays = connect_client(), goes = connect_client();
	const struct rpc_caller *caller;

	(void)state;
	say(goes, echo);
	turn();
	caller = server.echoed;
	say(stays, echo);
	turn();
	assert_non_null(caller);
	assert_ptr_not_equal(caller, server.echoed);
	assert_int_equal(server.n_left, 0);
	close(goes);
	turn();
	assert_int_equal(server.n_left, 1);
	assert_ptr_equal(server.left, caller);
	say(stays, echo); /* and it goes on */
	turn();
	assert_int_equal(server.n_left, 1);
	close(stays);
	turn();
	assert_int_equal(server.n_left, 2);
}

static void test_topics(void **state)
{
	int fd = connect_client();

	(void)state;
	server.open_asks = 1;
	for (int topic = 0; topic < PROMPT_TOPICS; topic++)
		tell((enum prompt_topic)topic, 7);
	expect(fd, NOTICE("ask", 7) NOTICE("withdraw", 7) NOTICE("recorded", 7));
	say(fd, FOLLOW("\"live\",\"found\""));
	expect(fd, FOLLOWED("\"live\",\"found\""));
	for (int topic = 0; topic < PROMPT_TOPICS; topic++)
		tell((enum prompt_topic)topic, 8);
	expect(fd, NOTICE("live", 8) NOTICE("found", 8));
	/* ask anew: the open ones after the reply; not again while it goes on */
	say(fd, FOLLOW("\"ask\",\"live\""));
	expect(fd, FOLLOWED("\"ask\",\"live\"") NOTICE("ask", 0));
	say(fd, FOLLOW("\"ask\""));
	expect(fd, FOLLOWED("\"ask\""));
	say(fd, FOLLOW(""));
	expect(fd, FOLLOWED(""));
	/* however often in one line: once */
	say(fd, "[{\"jsonrpc\":\"2.0\",\"method\":\"follow\",\"params\":[\"ask\"]},"
		"{\"jsonrpc\":\"2.0\",\"method\":\"follow\",\"params\":[[]]},"
		"{\"jsonrpc\":\"2.0\",\"method\":\"follow\",\"params\":[\"ask\"]}]\n");
	expect(fd, NOTICE("ask", 0));
	close(fd);
}

static void test_text_mode(void **state)
{
	int reader = connect_client(), program = connect_client();

	(void)state;
	say(reader, "text\n");
	expect(reader, "ok text\n");
	tell(PROMPT_ASK, 3);
	expect(reader, "ask 3\n"); /* the line end inside is made a blank */
	expect(program, NOTICE("ask", 3));
	say(reader, FOLLOW("\"live\""));
	expect(reader, FOLLOWED("\"live\""));
	close(reader);
	close(program);
}

static void test_two_clients(void **state)
{
	int first = connect_client(), second = connect_client();

	(void)state;
	say(first, "green\n");
	expect(first, NOTICE("recorded", 1) "ok green\n");
	expect(second, NOTICE("recorded", 1));
	close(first);
	turn();
	tell(PROMPT_ASK, 2);
	expect(second, NOTICE("ask", 2));
	assert_int_equal(prompt_clients(server.prompt), 1);
	close(second);
}

static void test_you(void **state)
{
	const struct passwd *user = getpwuid(getuid());
	char expected[128];
	char *text;
	int fd = connect_client();

	(void)state;
	if (user)
		(void)snprintf(expected, sizeof expected, "\"you\":\"%s\"", user->pw_name);
	else
		(void)snprintf(expected, sizeof expected, "\"you\":\"uid %u\"", getuid());
	say(fd, "{\"jsonrpc\":\"2.0\",\"method\":\"hello\",\"id\":1}\n");
	turn();
	text = hear(fd, NULL, NULL);
	assert_non_null(strstr(text, expected));
	free(text);
	close(fd);
}

static void test_lines(void **state)
{
	static const char line[] = "green\r\n";
	int fd = connect_client();

	(void)state;
	say(fd, FOLLOW(""));
	expect(fd, FOLLOWED(""));
	for (size_t i = 0; i < sizeof line - 1; i++) {
		assert_int_equal(send(fd, line + i, 1, MSG_NOSIGNAL), 1);
		turn();
	}
	expect(fd, "ok green\n");
	say(fd, "\n\r\n  \nred\nblue\n\n{\"jsonrpc\":\"2.0\",\"method\":\"echo\",\"params\":[\"a\"],\"id\":2}\nyel");
	expect(fd, "ok red\nok blue\n{\"jsonrpc\":\"2.0\",\"result\":\"a\",\"id\":2}\n");
	say(fd, "low\n");
	expect(fd, "ok yellow\n");
	close(fd);
}

/* `printf green | socat - UNIX-CONNECT:...`: the last line needs no end, and its reply comes before the close. */
static void test_end_of_file(void **state)
{
	int fd = connect_client();

	(void)state;
	say(fd, "red\ngreen");
	assert_int_equal(shutdown(fd, SHUT_WR), 0);
	turn();
	expect_closed(fd, NOTICE("recorded", 1) "ok red\n" NOTICE("recorded", 2) "ok green\n");
	assert_string_equal(server.word, "green");
	assert_int_equal(prompt_clients(server.prompt), 0);
	fd = connect_client();
	assert_int_equal(shutdown(fd, SHUT_WR), 0);
	turn();
	expect_closed(fd, "");
}

/* Who answers and doesn't wait is heard, although writing to him fails. */
static void test_gone_at_once(void **state)
{
	(void)state;
	server.open_asks = 3;
	for (int connected = 0; connected < 2; connected++) {
		int fd = try_connect(server.path);

		assert_true(fd >= 0);
		if (connected)
			turn(); /* it has been sent the asks, and won't read them */
		say(fd, "red\n{\"jsonrpc\":\"2.0\",\"method\":\"echo\",\"params\":[\"a\"],\"id\":2}\ngreen\nblue");
		close(fd);
		turn();
		assert_int_equal(server.words, 3 * (connected + 1));
		assert_int_equal(prompt_clients(server.prompt), 0);
	}
}

static void test_line_cap(void **state)
{
	/* blanks between two members make it long: a text as long as that would be refused for itself */
	static const char start[] = "{\"jsonrpc\":\"2.0\",\"method\":\"echo\",\"params\":[\"x\"],", end[] = "\"id\":2}";
	char *line = malloc(LIMIT_LINE_BYTES + 2);

	(void)state;
	assert_non_null(line);
	memset(line, ' ', LIMIT_LINE_BYTES);
	memcpy(line, start, sizeof start - 1);
	for (size_t more = 0; more < 2; more++) {
		size_t n = LIMIT_LINE_BYTES + more, sent = 0, got;
		int fd = connect_client();
		bool closed;
		char *text;

		if (more)
			line[n - sizeof end] = ' ';
		memcpy(line + n - sizeof end + 1, end, sizeof end - 1);
		line[n] = '\n';
		while (sent < n + 1) {
			ssize_t r = send(fd, line + sent, n + 1 - sent, MSG_NOSIGNAL);

			if (r < 0)
				assert_int_equal(errno, EAGAIN);
			else
				sent += (size_t)r;
			turn();
		}
		text = hear(fd, &got, &closed);
		assert_int_equal(count_json(text), 1);
		assert_int_equal(closed, more);
		if (more)
			assert_non_null(strstr(text, "\"error\":{\"code\":-32600,"));
		else
			assert_non_null(strstr(text, "\"result\":\"x\""));
		free(text);
		close(fd);
	}
	free(line);
}

/* Without any line end nothing is kept beyond the cap either. */
static void test_endless_line(void **state)
{
	char chunk[4096];
	int fd = connect_client();
	ssize_t r;
	size_t sent = 0;
	bool closed;
	char *text;

	(void)state;
	memset(chunk, 'x', sizeof chunk);
	while ((r = send(fd, chunk, sizeof chunk, MSG_NOSIGNAL)) > 0) {
		sent += (size_t)r;
		turn();
		assert_true(sent <= LIMIT_LINE_BYTES + 64 * 1024);
	}
	assert_int_equal(errno, EPIPE);
	assert_true(sent > LIMIT_LINE_BYTES);
	text = hear(fd, NULL, &closed);
	assert_memory_equal(text, "error line too long", 19);
	assert_int_equal(count(text, "\n"), 1);
	assert_true(closed);
	free(text);
	close(fd);
}

static void test_slow_reader(void **state)
{
	int slow = connect_client(), reader = connect_client(), other = connect_client(), told = 0;
	size_t waiting = 0, n, heard = 0;
	bool closed;
	char *text;

	(void)state;
	server.padding = 1000;
	while (prompt_clients(server.prompt) == 3) {
		tell(PROMPT_ASK, told++);
		waiting += server.padding;
		turn();
		text = hear(reader, NULL, &closed);
		heard += count_json(text);
		free(text);
		text = hear(other, NULL, NULL);
		free(text);
		assert_false(closed);
		assert_true(waiting < LIMIT_QUEUE_BYTES + kernel_keeps());
	}
	assert_true(waiting > LIMIT_QUEUE_BYTES);
	assert_int_equal(heard, told);
	/* the one that was closed reads whole lines, and perhaps a piece of one */
	text = hear(slow, &n, &closed);
	assert_true(closed);
	assert_true(n < waiting);
	free(text);
	close(slow);
	/* reconnecting misses no ask */
	server.padding = 0;
	server.open_asks = 1;
	slow = connect_client();
	expect(slow, NOTICE("ask", 0));
	tell(PROMPT_ASK, 1);
	expect(reader, NOTICE("ask", 1));
	close(slow);
	close(reader);
	close(other);
}

/* Who has read what the kernel had isn't closed because the loop had no turn in between. */
static void test_burst(void **state)
{
	int fd = connect_client();
	char chunk[4096], *text;
	ssize_t r;
	size_t heard = 0;

	(void)state;
	if (kernel_keeps() > 256 * 1024)
		skip();
	server.padding = 1000;
	for (int i = 0; i < 300; i++)
		tell(PROMPT_ASK, i);
	while ((r = recv(fd, chunk, sizeof chunk, 0)) > 0)
		for (ssize_t i = 0; i < r; i++)
			heard += chunk[i] == '\n';
	for (int i = 0; i < 100; i++)
		tell(PROMPT_ASK, i);
	assert_int_equal(prompt_clients(server.prompt), 1);
	text = hear(fd, NULL, NULL);
	assert_int_equal(heard + count(text, "\n"), 400);
	free(text);
	close(fd);
}

/* A client that is closed within its own request, with another one waiting in the same read. */
static void test_caller_dropped_by_itself(void **state)
{
	int fd = connect_client(), other = connect_client();
	bool closed;
	char *text;

	(void)state;
	server.padding = 1000;
	say(fd, "{\"jsonrpc\":\"2.0\",\"method\":\"flood\",\"id\":2}\n"
		"{\"jsonrpc\":\"2.0\",\"method\":\"flood\",\"id\":3}\n");
	turn();
	assert_int_equal(prompt_clients(server.prompt), 0);
	for (int i = 0; i < 2; i++) {
		text = hear(i ? other : fd, NULL, &closed);
		assert_true(closed);
		free(text);
	}
	close(fd);
	close(other);
	fd = connect_client();
	server.padding = 0;
	tell(PROMPT_ASK, 4);
	expect(fd, NOTICE("ask", 4));
	close(fd);
}

/* The open asks go on top of the limit. */
static void test_big_snapshot(void **state)
{
	int reader, slow, told = 0;
	char *text;

	(void)state;
	server.open_asks = LIMIT_OPEN_ASKS;
	server.padding = 8000; /* 2 MB: far over limit and kernel */
	reader = connect_client();
	slow = connect_client();
	assert_int_equal(prompt_clients(server.prompt), 2);
	text = hear(reader, NULL, NULL);
	assert_int_equal(count_json(text), LIMIT_OPEN_ASKS);
	free(text);
	server.padding = 1000;
	while (prompt_clients(server.prompt) == 2) {
		tell(PROMPT_ASK, told++);
		text = hear(reader, NULL, NULL);
		assert_int_equal(count_json(text), 1);
		free(text);
		assert_true(told < 1000);
	}
	assert_in_range(told, LIMIT_QUEUE_BYTES / 1100, LIMIT_QUEUE_BYTES / 1000 + 2);
	/* one that reads it late gets the allowance back */
	server.padding = 8000;
	close(slow);
	slow = connect_client();
	text = hear(slow, NULL, NULL);
	assert_int_equal(count_json(text), LIMIT_OPEN_ASKS);
	free(text);
	server.padding = 1000;
	for (told = 0; prompt_clients(server.prompt) == 2; told++) {
		tell(PROMPT_ASK, told);
		free(hear(reader, NULL, NULL));
		assert_true(told < 1000);
	}
	close(slow);
	close(reader);
}

/* Requests of one who doesn't read replies stay in the kernel's buffers until he does. */
static void test_back_pressure(void **state)
{
	char line[1100], padding[1001];
	size_t sent = 0, heard = 0, at = 0, n;
	int stuck = 0, fd = connect_client();
	struct mallinfo2 before = mallinfo2(), during;

	(void)state;
	memset(padding, 'x', sizeof padding - 1);
	padding[sizeof padding - 1] = '\0';
	n = (size_t)snprintf(line, sizeof line, "{\"jsonrpc\":\"2.0\",\"method\":\"echo\",\"params\":[\"%s\"],\"id\":2}\n",
			     padding);
	while (stuck < 10) {
		ssize_t r = send(fd, line + at, n - at, MSG_NOSIGNAL);

		if (r > 0) {
			at += (size_t)r;
			sent += at == n;
			at %= n;
			stuck = 0;
		} else {
			assert_int_equal(errno, EAGAIN);
			stuck++;
		}
		turn();
		assert_true(sent < 10000);
	}
	during = mallinfo2();
	assert_int_equal(prompt_clients(server.prompt), 1);
	assert_true(sent * n > LIMIT_QUEUE_BYTES / 2);
	assert_true(during.uordblks <= before.uordblks + LIMIT_QUEUE_BYTES + 64 * 1024); /* zero under a sanitizer */
	if (at > 0) {
		char *text = hear(fd, NULL, NULL);

		heard += count(text, "\n");
		free(text);
		say(fd, line + at);
		sent++;
	}
	for (int i = 0; heard < sent; i++) {
		char *text = hear(fd, NULL, NULL);

		heard += count(text, "\n");
		free(text);
		turn();
		assert_true(i < 1000);
	}
	assert_int_equal(heard, sent);
	close(fd);
}

/* Short requests for long replies, all read at once: they are done as the replies go out. */
static void test_long_replies(void **state)
{
	int fd = connect_client();
	char *text;

	(void)state;
	for (int i = 0; i < 100; i++)
		say(fd, "{\"jsonrpc\":\"2.0\",\"method\":\"big\",\"id\":2}\n");
	turn();
	assert_true((size_t)server.bigs * BIG_BYTES < LIMIT_QUEUE_BYTES / 2 + kernel_keeps() + 2 * BIG_BYTES);
	text = hear(fd, NULL, NULL);
	assert_int_equal(count_json(text), 100);
	assert_int_equal(server.bigs, 100);
	free(text);
	close(fd);
}

/* A half-closed client that doesn't read is told nothing more, so that it ends when it has read. */
static void test_half_closed(void **state)
{
	int fd = connect_client();
	bool closed;
	char *text;

	(void)state;
	if (kernel_keeps() > 256 * 1024)
		skip(); /* it would take all that the server may queue */
	server.padding = 1000;
	for (int i = 0; i < 200; i++)
		tell(PROMPT_ASK, i);
	say(fd, "green");
	assert_int_equal(shutdown(fd, SHUT_WR), 0);
	turn();
	assert_int_equal(server.words, 1);
	assert_int_equal(prompt_clients(server.prompt), 1);
	for (int i = 0; i < 2000; i++)
		tell(PROMPT_ASK, i);
	assert_int_equal(prompt_clients(server.prompt), 1);
	text = hear(fd, NULL, &closed);
	assert_true(closed);
	assert_int_equal(count(text, "\"ask\""), 200);
	assert_string_equal(text + strlen(text) - 9, "ok green\n");
	free(text);
	close(fd);
	turn();
	assert_int_equal(prompt_clients(server.prompt), 0);
}

/* While much waits for it nothing is read from it, its end neither; then all is done in order. */
static void test_paused_at_the_end(void **state)
{
	int fd = connect_client();
	bool closed;
	char *text;

	(void)state;
	if (kernel_keeps() > 256 * 1024)
		skip();
	server.padding = 1000;
	for (int i = 0; i < 300; i++)
		tell(PROMPT_ASK, i);
	say(fd, "green\nred");
	assert_int_equal(shutdown(fd, SHUT_WR), 0);
	turn();
	assert_int_equal(server.words, 0);
	text = hear(fd, NULL, &closed);
	assert_true(closed);
	assert_int_equal(count(text, "\"ask\""), 300);
	assert_non_null(strstr(text, "ok green\n"));
	assert_string_equal(text + strlen(text) - 7, "ok red\n");
	free(text);
	close(fd);

	/* and when it goes away instead, what it said is done */
	fd = connect_client();
	for (int i = 0; i < 300; i++)
		tell(PROMPT_ASK, i);
	say(fd, "blue\nyellow");
	turn();
	assert_int_equal(server.words, 2);
	close(fd);
	turn();
	assert_int_equal(server.words, 4);
	assert_int_equal(prompt_clients(server.prompt), 0);
}

/* Raises the limit of open files; false when that isn't allowed. */
static bool allow_files(rlim_t n)
{
	struct rlimit limit;

	assert_int_equal(getrlimit(RLIMIT_NOFILE, &limit), 0);
	if (limit.rlim_cur >= n)
		return true;
	limit.rlim_cur = n;
	return limit.rlim_max >= n && setrlimit(RLIMIT_NOFILE, &limit) == 0;
}

static void test_client_cap(void **state)
{
	static int fds[LIMIT_CLIENTS];
	int over;

	(void)state;
	if (!allow_files(2 * LIMIT_CLIENTS + 64))
		skip();
	for (int i = 0; i < LIMIT_CLIENTS; i++)
		fds[i] = connect_client();
	assert_int_equal(prompt_clients(server.prompt), LIMIT_CLIENTS);
	for (int i = 0; i < 3; i++) {
		over = connect_client();
		expect_closed(over, "error too many connections\n");
	}
	assert_int_equal(prompt_clients(server.prompt), LIMIT_CLIENTS);
	tell(PROMPT_ASK, 5);
	for (int i = 0; i < LIMIT_CLIENTS; i += 97)
		expect(fds[i], NOTICE("ask", 5));
	close(fds[0]);
	turn();
	fds[0] = connect_client();
	say(fds[0], "green\n");
	expect(fds[0], NOTICE("recorded", 1) "ok green\n");
	for (int i = 0; i < LIMIT_CLIENTS; i++)
		close(fds[i]);
	turn();
	assert_int_equal(prompt_clients(server.prompt), 0);
}

static void test_idle_is_small(void **state)
{
	enum { N = 200 };
	int fds[N];
	struct mallinfo2 before = mallinfo2();
	size_t each;

	(void)state;
	if (before.uordblks == 0)
		skip(); /* a sanitizer's or valgrind's heap */
	for (int i = 0; i < N; i++) {
		fds[i] = connect_client();
		say(fds[i], "green\n");
		turn();
	}
	for (int i = 0; i < N; i++)
		free(hear(fds[i], NULL, NULL));
	each = (mallinfo2().uordblks - before.uordblks) / N;
	assert_true(each < 1024);
	for (int i = 0; i < N; i++)
		close(fds[i]);
}

/* Without a free descriptor the server waits a second instead of turning in circles. */
static void test_no_descriptors(void **state)
{
	struct rlimit before, none;
	const char *preload = getenv("LD_PRELOAD");
	int waiting, highest;

	(void)state;
	if (preload && strstr(preload, "vgpreload"))
		skip(); /* valgrind plays the limit: it accepts, sees it, and closes */
	waiting = try_connect(server.path);
	highest = dup(waiting);
	assert_true(waiting >= 0 && highest >= 0);
	assert_int_equal(getrlimit(RLIMIT_NOFILE, &before), 0);
	none = before;
	none.rlim_cur = (rlim_t)highest; /* one that is open, so nothing below it is free */
	for (int fd = 0; fd < highest; fd++)
		if (fcntl(fd, F_GETFD) < 0)
			none.rlim_cur = (rlim_t)fd;
	close(highest);
	assert_int_equal(setrlimit(RLIMIT_NOFILE, &none), 0);
	turn(); /* fails when it turns in circles */
	assert_int_equal(prompt_clients(server.prompt), 0);
	assert_int_equal(setrlimit(RLIMIT_NOFILE, &before), 0);
	turn();
	assert_int_equal(prompt_clients(server.prompt), 0); /* still waiting */
	for (int turns = 0; prompt_clients(server.prompt) == 0; turns++) {
		assert_true(turns < 10);
		assert_true(sd_event_run(server.event, 5000000) >= 0); /* the loop's own timer wakes it */
	}
	say(waiting, "green\n");
	expect(waiting, NOTICE("recorded", 1) "ok green\n");
	close(waiting);
}

static void test_socket_file(void **state)
{
	struct prompt *second;
	struct stat status;
	char path[160];
	int fd, plain;

	(void)state;
	assert_int_equal(stat(server.path, &status), 0);
	assert_true(S_ISSOCK(status.st_mode));
	assert_int_equal(status.st_mode & 07777, 0660);

	assert_int_equal(prompt_listen(server.prompt, server.path), -EBUSY);
	assert_int_equal(prompt_new(server.event, &ops, &second), 0);
	assert_int_equal(prompt_listen(second, server.path), -EADDRINUSE);
	memset(path, 'x', sizeof path);
	path[sizeof path - 1] = '\0';
	assert_int_equal(prompt_listen(second, path), -ENAMETOOLONG);
	assert_int_equal(prompt_listen(second, ""), -EINVAL);
	(void)snprintf(path, sizeof path, "%s/none/prompt.sock", server.dir);
	assert_int_equal(prompt_listen(second, path), -ENOENT);
	(void)snprintf(path, sizeof path, "%s/plain", server.dir);
	plain = open(path, O_CREAT | O_WRONLY | O_CLOEXEC, 0600);
	assert_true(plain >= 0);
	assert_int_equal(prompt_listen(second, path), -ENOTSOCK);
	assert_int_equal(stat(path, &status), 0); /* and left alone */
	close(plain);
	assert_int_equal(unlink(path), 0);
	/* the first one didn't notice */
	fd = connect_client();
	assert_int_equal(prompt_clients(server.prompt), 1);
	close(fd);
	prompt_free(second);
	assert_int_equal(stat(server.path, &status), 0);
	server.prompt = prompt_free(server.prompt);
	assert_int_equal(stat(server.path, &status), -1);
	assert_null(prompt_free(NULL));
}

static void test_stale_socket(void **state)
{
	struct sockaddr_un address = { .sun_family = AF_UNIX };
	struct stat status;
	int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);

	(void)state;
	server.prompt = prompt_free(server.prompt);
	memcpy(address.sun_path, server.path, strlen(server.path) + 1);
	assert_int_equal(bind(fd, (struct sockaddr *)&address, sizeof address), 0);
	assert_int_equal(listen(fd, 1), 0);
	close(fd); /* as after a power cut: the file stays */
	assert_int_equal(stat(server.path, &status), 0);

	assert_int_equal(prompt_new(server.event, &ops, &server.prompt), 0);
	assert_int_equal(prompt_listen(server.prompt, server.path), 0);
	fd = connect_client();
	assert_int_equal(prompt_clients(server.prompt), 1);
	close(fd);
	/* another's socket in its place isn't removed */
	assert_int_equal(unlink(server.path), 0);
	fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
	assert_int_equal(bind(fd, (struct sockaddr *)&address, sizeof address), 0);
	server.prompt = prompt_free(server.prompt);
	assert_int_equal(stat(server.path, &status), 0);
	close(fd);
}

static void test_listen_fd(void **state)
{
	struct sockaddr_un address = { .sun_family = AF_UNIX };
	int fd = socket(AF_UNIX, SOCK_STREAM, 0), pair[2], client; /* blocking and inherited, as systemd gives it */

	(void)state;
	server.prompt = prompt_free(server.prompt);
	assert_int_equal(prompt_new(server.event, &ops, &server.prompt), 0);
	assert_int_equal(socketpair(AF_UNIX, SOCK_STREAM, 0, pair), 0);
	assert_int_equal(prompt_listen_fd(server.prompt, pair[0]), -EINVAL);
	assert_int_equal(prompt_listen_fd(server.prompt, -1), -EBADF);
	assert_int_equal(close(pair[0]), 0); /* still ours */
	close(pair[1]);

	memcpy(address.sun_path, server.path, strlen(server.path) + 1);
	assert_int_equal(bind(fd, (struct sockaddr *)&address, sizeof address), 0);
	assert_int_equal(prompt_listen_fd(server.prompt, fd), -EINVAL); /* doesn't listen */
	assert_int_equal(listen(fd, 8), 0);
	assert_int_equal(prompt_listen_fd(server.prompt, fd), 0);
	assert_true(fcntl(fd, F_GETFD) & FD_CLOEXEC);
	assert_true(fcntl(fd, F_GETFL) & O_NONBLOCK);
	client = connect_client();
	say(client, "green\n");
	expect(client, NOTICE("recorded", 1) "ok green\n");
	close(client);
	server.prompt = prompt_free(server.prompt);
	assert_int_equal(access(server.path, F_OK), 0); /* the file is systemd's */
}

/* Freed in the middle of everything, nothing leaks. */
static void test_free_with_clients(void **state)
{
	int first, second;

	(void)state;
	server.open_asks = 100;
	server.padding = 8000;
	first = connect_client();
	second = connect_client();
	say(first, "{\"unfinished");
	turn();
	server.prompt = prompt_free(server.prompt);
	close(first);
	close(second);
}

int main(void)
{
#define TEST(name) cmocka_unit_test_setup_teardown(name, setup, teardown)
	const struct CMUnitTest tests[] = {
		TEST(test_newcomer),
		TEST(test_left),
		TEST(test_topics),
		TEST(test_text_mode),
		TEST(test_two_clients),
		TEST(test_you),
		TEST(test_lines),
		TEST(test_end_of_file),
		TEST(test_gone_at_once),
		TEST(test_line_cap),
		TEST(test_endless_line),
		TEST(test_slow_reader),
		TEST(test_burst),
		TEST(test_caller_dropped_by_itself),
		TEST(test_big_snapshot),
		TEST(test_back_pressure),
		TEST(test_long_replies),
		TEST(test_half_closed),
		TEST(test_paused_at_the_end),
		TEST(test_client_cap),
		TEST(test_idle_is_small),
		TEST(test_no_descriptors),
		TEST(test_socket_file),
		TEST(test_stale_socket),
		TEST(test_listen_fd),
		TEST(test_free_with_clients),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
