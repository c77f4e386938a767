// SPDX-License-Identifier: MIT
/*
 * Lines in, lines out. The table `specification` holds the examples of section 7 of the JSON-RPC 2.0 specification
 * (2013-01-04), put on one line each and otherwise as published; the error objects are compared without our `data`.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>

#include "daemon/limits.h"
#include "daemon/prompt/params.h"
#include "daemon/prompt/prompt_topic.h"
#include "daemon/prompt/rpc.h"
#include <errno.h>

/* ---- a service ---- */

static struct {
	int updates, hellos, sums;
	struct rpc_value values[RPC_PARAMS_MAX];
	char word[RPC_WORD_MAX + 1];
	const char *word_reply;
	struct rpc_caller seen;
} seen;

#define METHOD(name)                                                                                                   \
	static int name(void *userdata, const struct rpc_caller *caller, const struct rpc_value *values,               \
			json_t **ret_result, struct rpc_refusal *refusal)
#define UNUSED (void)userdata, (void)caller, (void)values, (void)ret_result, (void)refusal

METHOD(subtract)
{
	UNUSED;
	*ret_result = json_integer(values[0].whole - values[1].whole);
	return 0;
}

METHOD(sum)
{
	int64_t total = 0;

	UNUSED;
	for (int i = 0; i < 3; i++)
		total += values[i].whole;
	seen.sums++;
	*ret_result = json_integer(total);
	return 0;
}

METHOD(update)
{
	UNUSED;
	seen.updates++;
	*ret_result = json_null();
	return 0;
}

METHOD(notify_hello)
{
	UNUSED;
	seen.hellos++;
	*ret_result = json_null();
	return 0;
}

METHOD(get_data)
{
	UNUSED;
	*ret_result = json_pack("[s, i]", "hello", 5);
	return 0;
}

METHOD(keep)
{
	UNUSED;
	memcpy(seen.values, values, 6 * sizeof *values);
	seen.seen = *caller;
	*ret_result = json_null();
	return 0;
}

METHOD(refuse)
{
	UNUSED;
	(void)rpc_refuse(refusal, "already-answered", "nothing to do", "it was %s", values[0].given ? values[0].text : "?");
	refusal->data = json_pack("{s:s, s:s}", "animal", "Moss", "code", "not to be seen");
	return 1;
}

METHOD(break_down)
{
	UNUSED;
	return -EIO;
}

METHOD(weight)
{
	UNUSED;
	*ret_result = json_pack("{s:f, s:f}", "net_g", 304.2, "probability", 0.1);
	return 0;
}

static const struct rpc_param subtract_params[] = {
	{ "minuend", NULL, RPC_WHOLE, true },
	{ "subtrahend", NULL, RPC_WHOLE, true },
};
static const struct rpc_param five_params[] = {
	{ "a", NULL, RPC_WHOLE, true },  { "b", NULL, RPC_WHOLE, false }, { "c", NULL, RPC_WHOLE, false },
	{ "d", NULL, RPC_WHOLE, false }, { "e", NULL, RPC_WHOLE, false },
};
static const struct rpc_param keep_params[] = {
	{ "name", "animal", RPC_TEXT, false }, { "count", NULL, RPC_WHOLE, false },
	{ "mass_g", "mass", RPC_MASS, false }, { "at", NULL, RPC_TIME, false },
	{ "alias", NULL, RPC_LIST, false },	{ "rows", NULL, RPC_ROWS, false },
};
static const struct rpc_param refuse_params[] = { { "what", NULL, RPC_TEXT, false } };
static const struct rpc_method methods[] = {
	{ "subtract", subtract_params, 2, subtract },
	{ "sum", five_params, 3, sum },
	{ "update", five_params, 5, update },
	{ "notify_hello", five_params, 1, notify_hello },
	{ "notify_sum", five_params, 3, sum },
	{ "get_data", NULL, 0, get_data },
	{ "keep", keep_params, 6, keep },
	{ "refuse", refuse_params, 1, refuse },
	{ "break_down", NULL, 0, break_down },
	{ "weight", NULL, 0, weight },
};

static void on_word(void *userdata, const struct rpc_caller *caller, const char *word, char *ret_line, size_t size)
{
	(void)userdata;
	seen.seen = *caller;
	(void)snprintf(seen.word, sizeof seen.word, "%s", word);
	(void)snprintf(ret_line, size, "%s", seen.word_reply ? seen.word_reply : "ok it was");
}

static const struct rpc_service service = { methods, sizeof methods / sizeof *methods, on_word, NULL };
static struct rpc_caller caller;

static int setup(void **state)
{
	(void)state;
	memset(&seen, 0, sizeof seen);
	caller = (struct rpc_caller){ .peer = "keeper", .topics = PROMPT_DEFAULT_TOPICS };
	return 0;
}

/* ---- asking ---- */

/* The reply to n octets, which stand at the very end of their allocation, so that a sanitizer sees any overrun. */
static char *ask_n(const char *line, size_t n)
{
	char *copy = malloc(n ? n : 1), *reply = (char *)1;

	assert_non_null(copy);
	memcpy(copy, line, n);
	assert_int_equal(rpc_line(&service, &caller, copy, n, &reply), 0);
	free(copy);
	return reply;
}

