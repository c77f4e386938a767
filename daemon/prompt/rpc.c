// SPDX-License-Identifier: MIT
#include "daemon/prompt/rpc.h"
#include "daemon/limits.h"
#include "daemon/prompt/params.h"
#include "daemon/prompt/prompt_topic.h"
#include <assert.h>
#include <errno.h>
#include <stdarg.h>

/* Masses are milligrams, so that 15 digits print each as it was meant: 304.2, not 304.19999999999999. */
#define DUMP (JSON_COMPACT | JSON_ENCODE_ANY | JSON_REAL_PRECISION(15))
#define WORD_REPLY_SIZE (16 * 1024) /* `?` with LIMIT_OPEN_ASKS of them */

/* One line and what is answered to it. */
struct exchange {
	const struct rpc_service *service;
	struct rpc_caller *caller;
	FILE *out;
	bool batch;
	bool failed; /* no memory */
	size_t n_replies;
};

struct builtin {
	struct rpc_method method; /* without call */
	int (*call)(struct exchange *exchange, const struct rpc_value *values, json_t **ret_result,
		    struct rpc_refusal *refusal);
};

int rpc_refuse(struct rpc_refusal *refusal, const char *word, const char *hint, const char *format, ...)
{
	va_list arguments;

	*refusal = (struct rpc_refusal){ .code = RPC_REFUSED, .word = word };
	(void)snprintf(refusal->hint, sizeof refusal->hint, "%s", hint ? hint : ""); /* cut is fine */
	va_start(arguments, format);
	(void)vsnprintf(refusal->message, sizeof refusal->message, format, arguments);
	va_end(arguments);
	return 1;
}

/* ---- writing ---- */

json_t *rpc_text(const char *text)
{
	json_t *json = json_string(text);
	char *copy = json ? NULL : strdup(text);
	size_t n = copy ? strlen(copy) : 0;

	if (!copy)
		return json;
	while (n > 0 && (copy[n - 1] & 0xc0) == 0x80)
		n--;
	if (n > 0 && copy[n - 1] & 0x80)
		n--;
	json = json_stringn(copy, n);
	if (!json) {
		for (char *c = copy; *c; c++)
			if (*c & 0x80)
				*c = '?';
		json = json_string(copy);
	}
	free(copy);
	return json;
}

/* An id is echoed as it was given, so a fraction gets as many digits as bring the same number back. */
static void put_id(struct exchange *x, const json_t *id)
{
	char digits[64];
	unsigned precision = 15;

	if (json_is_real(id))
		do
			(void)snprintf(digits, sizeof digits, "%.*g", (int)precision, json_real_value(id));
		while (strtod(digits, NULL) != json_real_value(id) && ++precision < 17);
	if (!id)
		(void)fputs("null", x->out); /* errors of the stream are found at the end */
	else if (json_dumpf(id, x->out, JSON_COMPACT | JSON_ENCODE_ANY | JSON_REAL_PRECISION(precision)) < 0)
		x->failed = true;
}

/* member: "result" or "error"; value is taken over, NULL means that there was no memory for it. */
static void put_reply(struct exchange *x, const char *member, json_t *value, const json_t *id)
{
	if (x->batch)
		(void)fputc(x->n_replies ? ',' : '[', x->out);
	x->n_replies++;
	(void)fprintf(x->out, "{\"jsonrpc\":\"2.0\",\"%s\":", member);
	if (!value || json_dumpf(value, x->out, DUMP) < 0)
		x->failed = true;
	(void)fputs(",\"id\":", x->out);
	put_id(x, id);
	(void)fputc('}', x->out);
	json_decref(value);
}

static void put_refusal(struct exchange *x, const struct rpc_refusal *refusal, const json_t *id)
{
	json_t *data = json_pack("{s:s, s:o}", "code", refusal->word, "hint", rpc_text(refusal->hint));

	if (data && refusal->data && json_object_update_missing(data, refusal->data) < 0)
		x->failed = true;
	put_reply(x, "error",
		  json_pack("{s:i, s:o, s:o}", "code", refusal->code, "message", rpc_text(refusal->message), "data",
			    data),
		  id);
}

