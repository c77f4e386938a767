// SPDX-License-Identifier: MIT
/*
 * protocols/prompt.md against the daemon: each request in its table is known, takes the parameters that stand there, by
 * name and by position, and no others are known; each code of its table of refusals comes when it should.
 * The first argument is the document.
 */
#include "nursery.h"
#include <ctype.h>
#include <unistd.h>

#define ROWS 64
#define PARAMS 16

struct row {
	char name[32];
	char params[PARAMS][2][32]; /* a name, and the other that is understood, or "" */
	size_t n_params;
};

static struct {
	struct row requests[ROWS];
	size_t n_requests;
	char codes[ROWS][32];
	size_t n_codes;
} document;

/* ---- reading the document ---- */

/* The cell of this number of a table's line, without blanks around it; "" when there is none. */
static void cell(const char *line, int number, char *ret, size_t size)
{
	const char *from = line, *to;

	*ret = '\0';
	for (int i = 0; i <= number; i++) {
		from = strchr(from, '|');
		if (!from)
			return;
		from++;
	}
	to = strchr(from, '|');
	while (*from == ' ')
		from++;
	while (to && to > from && to[-1] == ' ')
		to--;
	(void)snprintf(ret, size, "%.*s", to ? (int)(to - from) : 0, from);
}

/* `word` -> word; false: the cell isn't one word in backticks. */
static bool unquote(const char *text, char *ret, size_t size)
{
	size_t n = strlen(text);

	if (n < 3 || text[0] != '`' || strchr(text + 1, '`') != text + n - 1 || memchr(text, ' ', n))
		return false;
	(void)snprintf(ret, size, "%.*s", (int)(n - 2), text + 1);
	return true;
}

/* "ask?, animal/who, by?", with backticks and remarks in brackets anywhere. */
static void read_params(const char *text, struct row *row)
{
	int depth = 0;
	bool comma = true;

	for (const char *c = text; *c; c++) {
		char *to;
		size_t n = 0;
		if (*c == '(' || *c == ')')
			depth += *c == '(' ? 1 : -1;
		if (depth > 0 || (!isalpha((unsigned char)*c) && *c != '/')) {
			comma = comma || *c == ',';
			continue;
		}
		if (*c == '/')
			c++;
		else if (comma && row->n_params < PARAMS)
			row->n_params++;
		else
			return; /* words that are no list */
		to = row->params[row->n_params - 1][c > text && c[-1] == '/'];
		for (; (isalnum((unsigned char)*c) || *c == '_') && n < 31; c++)
			to[n++] = *c;
		to[n] = '\0';
		c--;
		comma = false;
	}
}

static void read_document(void)
{
	enum { NEITHER, REQUESTS, CODES } table = NEITHER;
	FILE *file = fopen(rig_argument(0), "re");
	char line[4096], first[128], second[512];

	if (!file) {
		(void)fprintf(stderr, "can't read \"%s\"\n", rig_argument(0));
		exit(2);
	}
	while (fgets(line, sizeof line, file)) {
		cell(line, 0, first, sizeof first);
		cell(line, 1, second, sizeof second);
		if (*line != '|')
			table = NEITHER;
		else if (strcmp(first, "request") == 0 || strcmp(first, "method") == 0)
			table = REQUESTS;
		else if (strcmp(first, "`data.code` with -32000") == 0)
			table = CODES;
		else if (table == REQUESTS && document.n_requests < ROWS &&
			 unquote(first, document.requests[document.n_requests].name, 32))
			read_params(second, &document.requests[document.n_requests++]);
		else if (table == CODES && document.n_codes < ROWS &&
			 unquote(first, document.codes[document.n_codes], 32))
			document.n_codes++;
	}
	(void)fclose(file);
}

/* ---- requests ---- */

static int64_t code_of(const json_t *reply)
{
	return json_integer_value(json_object_get(json_object_get(reply, "error"), "code"));
}

static const char *word_of(const json_t *reply)
{
	const char *word =
		json_string_value(json_object_get(json_object_get(json_object_get(reply, "error"), "data"), "code"));
	return word ? word : "";
}

static void test_document_was_read(void **state)
{
	(void)state;
	assert_true(document.n_requests >= 19);
	assert_true(document.n_codes >= 10);
}