static char *ask(const char *line)
{
	return ask_n(line, strlen(line));
}

/* The reply as JSON: one line, compact. */
static json_t *parse(char *reply)
{
	json_error_t error;
	json_t *json;

	assert_non_null(reply);
	assert_ptr_equal(strchr(reply, '\n'), reply + strlen(reply) - 1);
	json = json_loads(reply, JSON_REJECT_DUPLICATES, &error);
	if (!json)
		fail_msg("%s: %s", error.text, reply);
	free(reply);
	return json;
}

static void drop_data(json_t *reply)
{
	json_t *error = json_object_get(reply, "error");
	const json_t *data = json_object_get(error, "data");

	if (!error)
		return;
	assert_true(json_is_string(json_object_get(data, "code")));
	assert_true(json_is_string(json_object_get(data, "hint")));
	assert_int_equal(json_object_del(error, "data"), 0);
}

/* expected NULL: no reply. */
static void check(const char *line, const char *expected)
{
	char *reply = ask(line);
	json_t *got, *want, *one;
	size_t i;

	if (!expected) {
		assert_null(reply);
		return;
	}
	got = parse(reply);
	drop_data(got);
	json_array_foreach (got, i, one)
		drop_data(one);
	want = json_loads(expected, 0, NULL);
	assert_non_null(want);
	if (!json_equal(got, want)) {
		char *text = json_dumps(got, 0);

		fail_msg("%s\n gives %s\n and not %s", line, text, expected);
	}
	json_decref(got);
	json_decref(want);
}

/* The error of a reply: its code, data.code, and a part of data.hint. */
static void check_error(const char *line, int code, const char *word, const char *hint)
{
	json_t *reply = parse(ask(line));
	const json_t *error = json_object_get(reply, "error"), *data = json_object_get(error, "data");

	if (!error)
		fail_msg("no error for %s", line);
	assert_int_equal(json_integer_value(json_object_get(error, "code")), code);
	assert_string_equal(json_string_value(json_object_get(data, "code")), word);
	if (!strstr(json_string_value(json_object_get(data, "hint")), hint))
		fail_msg("%s: hint is %s", line, json_string_value(json_object_get(data, "hint")));
	json_decref(reply);
}

static void check_keep(const char *params)
{
	char *line;

	memset(seen.values, 0, sizeof seen.values);
	assert_true(asprintf(&line, "{\"jsonrpc\":\"2.0\",\"method\":\"keep\",\"params\":%s,\"id\":1}", params) > 0);
	check(line, "{\"jsonrpc\":\"2.0\",\"result\":null,\"id\":1}");
	free(line);
}

static void check_refused(const char *params, const char *word, const char *hint)
{
	char *line;

	assert_true(asprintf(&line, "{\"jsonrpc\":\"2.0\",\"method\":\"keep\",\"params\":%s,\"id\":1}", params) > 0);
	check_error(line, RPC_INVALID_PARAMS, word, hint);
	free(line);
}

/* ---- tests ---- */

#define INVALID "{\"jsonrpc\": \"2.0\", \"error\": {\"code\": -32600, \"message\": \"Invalid Request\"}, \"id\": null}"
#define PARSE "{\"jsonrpc\": \"2.0\", \"error\": {\"code\": -32700, \"message\": \"Parse error\"}, \"id\": null}"