/* One of the standard's errors; word and hint go into data. */
static void put_error(struct exchange *x, enum rpc_code code, const char *message, const char *word,
		      const char *hint, const json_t *id)
{
	struct rpc_refusal refusal;

	(void)rpc_refuse(&refusal, word, hint, "%s", message); /* always 1 */
	refusal.code = code;
	put_refusal(x, &refusal, id);
}

/* ---- built-in methods ---- */

static json_t *topics_json(unsigned topics)
{
	json_t *list = json_array();

	for (unsigned i = 0; i < PROMPT_TOPICS; i++)
		if (topics & 1u << i)
			(void)json_array_append_new(list, json_string(prompt_topic_text(i))); /* or one less */
	return list;
}

static int hello(struct exchange *x, const struct rpc_value *values, json_t **ret_result,
		 struct rpc_refusal *refusal)
{
	json_t *methods = json_pack("[s, s]", "hello", "follow");

	(void)values;
	(void)refusal;
	for (size_t i = 0; i < x->service->n_methods; i++)
		(void)json_array_append_new(methods, json_string(x->service->methods[i].name)); /* or one less */
	*ret_result = json_pack("{s:i, s:s, s:s, s:o, s:o, s:o}", "protocol", RPC_PROTOCOL, "server", "bismard",
				"version", BISMAR_VERSION, "you", rpc_text(x->caller->peer), "topics",
				topics_json(~0u), "methods", methods);
	return *ret_result ? 0 : -ENOMEM;
}

static int refuse_topic(const char *topic, struct rpc_refusal *refusal)
{
	size_t used = 0;

	(void)rpc_refuse(refusal, "unknown-topic", "", "Invalid params: unknown topic \"%.64s\"", topic);
	refusal->code = RPC_INVALID_PARAMS;
	for (unsigned i = 0; i < PROMPT_TOPICS && used < sizeof refusal->hint; i++)
		used += (size_t)snprintf(refusal->hint + used, sizeof refusal->hint - used, "%s%s",
					 i ? ", " : "known: ", prompt_topic_text(i));
	return 1;
}

static int follow(struct exchange *x, const struct rpc_value *values, json_t **ret_result,
		  struct rpc_refusal *refusal)
{
	unsigned topics = 0;

	for (size_t i = 0; i < values[0].n_list; i++) {
		unsigned topic = 0;

		while (topic < PROMPT_TOPICS && strcmp(prompt_topic_text(topic), values[0].list[i]) != 0)
			topic++;
		if (topic == PROMPT_TOPICS)
			return refuse_topic(values[0].list[i], refusal);
		topics |= 1u << topic;
	}
	*ret_result = json_pack("{s:o}", "topics", topics_json(topics));
	if (!*ret_result)
		return -ENOMEM;
	x->caller->topics = topics;
	return 0;
}

static const struct rpc_param follow_params[] = { { "topics", NULL, RPC_LIST, true } };
static const struct builtin builtins[] = {
	{ { .name = "hello" }, hello },
	{ { .name = "follow", .params = follow_params, .n_params = 1 }, follow },
};

/* ---- requests ---- */

/* NULL, or what is wrong with it (the specification, section 4). */
static const char *invalid_because(const json_t *request)
{
	const char *version = json_string_value(json_object_get(request, "jsonrpc"));
	const json_t *id = json_object_get(request, "id"), *params = json_object_get(request, "params");

	if (!json_is_object(request))
		return "a request is an object";
	if (!version || strcmp(version, "2.0") != 0)
		return "\"jsonrpc\":\"2.0\" is needed";
	if (!json_is_string(json_object_get(request, "method")))
		return "\"method\" is needed, a string";
	if (params && !json_is_object(params) && !json_is_array(params))
		return "\"params\" is an object or an array; leave it out when there are none";
	if (id && !json_is_string(id) && !json_is_number(id) && !json_is_null(id))
		return "\"id\" is a string, a number or null";
	return NULL;
}

/* As a method returns it; unknown methods are a refusal. */
static int call(struct exchange *x, const char *name, const json_t *params, json_t **ret_result,
		struct rpc_refusal *refusal)
{
	const struct rpc_service *service = x->service;
	struct rpc_value values[RPC_PARAMS_MAX];