static void test_each_is_known(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);

	for (size_t i = 0; i < document.n_requests; i++) {
		const struct row *row = &document.requests[i];
		const json_t *reply = client_reply(client, client_ask(client, row->name, "{}"));
		if (code_of(reply) == -32601)
			deck_fail(rig->deck, "%s is in the document, and unknown", row->name);
	}
	/* so that the test above can fail */
	assert_int_equal(code_of(client_reply(client, client_ask(client, "no.such", "{}"))), -32601);
	client_close(client);
}

static bool is_documented(const char *name)
{
	for (size_t i = 0; i < document.n_requests; i++)
		if (strcmp(document.requests[i].name, name) == 0)
			return true;
	return false;
}

static void test_no_other_is_known(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);
	const json_t *methods = json_object_get(client_call(client, "hello", NULL), "methods");

	assert_true(json_array_size(methods) >= document.n_requests);
	for (size_t i = 0; i < json_array_size(methods); i++) {
		const char *name = json_string_value(json_array_get(methods, i));
		if (!is_documented(name))
			deck_fail(rig->deck, "%s is known, and not in the document", name);
	}
	client_close(client);
}

/* A value that no parameter takes: whatever is wrong then, the name isn't. */
static void try_name(struct rig *rig, struct client *client, const char *method, const char *param)
{
	const json_t *reply = client_reply(client, client_ask(client, method, "{s:[[i]]}", param, 1));

	if (code_of(reply) != -32602 || strcmp(word_of(reply), "unknown-param") == 0)
		deck_fail(rig->deck, "%s has a parameter %s in the document only", method, param);
}

static void test_names_of_parameters(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);

	for (size_t i = 0; i < document.n_requests; i++) {
		const struct row *row = &document.requests[i];
		for (size_t p = 0; p < row->n_params; p++)
			for (size_t other = 0; other < 2; other++)
				if (*row->params[p][other])
					try_name(rig, client, row->name, row->params[p][other]);
		assert_string_equal(word_of(client_reply(client, client_ask(client, row->name, "{s:i}", "no-such", 1))),
				    "unknown-param");
	}
	client_close(client);
}

/* By position: as many as there are in the document, and not one more; and in its order. */
static void test_positions_of_parameters(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);

	for (size_t i = 0; i < document.n_requests; i++) {
		const struct row *row = &document.requests[i];
		json_t *values = json_array();
		const json_t *reply;
		for (size_t p = 0; p <= row->n_params; p++)
			(void)json_array_append_new(values, json_null());
		reply = client_reply(client, client_ask(client, row->name, "O", values));
		if (strcmp(word_of(reply), "too-many") != 0)
			deck_fail(rig->deck, "%s takes more than the %zu parameters of the document", row->name,
				  row->n_params);
		if (row->n_params) {
			/* the wrong type in the last place must be told of the last name, unless one before is missing
			 */
			const char *last = row->params[row->n_params - 1][0], *text;
			(void)json_array_remove(values, row->n_params);
			(void)json_array_set_new(values, row->n_params - 1, json_pack("[[i]]", 1));
			reply = client_reply(client, client_ask(client, row->name, "O", values));
			text = json_string_value(json_object_get(json_object_get(reply, "error"), "message"));
			if (strcmp(word_of(reply), "too-many") == 0 ||
			    (strcmp(word_of(reply), "missing-param") != 0 && (!text || !strstr(text, last))))
				deck_fail(rig->deck, "%s: the last parameter isn't %s", row->name, last);
		}
		json_decref(values);
	}
	client_close(client);
}

/* ---- refusals ---- */

static void order_saline(struct client *client, const char *code, const char *most)
{
	static const char format[] = "{s:s, s:s, s:s, s:s, s:s, s:i, s:s, s:I}";
	json_int_t until_ms = (json_int_t)(nursery_now_s() + 86400) * 1000;

#define SALINE "who", "Birch", "what", "saline", "route", "under the skin", "amount", "10 mL/kg", "most", most, "every_h", 6, "vet", \
	       "vet of the day", "until", until_ms
	if (code)
		(void)client_refused(client, code, "order.add", format, SALINE);
	else
		(void)client_call(client, "order.add", format, SALINE);
}