static const struct {
	const char *line, *reply;
} specification[] = {
	/* positional parameters */
	{ "{\"jsonrpc\": \"2.0\", \"method\": \"subtract\", \"params\": [42, 23], \"id\": 1}",
	  "{\"jsonrpc\": \"2.0\", \"result\": 19, \"id\": 1}" },
	{ "{\"jsonrpc\": \"2.0\", \"method\": \"subtract\", \"params\": [23, 42], \"id\": 2}",
	  "{\"jsonrpc\": \"2.0\", \"result\": -19, \"id\": 2}" },
	/* named parameters */
	{ "{\"jsonrpc\": \"2.0\", \"method\": \"subtract\", \"params\": {\"subtrahend\": 23, \"minuend\": 42}, \"id\": 3}",
	  "{\"jsonrpc\": \"2.0\", \"result\": 19, \"id\": 3}" },
	{ "{\"jsonrpc\": \"2.0\", \"method\": \"subtract\", \"params\": {\"minuend\": 42, \"subtrahend\": 23}, \"id\": 4}",
	  "{\"jsonrpc\": \"2.0\", \"result\": 19, \"id\": 4}" },
	/* a notification */
	{ "{\"jsonrpc\": \"2.0\", \"method\": \"update\", \"params\": [1,2,3,4,5]}", NULL },
	{ "{\"jsonrpc\": \"2.0\", \"method\": \"foobar\"}", NULL },
	/* a method that isn't there */
	{ "{\"jsonrpc\": \"2.0\", \"method\": \"foobar\", \"id\": \"1\"}",
	  "{\"jsonrpc\": \"2.0\", \"error\": {\"code\": -32601, \"message\": \"Method not found\"}, \"id\": \"1\"}" },
	/* invalid JSON */
	{ "{\"jsonrpc\": \"2.0\", \"method\": \"foobar, \"params\": \"bar\", \"baz]", PARSE },
	/* an invalid request object */
	{ "{\"jsonrpc\": \"2.0\", \"method\": 1, \"params\": \"bar\"}", INVALID },
	/* a batch of invalid JSON */
	{ "[ {\"jsonrpc\": \"2.0\", \"method\": \"sum\", \"params\": [1,2,4], \"id\": \"1\"}, {\"jsonrpc\": \"2.0\", "
	  "\"method\" ]",
	  PARSE },
	/* an empty array */
	{ "[]", INVALID },
	/* an invalid batch that isn't empty */
	{ "[1]", "[" INVALID "]" },
	/* an invalid batch */
	{ "[1,2,3]", "[" INVALID "," INVALID "," INVALID "]" },
	/* a batch */
	{ "[ {\"jsonrpc\": \"2.0\", \"method\": \"sum\", \"params\": [1,2,4], \"id\": \"1\"}, "
	  "{\"jsonrpc\": \"2.0\", \"method\": \"notify_hello\", \"params\": [7]}, "
	  "{\"jsonrpc\": \"2.0\", \"method\": \"subtract\", \"params\": [42,23], \"id\": \"2\"}, "
	  "{\"foo\": \"boo\"}, "
	  "{\"jsonrpc\": \"2.0\", \"method\": \"foo.get\", \"params\": {\"name\": \"myself\"}, \"id\": \"5\"}, "
	  "{\"jsonrpc\": \"2.0\", \"method\": \"get_data\", \"id\": \"9\"} ]",
	  "[ {\"jsonrpc\": \"2.0\", \"result\": 7, \"id\": \"1\"}, "
	  "{\"jsonrpc\": \"2.0\", \"result\": 19, \"id\": \"2\"}, " INVALID ", "
	  "{\"jsonrpc\": \"2.0\", \"error\": {\"code\": -32601, \"message\": \"Method not found\"}, \"id\": \"5\"}, "
	  "{\"jsonrpc\": \"2.0\", \"result\": [\"hello\", 5], \"id\": \"9\"} ]" },
	/* a batch of notifications only */
	{ "[ {\"jsonrpc\": \"2.0\", \"method\": \"notify_sum\", \"params\": [1,2,4]}, "
	  "{\"jsonrpc\": \"2.0\", \"method\": \"notify_hello\", \"params\": [7]} ]",
	  NULL },
};

static void test_specification(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof specification / sizeof *specification; i++)
		check(specification[i].line, specification[i].reply);
	assert_int_equal(seen.updates, 1); /* notifications are done, though nothing is replied */
	assert_int_equal(seen.hellos, 2);
	assert_int_equal(seen.sums, 2);
}

#define CALL "{\"jsonrpc\":\"2.0\",\"method\":\"get_data\",\"id\":"

/* Section 5: the id is the same as the request's; null when it couldn't be told. */
static void test_ids(void **state)
{
	static const struct {
		const char *id, *echo;
	} ids[] = {
		{ "1", "1" }, { "-7", "-7" }, { "0", "0" }, { "\"\"", "\"\"" }, { "\"\xc3\xa4\"", "\"\xc3\xa4\"" },
		{ "null", "null" }, { "1.5", "1.5" }, { "0.1", "0.1" }, { "1.0", "1.0" },
		{ "0.30000000000000004", "0.30000000000000004" }, { "9223372036854775807", "9223372036854775807" },
	};
	char line[128], expected[128];

	(void)state;
	for (size_t i = 0; i < sizeof ids / sizeof *ids; i++) {
		char *reply;

		(void)snprintf(line, sizeof line, CALL "%s}", ids[i].id);
		(void)snprintf(expected, sizeof expected, "{\"jsonrpc\":\"2.0\",\"result\":[\"hello\",5],\"id\":%s}\n",
			       ids[i].echo);
		reply = ask(line);
		assert_string_equal(reply, expected);
		free(reply);
	}
	check(CALL "[1]}", INVALID);
	check(CALL "{}}", INVALID);
	check(CALL "true}", INVALID);
	/* the id of an invalid request comes back where it can be told */
	check("{\"method\":\"get_data\",\"id\":5}",
	      "{\"jsonrpc\":\"2.0\",\"error\":{\"code\":-32600,\"message\":\"Invalid Request\"},\"id\":5}");
}