	for (size_t i = 0; i < sizeof builtins / sizeof *builtins; i++) {
		if (strcmp(builtins[i].method.name, name) != 0)
			continue;
		if (params_read(&builtins[i].method, params, values, refusal) != 0)
			return 1;
		return builtins[i].call(x, values, ret_result, refusal);
	}
	for (size_t i = 0; i < service->n_methods; i++) {
		const struct rpc_method *method = &service->methods[i];

		if (strcmp(method->name, name) != 0)
			continue;
		assert(method->n_params <= RPC_PARAMS_MAX);
		if (params_read(method, params, values, refusal) != 0)
			return 1;
		return method->call(service->userdata, x->caller, values, ret_result, refusal);
	}
	(void)rpc_refuse(refusal, "method-not-found", "`hello` lists the methods", "Method not found");
	refusal->code = RPC_METHOD_NOT_FOUND;
	return 1;
}

static void handle(struct exchange *x, const json_t *request)
{
	const json_t *id = json_object_get(request, "id"); /* NULL when request is no object */
	const char *wrong = invalid_because(request);
	struct rpc_refusal refusal = { 0 };
	json_t *result = NULL;
	int r;

	if (wrong) {
		bool usable = json_is_string(id) || json_is_number(id);

		put_error(x, RPC_INVALID_REQUEST, "Invalid Request", "invalid-request", wrong, usable ? id : NULL);
		return;
	}
	r = call(x, json_string_value(json_object_get(request, "method")), json_object_get(request, "params"),
		 &result, &refusal);
	if (!id)
		; /* a notification: nothing is replied, errors neither (section 4.1) */
	else if (r == 0)
		put_reply(x, "result", json_incref(result), id); /* each method has one, or there was no memory for it */
	else if (r > 0)
		put_refusal(x, &refusal, id);
	else
		put_error(x, RPC_INTERNAL, "Internal error", "internal", strerror(-r), id);
	json_decref(result);
	json_decref(refusal.data);
}

static void handle_batch(struct exchange *x, const json_t *batch)
{
	size_t n = json_array_size(batch), i;
	const json_t *request;
	char hint[64];

	if (n == 0) {
		put_error(x, RPC_INVALID_REQUEST, "Invalid Request", "invalid-request", "the batch is empty", NULL);
		return;
	}
	if (n > LIMIT_BATCH) {
		(void)snprintf(hint, sizeof hint, "at most %d requests in one batch", LIMIT_BATCH);
		put_error(x, RPC_INVALID_REQUEST, "Invalid Request", "batch-too-long", hint, NULL);
		return;
	}
	x->batch = true;
	json_array_foreach (batch, i, request)
		handle(x, request);
	if (x->n_replies)
		(void)fputc(']', x->out);
}

static void put_parse_error(struct exchange *x, json_error_t *error)
{
	const char *word = "malformed", *hint = error->text;

	/* The words that tell more than jansson's; it isn't our enum, so there is a default. */
	switch (json_error_code(error)) {
	case json_error_unknown: /* it never got as far as parsing */
	case json_error_out_of_memory:
		x->failed = true;
		return;
	case json_error_duplicate_key:
		word = "duplicate-name";
		break;
	case json_error_stack_overflow:
		word = "too-deep";
		hint = "nested too deeply";
		break;
	case json_error_invalid_utf8:
		word = "not-utf8";
		break;
	case json_error_numeric_overflow:
		word = "out-of-range";
		break;
	default:
		break;
	}
	put_error(x, RPC_PARSE_ERROR, "Parse error", word, hint, NULL);
}

/* Ends the reply and hands it over. */
static int finish(struct exchange *x, char *text, bool due, char **ret_reply)
{
	if (x->failed) {
		free(text);
		return -ENOMEM;
	}
	if (!due) {
		free(text);
		text = NULL;
	}
	*ret_reply = text;
	return 0;
}

/* line NULL: it is too long. */
static int exchange_json(struct exchange *x, const char *line, size_t n, char **ret_reply)
{
	char *text = NULL;
	size_t size = 0;
	json_error_t error = { 0 }; /* without memory jansson leaves it as it is */
	json_t *request;

	x->out = open_memstream(&text, &size);
	if (!x->out)
		return -ENOMEM;
	request = line ? json_loadb(line, n, JSON_REJECT_DUPLICATES, &error) : NULL;
	if (!line)
		put_error(x, RPC_INVALID_REQUEST, "Invalid Request", "line-too-long",
			  "at most 64 KiB a line; this connection is closed now", NULL);
	else if (!request)
		put_parse_error(x, &error);
	else if (json_is_array(request))
		handle_batch(x, request);
	else
		handle(x, request);
	json_decref(request);
	(void)fputc('\n', x->out);
	x->failed = ferror(x->out) || x->failed;
	x->failed = fclose(x->out) != 0 || !text || x->failed; /* without memory glibc hands over nothing, and says so nowhere */
	return finish(x, text, x->n_replies > 0, ret_reply);
}