/* What is refused at the box: Birch, of this weight, with this order. */
static bool provoke_bedside(struct client *client, const char *code)
{
	static const char give[] = "{s:s, s:s, s:s}";

	if (strcmp(code, "no-whelping") == 0) {
		(void)client_refused(client, code, "whelping.end", "{}");
	} else if (strcmp(code, "no-pair") == 0) {
		(void)client_refused(client, code, "feed.nursed", "{s:s}", "animal", "Cedar");
	} else if (strcmp(code, "no-order") == 0) {
		(void)client_refused(client, code, "dose.plan", "{s:s, s:s}", "animal", "Birch", "steps", "0.1 mL");
	} else if (strcmp(code, "bad-order") == 0) {
		order_saline(client, code, "5 mL/kg"); /* less than one dose */
	} else if (strcmp(code, "above-order") == 0) {
		order_saline(client, NULL, "40 mL/kg");
		(void)client_call(client, "weigh", "{s:s, s:i}", "animal", "Birch", "mass_g", 300);
		(void)client_call(client, "sign", "{s:s, s:s, s:s}", "animal", "Birch", "sign", "temperature", "value", "36.4C");
		/* 10 mL/kg of 300 g are 3 mL */
		(void)client_refused(client, code, "dose.give", give, "animal", "Birch", "volume", "3.1 mL", "steps", "0.1 mL");
		(void)client_call(client, "dose.give", give, "animal", "Birch", "volume", "3 mL", "steps", "0.1 mL");
	} else if (strcmp(code, "weigh-first") == 0) {
		(void)client_call(client, "order.add", "{s:s, s:s, s:s, s:s, s:s, s:i, s:s, s:I}", "who", "Elm", "what", "saline",
				  "route", "under the skin", "amount", "10 mL/kg", "most", "40 mL/kg", "every_h", 6, "vet",
				  "vet of the day", "until", (json_int_t)(nursery_now_s() + 86400) * 1000);
		(void)client_call(client, "sign", "{s:s, s:s, s:s}", "animal", "Elm", "sign", "temperature", "value", "36.4C");
		(void)client_refused(client, code, "dose.give", give, "animal", "Elm", "volume", "3 mL", "steps", "0.1 mL");
	} else {
		return strcmp(code, "ledger") == 0; /* test_refusal.c fills a disk */
	}
	return true;
}