static void test_invalid(void **state)
{
	static const char *const lines[] = {
		"{}",
		"{\"method\":\"get_data\"}",
		"{\"jsonrpc\":\"1.0\",\"method\":\"get_data\"}",
		"{\"jsonrpc\":2.0,\"method\":\"get_data\"}",
		"{\"jsonrpc\":\"2.0\"}",
		"{\"jsonrpc\":\"2.0\",\"method\":null}",
		"{\"jsonrpc\":\"2.0\",\"method\":\"get_data\",\"params\":null}",
		"{\"jsonrpc\":\"2.0\",\"method\":\"get_data\",\"params\":5}",
		"{\"jsonrpc\":\"2.0\",\"result\":5}",
	};

	(void)state;
	for (size_t i = 0; i < sizeof lines / sizeof *lines; i++)
		check(lines[i], INVALID);
	check("{\"jsonrpc\":\"2.0\",\"method\":\"get_data\"} {}", PARSE);
	check("{", PARSE);
	check("[", PARSE);
	check("  {\"jsonrpc\":\"2.0\",\"method\":\"get_data\",\"id\":1} \t\r",
	      "{\"jsonrpc\":\"2.0\",\"result\":[\"hello\",5],\"id\":1}");
}

static void test_parse_hints(void **state)
{
	(void)state;
	check_error("{\"jsonrpc\":\"2.0\",\"method\":\"sum\",\"method\":\"update\",\"id\":1}", RPC_PARSE_ERROR,
		    "duplicate-name", "method");
	check_error("{\"jsonrpc\":\"2.0\",\"method\":\"sum\",\"params\":{\"a\":1,\"a\":2},\"id\":1}", RPC_PARSE_ERROR,
		    "duplicate-name", "duplicate");
	check_error("{\"jsonrpc\":\"2.0\",\"method\":\"\xff\",\"id\":1}", RPC_PARSE_ERROR, "not-utf8", "0xff");
	check_error("{\"jsonrpc\":\"2.0\",\"method\":\"\xc0\xaf\",\"id\":1}", RPC_PARSE_ERROR, "not-utf8", "");
	check_error("{\"jsonrpc\":\"2.0\",\"method\":\"\xed\xa0\x80\",\"id\":1}", RPC_PARSE_ERROR, "not-utf8", "");
	check_error("{\"jsonrpc\":\"2.0\",\"method\":\"a\\u0000b\",\"id\":1}", RPC_PARSE_ERROR, "malformed", "");
	check_error("{\"jsonrpc\":\"2.0\",\"method\":\"sum\",\"params\":[1e999],\"id\":1}", RPC_PARSE_ERROR,
		    "out-of-range", "");
	check_error("{\"jsonrpc\":\"2.0\",\"method\":\"sum\",\"params\":[99999999999999999999],\"id\":1}",
		    RPC_PARSE_ERROR, "out-of-range", "");
}

/* A NUL inside the line, and every cut of a good line. */
static void test_octets(void **state)
{
	static const char line[] = "{\"jsonrpc\":\"2.0\",\"method\":\"subtract\",\"params\":[42,23],\"id\":\"\xc3\xa4\"}";
	static const char nul[] = "{\"jsonrpc\":\"2.0\",\0\"method\":\"get_data\",\"id\":1}";
	json_t *reply;

	(void)state;
	for (size_t n = 1; n < sizeof line - 1; n++) {
		reply = parse(ask_n(line, n));
		assert_int_equal(json_integer_value(json_object_get(json_object_get(reply, "error"), "code")), -32700);
		json_decref(reply);
	}
	reply = parse(ask_n(nul, sizeof nul - 1));
	assert_int_equal(json_integer_value(json_object_get(json_object_get(reply, "error"), "code")), -32700);
	json_decref(reply);
}

static void test_deep(void **state)
{
	enum { DEPTH = 10000 };
	static const char *const unit[] = { "[", "{\"a\":" };
	const size_t shallow = 2000;
	char *line = calloc(1, 5 * DEPTH + 100);
	size_t n;

	(void)state;
	assert_non_null(line);
	for (size_t u = 0; u < 2; u++) {
		line[0] = '\0';
		for (size_t i = 0, at = 0; i < DEPTH; i++, at += strlen(unit[u]))
			memcpy(line + at, unit[u], strlen(unit[u]) + 1);
		check_error(line, RPC_PARSE_ERROR, "too-deep", "deep");
	}
	/* what jansson still takes ends as a parameter of the wrong type */
	n = (size_t)snprintf(line, 100, "{\"jsonrpc\":\"2.0\",\"id\":1,\"method\":\"keep\",\"params\":");
	memset(line + n, '[', shallow);
	memset(line + n + shallow, ']', shallow);
	memcpy(line + n + 2 * shallow, "}", 2);
	check_error(line, RPC_INVALID_PARAMS, "wrong-type", "string");
	free(line);
}

static void test_batch_cap(void **state)
{
	char line[LIMIT_BATCH * 64 + 128], *at;

	(void)state;
	for (int n = LIMIT_BATCH; n <= LIMIT_BATCH + 1; n++) {
		json_t *reply;

		at = line;
		for (int i = 0; i < n; i++)
			at += snprintf(at, 64, "%c{\"jsonrpc\":\"2.0\",\"method\":\"sum\",\"params\":[1],\"id\":%d}",
				       i ? ',' : '[', i);
		memcpy(at, "]", 2);
		reply = parse(ask(line));
		if (n == LIMIT_BATCH) {
			assert_int_equal(json_array_size(reply), LIMIT_BATCH);
			assert_int_equal(seen.sums, LIMIT_BATCH);
		} else {
			assert_true(json_is_object(reply));
		}
		json_decref(reply);
	}
	assert_int_equal(seen.sums, LIMIT_BATCH); /* nothing of the longer one was done */
	check_error(line, RPC_INVALID_REQUEST, "batch-too-long", "64");
}

