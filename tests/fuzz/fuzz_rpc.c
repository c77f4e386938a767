// SPDX-License-Identifier: MIT
/*
 * Lines at the prompt socket: parser and dispatcher, with a method of every type of parameter. A request gets one line,
 * which is JSON; a word one that begins with ok or error.
 */
#include "daemon/prompt/rpc.h"
#include "fuzz.h"
#include <math.h>

static int call(void *userdata, const struct rpc_caller *caller, const struct rpc_value *values, json_t **ret_result,
		struct rpc_refusal *refusal)
{
	(void)userdata;
	(void)caller;
	FUZZ_HOLDS(values[0].given && values[0].text);
	if (values[2].given)
		FUZZ_HOLDS(isfinite(values[2].number));
	FUZZ_HOLDS(values[5].n_list <= sizeof values[5].list / sizeof *values[5].list);
	FUZZ_HOLDS(values[6].given == json_is_array(values[6].rows));
	if (values[1].given && values[1].whole < 0)
		return rpc_refuse(refusal, "bad-value", "Give more.", "%.40s", values[0].text);
	*ret_result = json_pack("{s:s, s:I, s:I}", "text", values[0].text, "mass", (json_int_t)values[3].mass_mg,
				"time", (json_int_t)values[4].time_ms);
	return *ret_result ? 0 : -1;
}

static void word(void *userdata, const struct rpc_caller *caller, const char *text, char *ret_line, size_t size)
{
	(void)userdata;
	(void)caller;
	FUZZ_HOLDS(strlen(text) <= RPC_WORD_MAX);
	(void)snprintf(ret_line, size, "ok %s", text);
}

static void check(const char *reply)
{
	size_t n = strlen(reply);
	json_t *json;

	FUZZ_HOLDS(n > 0 && reply[n - 1] == '\n' && !memchr(reply, '\n', n - 1));
	if (*reply != '{' && *reply != '[') {
		FUZZ_HOLDS(strncmp(reply, "ok", 2) == 0 || strncmp(reply, "error", 5) == 0);
		return;
	}
	json = json_loads(reply, 0, NULL);
	FUZZ_HOLDS(json);
	json_decref(json);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	static const struct rpc_param params[] = {
		{ "text", NULL, RPC_TEXT, true },      { "whole", "n", RPC_WHOLE, false },
		{ "number", NULL, RPC_NUMBER, false }, { "mass_g", "mass", RPC_MASS, false },
		{ "at", NULL, RPC_TIME, false },       { "list", NULL, RPC_LIST, false },
		{ "rows", NULL, RPC_ROWS, false },
	};
	static const struct rpc_method methods[] = { { "m", params, sizeof params / sizeof *params, call } };
	static const struct rpc_service service = { methods, 1, word, NULL };
	struct rpc_caller caller = { .peer = "keeper" };
	char *reply = NULL;

	if (rpc_line(&service, &caller, (const char *)data, size, &reply) == 0 && reply)
		check(reply);
	free(reply);
	reply = NULL;
	if (rpc_too_long((const char *)data, size, &reply) == 0 && reply)
		check(reply);
	free(reply);
	return 0;
}