/* Makes it happen; false: this code isn't known here. */
static bool provoke(struct rig *rig, struct client *client, const char *code)
{
	const char *reading;

	if (strcmp(code, "not-found") == 0) {
		(void)client_refused(client, code, "weigh", "{s:s, s:i}", "animal", "nobody", "mass_g", 300);
		(void)client_refused(client, code, "scale.forget", "{s:s}", "name", "nothing");
		(void)client_refused(client, code, "container.on", "{s:s, s:s}", "name", "nothing", "scale", "bench");
		(void)client_refused(client, code, "litter.close", "{s:s}", "name", "nothing");
		(void)client_refused(client, code, "reopen", "{s:s}", "ask", "01a21316-ca45-7001-aea8-9a3c618a44b1");
	} else if (strcmp(code, "ambiguous") == 0) {
		(void)client_call(client, "litter.add", "{s:s}", "name", "moss");
		(void)client_call(client, "animal.add", "{s:s, s:s, s:s}", "name", "Oak", "litter", "moss", "collar",
				  "green");
		(void)client_refused(client, code, "weigh", "{s:s, s:i}", "animal", "green", "mass_g", 300);
		(void)client_call(client, "weigh", "{s:s, s:i}", "animal", "moss/green", "mass_g", 300);
	} else if (strcmp(code, "exists") == 0) {
		(void)client_refused(client, code, "animal.add", "{s:s, s:s}", "name", "ash", "litter", "amber");
		(void)client_refused(client, code, "scale.adopt", "{s:s, s:s}", "address", BENCH, "name", "again");
	} else if (strcmp(code, "bad-value") == 0) {
		(void)client_refused(client, code, "litter.add", "{s:s}", "name", "-");
		(void)client_refused(client, code, "scale.adopt", "{s:s, s:s}", "address", "02:00", "name", "x");
		(void)client_refused(client, code, "weigh", "{s:s, s:i, s:s}", "animal", "Ash", "mass_g", 300, "at",
				     "2199-01-01T00:00:00Z");
	} else if (strcmp(code, "already-answered") == 0 || strcmp(code, "not-answered") == 0) {
		nursery_weigh(rig, BENCH, BOX_G + (*code == 'a' ? 300 : 310));
		reading = client_text(client, client_notice(client, "ask"), "ask");
		if (*code == 'n')
			(void)client_refused(client, code, "correct", "{s:s, s:s}", "reading", reading, "animal",
					     "Ash");
		(void)client_call(client, "answer", "{s:s, s:s}", "ask", reading, "animal", "Ash");
		if (*code == 'a')
			(void)client_refused(client, code, "answer", "{s:s, s:s}", "ask", reading, "animal", "Ash");
	} else if (strcmp(code, "no-open-ask") == 0) {
		(void)client_refused(client, code, "answer", "{s:s}", "animal", "Ash");
	} else if (strcmp(code, "too-many") == 0) {
		(void)client_refused(client, code, "animal.add", "{s:s, s:s, s:[sssssssss]}", "name", "Yew", "litter",
				     "amber", "alias", "a", "b", "c", "d", "e", "f", "g", "h", "i");
	} else if (strcmp(code, "radio") == 0) {
		(void)rig_log(rig, "Bluetooth is ready");
		(void)rig_sim(rig, "adapter power hci0 off");
		(void)rig_log(rig, "adapter is off");
		(void)client_refused(client, code, "scale.find", NULL);
		(void)rig_sim(rig, "adapter power hci0 on");
		(void)rig_log(rig, "Bluetooth is ready"); /* for those that follow */
	} else if (strcmp(code, "no-round") == 0) {
		(void)client_refused(client, code, "round.end", "{s:s}", "litter", "amber");
	} else if (strcmp(code, "no-exchange") == 0) {
		(void)client_refused(client, code, "round.exchange", "{s:s}", "litter", "amber");
	} else if (strcmp(code, "keys") == 0) {
		char path[128];
		(void)snprintf(path, sizeof path, "%s/keys", rig->state);
		assert_int_equal(rmdir(path), 0); /* somebody has tidied up */
		(void)client_refused(client, code, "scale.key", "{s:s, s:s}", "scale", "bench", "key",
				     "231d39c1d7cc1ab1aee224cd096db932");
	} else if (strcmp(code, "busy") == 0) {
		(void)client_call(client, "scale.offers", "{s:s}", "address", "02:00:00:00:0A:77");
		(void)client_refused(client, code, "scale.offers", "{s:s}", "address", "02:00:00:00:0A:77");
	} else if (strcmp(code, "no-import") == 0) {
		(void)client_refused(client, code, "import.commit", NULL);
		(void)client_refused(client, code, "import.rows", "{s:[]}", "rows");
	} else if (strcmp(code, "bad-rows") == 0) {
		(void)client_call(client, "import.begin", NULL);
		(void)client_call(client, "import.rows", "{s:[{s:s}]}", "rows", "animal", "nobody");
		(void)client_refused(client, code, "import.commit", NULL);
		(void)client_call(client, "import.drop", NULL);
	} else {
		return provoke_bedside(client, code);
	}
	return true;
}

static void test_refusals(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);

	nursery_make(rig, client);
	for (size_t i = 0; i < document.n_codes; i++)
		if (!provoke(rig, client, document.codes[i]))
			deck_fail(rig->deck, "the code %s is in the document, and no test knows how it comes",
				  document.codes[i]);
	client_close(client);
}

#define CASE(name) cmocka_unit_test_setup_teardown(name, rig_setup, rig_teardown)

int main(int argc, char **argv)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_document_was_read),
		CASE(test_each_is_known),
		CASE(test_no_other_is_known),
		CASE(test_names_of_parameters),
		CASE(test_positions_of_parameters),
		CASE(test_refusals),
	};

	rig_programs(argc, argv);
	read_document();
	return cmocka_run_group_tests(tests, NULL, NULL);
}