static void test_refusals(void **state)
{
	json_t *reply, *data;
	char long_text[500], *line;

	(void)state;
	reply = parse(ask("{\"jsonrpc\":\"2.0\",\"method\":\"refuse\",\"params\":{\"what\":\"Moss\"},\"id\":1}"));
	data = json_pack("{s:s, s:{s:i, s:s, s:{s:s, s:s, s:s}}, s:i}", "jsonrpc", "2.0", "error", "code", -32000,
			 "message", "it was Moss", "data", "code", "already-answered", "hint", "nothing to do", "animal",
			 "Moss", "id", 1);
	assert_true(json_equal(reply, data));
	json_decref(reply);
	json_decref(data);
	/* as a notification it is silent, and nothing leaks */
	check("{\"jsonrpc\":\"2.0\",\"method\":\"refuse\"}", NULL);
	check("{\"jsonrpc\":\"2.0\",\"method\":\"break_down\"}", NULL);
	check("{\"jsonrpc\":\"2.0\",\"method\":\"break_down\",\"id\":1}",
	      "{\"jsonrpc\":\"2.0\",\"error\":{\"code\":-32603,\"message\":\"Internal error\"},\"id\":1}");
	/* a message cut inside a character stays UTF-8, and loses that character only */
	for (size_t at = 0; at < 3; at++) {
		const char *message;

		memset(long_text, 'x', sizeof long_text);
		for (size_t i = at; i + 3 < sizeof long_text; i += 3)
			memcpy(long_text + i, "\xe2\x82\xac", 3);
		long_text[at + 249] = '\0';
		assert_true(asprintf(&line, "{\"jsonrpc\":\"2.0\",\"method\":\"refuse\",\"params\":[\"%s\"],\"id\":1}",
				     long_text) > 0);
		reply = parse(ask(line));
		message = json_string_value(json_object_get(json_object_get(reply, "error"), "message"));
		assert_non_null(message);
		assert_in_range(strlen(message), 252, 255);
		assert_null(strchr(message, '?'));
		json_decref(reply);
		free(line);
	}
}

static void test_numbers_are_readable(void **state)
{
	char *reply = ask("{\"jsonrpc\":\"2.0\",\"method\":\"weight\",\"id\":1}");

	(void)state;
	assert_string_equal(reply, "{\"jsonrpc\":\"2.0\",\"result\":{\"net_g\":304.2,\"probability\":0.1},\"id\":1}\n");
	free(reply);
}

static void test_params_names(void **state)
{
	(void)state;
	check_keep("{\"animal\":\"Moss\",\"mass\":\"304g\"}");
	assert_true(seen.values[0].given);
	assert_true(seen.values[2].given);
	assert_false(seen.values[1].given);
	assert_int_equal(seen.values[2].mass_mg, 304000);
	check_keep("[null, 5]");
	assert_false(seen.values[0].given);
	assert_int_equal(seen.values[1].whole, 5);
	check_keep("{\"name\":null,\"at\":null}");
	assert_false(seen.values[0].given);
	check_keep("{}");
	check_keep("[]");
	assert_string_equal(seen.seen.peer, "keeper");

	check_refused("{\"colour\":1}", "unknown-param", "name (or animal) if you like, count");
	check_refused("{\"colour\":1}", "unknown-param", "mass_g (or mass) if you like, at if you like, alias");
	check_refused("{\"name\":\"a\",\"animal\":\"a\"}", "given-twice", "name");
	check_refused("[1,2,3,4,5,6,7]", "too-many", "name");
	check_error("{\"jsonrpc\":\"2.0\",\"method\":\"subtract\",\"id\":1}", RPC_INVALID_PARAMS, "missing-param",
		    "subtract takes minuend, subtrahend");
	check_error("{\"jsonrpc\":\"2.0\",\"method\":\"subtract\",\"params\":[1,null],\"id\":1}", RPC_INVALID_PARAMS,
		    "missing-param", "subtrahend");
	check_error("{\"jsonrpc\":\"2.0\",\"method\":\"get_data\",\"params\":[1],\"id\":1}", RPC_INVALID_PARAMS, "too-many",
		    "no parameters");
	check("{\"jsonrpc\":\"2.0\",\"method\":\"get_data\",\"params\":{},\"id\":1}",
	      "{\"jsonrpc\":\"2.0\",\"result\":[\"hello\",5],\"id\":1}");
}