/* ---- words ---- */

static bool is_control(const unsigned char *c)
{
	/* C0, DEL, and C1, which in UTF-8 is C2 80 ... C2 9F */
	return c[0] < 0x20 || c[0] == 0x7f || (c[0] == 0xc2 && c[1] >= 0x80 && c[1] < 0xa0);
}

void rpc_plain(char *text)
{
	for (unsigned char *c = (unsigned char *)text; *c; c++) {
		if (!is_control(c))
			continue;
		if (*c == 0xc2)
			*c++ = ' ';
		*c = ' ';
	}
}

/* NULL, or what is wrong with it. word is terminated. */
static const char *word_wrong(const char *word, size_t n)
{
	json_t *json;

	for (size_t i = 0; i < n; i++)
		if (is_control((const unsigned char *)word + i))
			return "error a word can't have control characters in it";
	json = json_stringn(word, n); /* fails for what isn't UTF-8 */
	if (!json)
		return "error a word must be UTF-8";
	json_decref(json);
	return NULL;
}

static void answer_word(const struct rpc_service *service, struct rpc_caller *caller, const char *line, size_t n,
			char *ret_line, size_t size)
{
	char word[RPC_WORD_MAX + 1];
	const char *wrong;

	if (n > RPC_WORD_MAX) {
		(void)snprintf(ret_line, size, "error a word has at most %d bytes", RPC_WORD_MAX);
		return;
	}
	memcpy(word, line, n);
	word[n] = '\0';
	wrong = word_wrong(word, n);
	if (wrong) {
		(void)snprintf(ret_line, size, "%s", wrong);
	} else if (strcmp(word, "text") == 0) {
		caller->text = true;
		(void)snprintf(ret_line, size, "ok text");
	} else {
		ret_line[0] = '\0';
		service->word(service->userdata, caller, word, ret_line, size);
	}
}

static int exchange_word(const struct rpc_service *service, struct rpc_caller *caller, const char *line, size_t n,
			 char **ret_reply)
{
	char text[WORD_REPLY_SIZE], *reply;

	answer_word(service, caller, line, n, text, sizeof text);
	rpc_plain(text);
	if (asprintf(&reply, "%s\n", text) < 0)
		return -ENOMEM;
	*ret_reply = reply;
	return 0;
}

/* ---- lines ---- */

static bool is_blank(char c)
{
	return c == ' ' || c == '\t' || c == '\r';
}

/* Takes blanks off both ends, the CR of a CR LF among them. */
static void trim(const char **line, size_t *n)
{
	while (*n > 0 && is_blank(**line)) {
		(*line)++;
		(*n)--;
	}
	while (*n > 0 && is_blank((*line)[*n - 1]))
		(*n)--;
}

static bool is_json(const char *line, size_t n)
{
	return n > 0 && (*line == '{' || *line == '[');
}

int rpc_line(const struct rpc_service *service, struct rpc_caller *caller, const char *line, size_t n,
	     char **ret_reply)
{
	struct exchange exchange = { .service = service, .caller = caller };

	trim(&line, &n);
	if (is_json(line, n))
		return exchange_json(&exchange, line, n, ret_reply);
	if (n > 0)
		return exchange_word(service, caller, line, n, ret_reply);
	*ret_reply = NULL;
	return 0;
}

int rpc_too_long(const char *line, size_t n, char **ret_reply)
{
	struct exchange exchange = { 0 };
	char *reply;

	trim(&line, &n);
	if (is_json(line, n))
		return exchange_json(&exchange, NULL, 0, ret_reply);
	reply = strdup("error line too long: at most 64 KiB; this connection is closed now\n");
	if (!reply)
		return -ENOMEM;
	*ret_reply = reply;
	return 0;
}