static void test_params_text_and_whole(void **state)
{
	(void)state;
	check_refused("{\"name\":1}", "wrong-type", "string");
	check_refused("{\"name\":[\"a\"]}", "wrong-type", "string");
	/* at the cap a text is taken, beyond it refused */
	for (int n = LIMIT_TEXT_BYTES; n <= LIMIT_TEXT_BYTES + 1; n++) {
		char *params;

		assert_true(asprintf(&params, "{\"name\":\"%0*d\"}", n, 0) > 0);
		if (n > LIMIT_TEXT_BYTES)
			check_refused(params, "too-long", "shorten");
		else
			check_keep(params);
		free(params);
	}
	check_refused("{\"name\":\"a\",\"count\":\"1\"}", "wrong-type", "whole");
	check_refused("{\"count\":1.5}", "wrong-type", "whole");
	check_refused("{\"count\":1e300}", "wrong-type", "whole");
	check_refused("{\"count\":true}", "wrong-type", "whole");
	check_keep("{\"count\":-3}");
	assert_int_equal(seen.values[1].whole, -3);
	check_keep("{\"count\":5.0}"); /* RFC 8259, section 6: the same number as 5 */
	assert_int_equal(seen.values[1].whole, 5);
	check_keep("{\"count\":-9223372036854775808}");
	assert_true(seen.values[1].whole == INT64_MIN);
}

static void test_params_mass(void **state)
{
	static const struct {
		const char *json;
		int64_t mass_mg, step_mg;
	} masses[] = {
		{ "304", 304000, 1000 }, { "300", 300000, 1000 }, { "304.0", 304000, 1000 }, { "304.5", 304500, 100 },
		{ "304.2", 304200, 100 }, { "304.25", 304250, 10 }, { "304.257", 304257, 1 }, { "0.001", 1, 1 }, { "1.001", 1001, 1 },
		{ "0.1", 100, 100 }, { "304.2004", 304200, 100 }, { "3.04e2", 304000, 1000 },
		{ "1000000", 1000000000, 1000 }, { "1000000.0", 1000000000, 1000 }, { "999999.999", 999999999, 1 },
		{ "\"304g\"", 304000, 1000 }, { "\"0.304kg\"", 304000, 1000 }, { "\"304.50 g\"", 304500, 10 },
		/* 10.7 oz * 28.349523125 g = 303.3398974... g (1 oz: NIST SP 811, appendix B) */
		{ "\"10.7oz\"", 303340, 2835 },
	};
	char params[64];

	(void)state;
	for (size_t i = 0; i < sizeof masses / sizeof *masses; i++) {
		(void)snprintf(params, sizeof params, "{\"mass_g\":%s}", masses[i].json);
		check_keep(params);
		assert_int_equal(seen.values[2].mass_mg, masses[i].mass_mg);
		assert_int_equal(seen.values[2].step_mg, masses[i].step_mg);
	}
	check_refused("{\"mass_g\":\"304\"}", "which-unit", "");
	check_refused("{\"mass_g\":\"3o4g\"}", "malformed", "");
	check_refused("{\"mass_g\":\"\"}", "malformed", "");
	check_refused("{\"mass_g\":\"-5g\"}", "out-of-range", "");
	check_refused("{\"mass_g\":0}", "out-of-range", "");
	check_refused("{\"mass_g\":-1}", "out-of-range", "");
	check_refused("{\"mass_g\":-0.5}", "out-of-range", "");
	check_refused("{\"mass_g\":0.0004}", "out-of-range", "");
	check_refused("{\"mass_g\":1000001}", "out-of-range", "");
	check_refused("{\"mass_g\":1000000.1}", "out-of-range", "");
	check_refused("{\"mass_g\":9223372036854775807}", "out-of-range", "");
	check_refused("{\"mass_g\":1e308}", "out-of-range", "");
	check_refused("{\"mass_g\":true}", "wrong-type", "grams");
	check_refused("{\"mass_g\":[304]}", "wrong-type", "grams");
}

static void test_params_time(void **state)
{
	(void)state;
	/* the value in milliseconds: date -d 2026-11-25T12:45:30Z +%s */
	check_keep("{\"at\":\"2026-11-25T13:45:30.5+01:00\"}");
	assert_true(seen.values[3].time_ms == INT64_C(1795610730500));
	assert_int_equal(seen.values[3].offset_min, 60);
	check_keep("{\"at\":1795610730500}");
	assert_true(seen.values[3].time_ms == INT64_C(1795610730500));
	assert_int_equal(seen.values[3].offset_min, 0);
	check_keep("{\"at\":946684800000}");
	check_keep("{\"at\":7258118399999}");
	check_refused("{\"at\":946684799999}", "out-of-range", "2000");
	check_refused("{\"at\":7258118400000}", "out-of-range", "2199");
	check_refused("{\"at\":1795610730}", "out-of-range", "not seconds");
	check_refused("{\"at\":\"1999-12-31T23:59:59Z\"}", "out-of-range", "2000");
	check_refused("{\"at\":\"2026-11-25T13:45:30\"}", "malformed", "+01:00");
	check_refused("{\"at\":\"13:45\"}", "malformed", "+01:00");
	check_refused("{\"at\":1.5}", "wrong-type", "milliseconds");
	check_refused("{\"at\":false}", "wrong-type", "milliseconds");
}

static void test_params_list(void **state)
{
	(void)state;
	check_keep("{\"alias\":[\"a\",\"b\"]}");
	assert_int_equal(seen.values[4].n_list, 2);
	check_keep("{\"alias\":\"a\"}");
	assert_int_equal(seen.values[4].n_list, 1);
	check_keep("{\"alias\":[]}");
	assert_true(seen.values[4].given);
	assert_int_equal(seen.values[4].n_list, 0);
	check_keep("{\"alias\":[\"1\",\"2\",\"3\",\"4\",\"5\",\"6\",\"7\",\"8\",\"9\",\"a\",\"b\",\"c\",\"d\",\"e\",\"f\","
		   "\"g\"]}");
	assert_int_equal(seen.values[4].n_list, 16);
	check_refused("{\"alias\":[\"1\",\"2\",\"3\",\"4\",\"5\",\"6\",\"7\",\"8\",\"9\",\"a\",\"b\",\"c\",\"d\",\"e\","
		      "\"f\",\"g\",\"h\"]}",
		      "too-many", "");
	check_refused("{\"alias\":[\"a\",1]}", "wrong-type", "list");
	check_refused("{\"alias\":1}", "wrong-type", "list");
}

static void test_params_rows(void **state)
{
	(void)state;
	check_keep("{\"rows\":[{\"a\":1},{}]}");
	assert_true(seen.values[5].given);
	check_keep("{\"rows\":[]}");
	assert_true(seen.values[5].given);
	check_keep("{\"rows\":null}");
	assert_false(seen.values[5].given);
	check_refused("{\"rows\":[{},[]]}", "wrong-type", "objects");
	check_refused("{\"rows\":[{},\"a\"]}", "wrong-type", "objects");
	check_refused("{\"rows\":{}}", "wrong-type", "objects");
}

static void test_hello(void **state)
{
	json_t *reply = parse(ask("{\"jsonrpc\":\"2.0\",\"method\":\"hello\",\"id\":1}"));
	const json_t *result = json_object_get(reply, "result");

	(void)state;
	assert_int_equal(json_integer_value(json_object_get(result, "protocol")), 1);
	assert_string_equal(json_string_value(json_object_get(result, "server")), "bismard");
	assert_string_equal(json_string_value(json_object_get(result, "version")), BISMAR_VERSION);
	assert_string_equal(json_string_value(json_object_get(result, "you")), "keeper");
	assert_int_equal(json_array_size(json_object_get(result, "topics")), PROMPT_TOPICS);
	assert_int_equal(json_array_size(json_object_get(result, "methods")), 2 + service.n_methods);
	json_decref(reply);
}

static void test_follow(void **state)
{
	(void)state;
	check("{\"jsonrpc\":\"2.0\",\"method\":\"follow\",\"params\":{\"topics\":[\"live\",\"ask\",\"live\"]},\"id\":1}",
	      "{\"jsonrpc\":\"2.0\",\"result\":{\"topics\":[\"ask\",\"live\"]},\"id\":1}");
	assert_int_equal(caller.topics, 1u << PROMPT_ASK | 1u << PROMPT_LIVE);
	check_error("{\"jsonrpc\":\"2.0\",\"method\":\"follow\",\"params\":{\"topics\":[\"scale\",\"weather\"]},\"id\":1}",
		    RPC_INVALID_PARAMS, "unknown-topic",
		    "ask, withdraw, recorded, live, concern, scale, container, found, pairing, offer");
	assert_int_equal(caller.topics, 1u << PROMPT_ASK | 1u << PROMPT_LIVE); /* all or nothing */
	check("{\"jsonrpc\":\"2.0\",\"method\":\"follow\",\"params\":{\"topics\":[]},\"id\":1}",
	      "{\"jsonrpc\":\"2.0\",\"result\":{\"topics\":[]},\"id\":1}");
	assert_int_equal(caller.topics, 0);
	check("{\"jsonrpc\":\"2.0\",\"method\":\"follow\",\"params\":[\"scale\"]}", NULL); /* silent, but done */
	assert_int_equal(caller.topics, 1u << PROMPT_SCALE);
	check_error("{\"jsonrpc\":\"2.0\",\"method\":\"follow\",\"id\":1}", RPC_INVALID_PARAMS, "missing-param", "topics");
}

static void check_word(const char *line, const char *word, const char *reply)
{
	char *got = ask(line);

	assert_non_null(got);
	assert_string_equal(got, reply);
	if (word)
		assert_string_equal(seen.word, word);
	else
		assert_string_equal(seen.word, "not called");
	free(got);
}

static void test_words(void **state)
{
	char word[RPC_WORD_MAX + 2];

	(void)state;
	check_word("green", "green", "ok it was\n");
	check_word(" \tgreen ribbon \r", "green ribbon", "ok it was\n");
	check_word("-", "-", "ok it was\n");
	check_word("\"green\"", "\"green\"", "ok it was\n");
	check_word("gr\xc3\xbcn", "gr\xc3\xbcn", "ok it was\n");
	assert_string_equal(seen.seen.peer, "keeper");
	memset(word, 'x', sizeof word);
	word[RPC_WORD_MAX] = '\0';
	check_word(word, word, "ok it was\n");

	(void)snprintf(seen.word, sizeof seen.word, "not called");
	word[RPC_WORD_MAX] = 'x';
	word[RPC_WORD_MAX + 1] = '\0';
	check_word(word, NULL, "error a word has at most 256 bytes\n");
	check_word("gr\x1b[2Jn", NULL, "error a word can't have control characters in it\n");
	check_word("gr\tn", NULL, "error a word can't have control characters in it\n");
	check_word("gr\x7f", NULL, "error a word can't have control characters in it\n");
	check_word("gr\xc2\x9bn", NULL, "error a word can't have control characters in it\n");
	check_word("gr\xfcn", NULL, "error a word must be UTF-8\n");
	check_word("gr\xc3", NULL, "error a word must be UTF-8\n");
	check_word("gr\xc2", NULL, "error a word must be UTF-8\n");
	free(ask_n("a\0b", 3));
	assert_string_equal(seen.word, "not called");

	assert_null(ask(""));
	assert_null(ask("\r"));
	assert_null(ask(" \t \r"));

	/* the reply is one plain line, whatever the service says */
	seen.word_reply = "ok a\nb\x1b""c\xc2\x9b""d\xc3\xa4";
	check_word("red", "red", "ok a b c  d\xc3\xa4\n");
}

static void test_text(void **state)
{
	(void)state;
	(void)snprintf(seen.word, sizeof seen.word, "not called");
	assert_false(caller.text);
	check_word("text\r", NULL, "ok text\n");
	assert_true(caller.text);
	check_word("text", NULL, "ok text\n");
	check_word("text me", "text me", "ok it was\n");
	check_word("Text", "Text", "ok it was\n");
}

static void test_too_long(void **state)
{
	char *reply;
	json_t *json;

	(void)state;
	assert_int_equal(rpc_too_long(" {\"a", 4, &reply), 0);
	json = parse(reply);
	assert_int_equal(json_integer_value(json_object_get(json_object_get(json, "error"), "code")), -32600);
	assert_true(json_is_null(json_object_get(json, "id")));
	json_decref(json);
	assert_int_equal(rpc_too_long("greeeen", 7, &reply), 0);
	assert_memory_equal(reply, "error line too long", 19);
	free(reply);
}

/* ---- without memory ---- */

static int allocations_left;

static void *short_malloc(size_t size)
{
	return allocations_left-- > 0 ? malloc(size) : NULL;
}

/* jansson's nth allocation fails, n = 1, 2, ... until all is well: -ENOMEM or a reply, no crash, no leak. */
static void test_no_memory(void **state)
{
	static const char *const lines[] = {
		"{\"jsonrpc\":\"2.0\",\"method\":\"hello\",\"id\":1}",
		"{\"jsonrpc\":\"2.0\",\"method\":\"follow\",\"params\":{\"topics\":[\"live\"]},\"id\":\"x\"}",
		"[{\"jsonrpc\":\"2.0\",\"method\":\"refuse\",\"id\":1},{\"jsonrpc\":\"2.0\",\"method\":\"none\",\"id\":2}]",
		"{\"a\":1,\"a\":2}",
		"green",
	};

	(void)state;
	for (size_t i = 0; i < sizeof lines / sizeof *lines; i++) {
		int n = 0;

		do {
			char *reply = NULL;
			int r;

			allocations_left = n++;
			json_set_alloc_funcs(short_malloc, free);
			r = rpc_line(&service, &caller, lines[i], strlen(lines[i]), &reply);
			json_set_alloc_funcs(malloc, free);
			assert_true(r == 0 || r == -ENOMEM);
			if (r == 0)
				json_decref(lines[i][0] == 'g' ? NULL : json_loads(reply, 0, NULL));
			free(reply);
			assert_true(n < 1000);
		} while (allocations_left < 0);
		assert_true(n > 1);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test_setup(test_specification, setup),
		cmocka_unit_test_setup(test_ids, setup),
		cmocka_unit_test_setup(test_invalid, setup),
		cmocka_unit_test_setup(test_parse_hints, setup),
		cmocka_unit_test_setup(test_octets, setup),
		cmocka_unit_test_setup(test_deep, setup),
		cmocka_unit_test_setup(test_batch_cap, setup),
		cmocka_unit_test_setup(test_refusals, setup),
		cmocka_unit_test_setup(test_numbers_are_readable, setup),
		cmocka_unit_test_setup(test_params_names, setup),
		cmocka_unit_test_setup(test_params_text_and_whole, setup),
		cmocka_unit_test_setup(test_params_mass, setup),
		cmocka_unit_test_setup(test_params_time, setup),
		cmocka_unit_test_setup(test_params_list, setup),
		cmocka_unit_test_setup(test_params_rows, setup),
		cmocka_unit_test_setup(test_hello, setup),
		cmocka_unit_test_setup(test_follow, setup),
		cmocka_unit_test_setup(test_words, setup),
		cmocka_unit_test_setup(test_text, setup),
		cmocka_unit_test_setup(test_too_long, setup),
		cmocka_unit_test_setup(test_no_memory, setup),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
