// SPDX-License-Identifier: MIT
#include "daemon/prompt/params.h"
#include "daemon/limits.h"
#include "daemon/weigh/quantity.h"
#include "protocols/mass.h"
#include <math.h>
#include <stdarg.h>

#define EARLIEST_MS INT64_C(946684800000)  /* 2000-01-01T00:00:00Z: as quantity_rfc3339() has it */
#define TOO_LATE_MS INT64_C(7258118400000) /* 2200-01-01T00:00:00Z */
#define EXACT_IN_REAL 9007199254740992.0   /* 2^53: up to here a double holds each integer */

static const char *type_hint(enum rpc_type type)
{
	switch (type) {
	case RPC_TEXT:
		return "a string is needed";
	case RPC_WHOLE:
		return "a whole number is needed";
	case RPC_NUMBER:
		return "a number is needed";
	case RPC_MASS:
		return "a number of grams is needed, or a string with its unit, for instance \"304g\"";
	case RPC_TIME:
		return "a string like \"2026-11-25T13:45:30+01:00\" is needed, or milliseconds since 1970";
	case RPC_LIST:
		return "a list of strings is needed, or one string";
	case RPC_ROWS:
		return "a list of objects is needed";
	}
	return "";
}

__attribute__((format(printf, 4, 5))) static int refuse(struct rpc_refusal *refusal, const char *word,
							const char *hint, const char *format, ...)
{
	char what[128];
	va_list arguments;

	va_start(arguments, format);
	(void)vsnprintf(what, sizeof what, format, arguments); /* a cut message is better than none */
	va_end(arguments);
	(void)rpc_refuse(refusal, word, hint, "Invalid params: %s", what); /* always 1 */
	refusal->code = RPC_INVALID_PARAMS;
	return 1;
}

static int refuse_type(const struct rpc_param *param, struct rpc_refusal *refusal)
{
	return refuse(refusal, "wrong-type", type_hint(param->type), "%s has the wrong type", param->name);
}

/* Refuses with a hint that lists what the method takes. */
__attribute__((format(printf, 4, 5))) static int refuse_listing(const struct rpc_method *method,
								struct rpc_refusal *refusal, const char *word,
								const char *format, ...)
{
	char what[128], *hint = refusal->hint;
	size_t size = sizeof refusal->hint, used;
	va_list arguments;

	va_start(arguments, format);
	(void)vsnprintf(what, sizeof what, format, arguments);
	va_end(arguments);
	(void)refuse(refusal, word, "", "%s", what);

	used = (size_t)snprintf(hint, size, method->n_params ? "%.64s takes" : "%.64s takes no parameters",
				method->name);
	for (size_t i = 0; i < method->n_params && used < size; i++) {
		const struct rpc_param *param = &method->params[i];

		used += (size_t)snprintf(hint + used, size - used, "%s %s%s%s%s%s", i ? "," : "", param->name,
					 param->also ? " (or " : "", param->also ? param->also : "",
					 param->also ? ")" : "", param->required ? "" : " if you like");
	}
	return 1;
}

static int refuse_mass(const struct rpc_param *param, enum quantity_outcome outcome, struct rpc_refusal *refusal)
{
	const char *word = "malformed", *what = "can't be read";

	switch (outcome) {
	case QUANTITY_OK:
	case QUANTITY_MALFORMED:
		break;
	case QUANTITY_NO_UNIT:
		word = "which-unit";
		what = "has no unit";
		break;
	case QUANTITY_OUT_OF_RANGE:
		word = "out-of-range";
		what = "is out of range";
		break;
	}
	return refuse(refusal, word, quantity_mass_hint(outcome), "%s %s", param->name, what);
}

/* JSON doesn't tell how many digits were written, so the step is the coarsest of 1 g, 0.1 g, ... that fits. */
static int64_t step_of(int64_t mass_mg)
{
	int64_t step_mg = 1000;

	while (mass_mg % step_mg)
		step_mg /= 10;
	return step_mg;
}

static int read_grams(const struct rpc_param *param, const json_t *number, struct rpc_value *ret,
		      struct rpc_refusal *refusal)
{
	int64_t mass_mg = 0;

	if (json_is_integer(number)) {
		json_int_t grams = json_integer_value(number);

		if (grams > 0 && grams <= MASS_MAX_MG / 1000)
			mass_mg = grams * 1000;
	} else {
		double grams = json_real_value(number);

		if (grams > 0 && grams <= (double)(MASS_MAX_MG / 1000))
			mass_mg = llround(grams * 1000);
	}
	if (mass_mg < 1)
		return refuse_mass(param, QUANTITY_OUT_OF_RANGE, refusal);
	ret->mass_mg = mass_mg;
	ret->step_mg = step_of(mass_mg);
	return 0;
}

static int read_mass(const struct rpc_param *param, const json_t *value, struct rpc_value *ret,
		     struct rpc_refusal *refusal)
{
	enum quantity_outcome outcome;

	if (json_is_number(value))
		return read_grams(param, value, ret, refusal);
	if (!json_is_string(value))
		return refuse_type(param, refusal);
	outcome = quantity_mass(json_string_value(value), &ret->mass_mg, &ret->step_mg);
	return outcome == QUANTITY_OK ? 0 : refuse_mass(param, outcome, refusal);
}

/* A number without fraction, 5.0 too: JSON knows no integers (RFC 8259, section 6). */
static bool whole_of(const json_t *value, int64_t *ret)
{
	double real = json_real_value(value); /* 0 when it is no real */

	if (json_is_integer(value))
		*ret = json_integer_value(value);
	else if (json_is_real(value) && real == floor(real) && fabs(real) <= EXACT_IN_REAL)
		*ret = (int64_t)real;
	else
		return false;
	return true;
}

static int read_time(const struct rpc_param *param, const json_t *value, struct rpc_value *ret,
		     struct rpc_refusal *refusal)
{
	enum quantity_outcome outcome = QUANTITY_OK;

	if (json_is_string(value))
		outcome = quantity_rfc3339(json_string_value(value), &ret->time_ms, &ret->offset_min);
	else if (!whole_of(value, &ret->time_ms))
		return refuse_type(param, refusal);
	else if (ret->time_ms < EARLIEST_MS || ret->time_ms >= TOO_LATE_MS)
		outcome = QUANTITY_OUT_OF_RANGE;

	switch (outcome) {
	case QUANTITY_OK:
		break;
	case QUANTITY_NO_UNIT:
	case QUANTITY_MALFORMED:
		return refuse(refusal, "malformed", type_hint(param->type), "%s is no time", param->name);
	case QUANTITY_OUT_OF_RANGE:
		return refuse(refusal, "out-of-range", "years 2000 to 2199; a number is milliseconds, not seconds",
			      "%s is out of range", param->name);
	}
	return 0;
}

static int read_text(const struct rpc_param *param, const json_t *value, const char **ret,
		     struct rpc_refusal *refusal)
{
	if (!json_is_string(value))
		return refuse_type(param, refusal);
	if (json_string_length(value) > LIMIT_TEXT_BYTES)
		return refuse(refusal, "too-long", "shorten it", "%s takes at most %d octets", param->name, LIMIT_TEXT_BYTES);
	*ret = json_string_value(value);
	return 0;
}

static int read_list(const struct rpc_param *param, const json_t *value, struct rpc_value *ret,
		     struct rpc_refusal *refusal)
{
	const size_t room = sizeof ret->list / sizeof *ret->list;
	const json_t *element;
	size_t i;

	if (json_is_string(value))
		return read_text(param, value, &ret->list[ret->n_list++], refusal);
	if (!json_is_array(value))
		return refuse_type(param, refusal);
	if (json_array_size(value) > room)
		return refuse(refusal, "too-many", "", "%s takes at most %zu", param->name, room);
	json_array_foreach (value, i, element) {
		int r = read_text(param, element, &ret->list[ret->n_list++], refusal);
		if (r != 0)
			return r;
	}
	return 0;
}

static int read_rows(const struct rpc_param *param, const json_t *value, struct rpc_value *ret, struct rpc_refusal *refusal)
{
	const json_t *element;
	size_t i;

	if (!json_is_array(value))
		return refuse_type(param, refusal);
	json_array_foreach (value, i, element)
		if (!json_is_object(element))
			return refuse_type(param, refusal);
	ret->rows = value;
	return 0;
}

static int read_value(const struct rpc_param *param, const json_t *value, struct rpc_value *ret,
		      struct rpc_refusal *refusal)
{
	ret->given = true;
	switch (param->type) {
	case RPC_TEXT:
		return read_text(param, value, &ret->text, refusal);
	case RPC_WHOLE:
		return whole_of(value, &ret->whole) ? 0 : refuse_type(param, refusal);
	case RPC_NUMBER:
		ret->number = json_number_value(value); /* JSON has no infinity, and jansson refuses what overflows */
		return json_is_number(value) ? 0 : refuse_type(param, refusal);
	case RPC_MASS:
		return read_mass(param, value, ret, refusal);
	case RPC_TIME:
		return read_time(param, value, ret, refusal);
	case RPC_LIST:
		return read_list(param, value, ret, refusal);
	case RPC_ROWS:
		return read_rows(param, value, ret, refusal);
	}
	return refuse_type(param, refusal);
}

/* n_params when there is none. */
static size_t find_param(const struct rpc_method *method, const char *name)
{
	size_t i;

	for (i = 0; i < method->n_params; i++) {
		const struct rpc_param *param = &method->params[i];

		if (strcmp(param->name, name) == 0 || (param->also && strcmp(param->also, name) == 0))
			break;
	}
	return i;
}

/* found: n_params values, NULL where none is given. */
static int find_by_name(const struct rpc_method *method, const json_t *params, const json_t **found,
			struct rpc_refusal *refusal)
{
	/* jansson's iterators want a pointer that isn't const, and don't write */
	json_t *object = (json_t *)params;
	const char *name;
	json_t *value;

	json_object_foreach (object, name, value) {
		size_t i = find_param(method, name);

		if (i == method->n_params)
			return refuse_listing(method, refusal, "unknown-param", "unknown name \"%.64s\"", name);
		if (found[i])
			return refuse_listing(method, refusal, "given-twice", "%s is given twice",
					      method->params[i].name);
		found[i] = value;
	}
	return 0;
}

static int find_by_position(const struct rpc_method *method, const json_t *params, const json_t **found,
			    struct rpc_refusal *refusal)
{
	size_t n = json_array_size(params);

	if (n > method->n_params)
		return refuse_listing(method, refusal, "too-many", "%zu values, but at most %zu are taken", n,
				      method->n_params);
	for (size_t i = 0; i < n; i++)
		found[i] = json_array_get(params, i);
	return 0;
}

int params_read(const struct rpc_method *method, const json_t *params, struct rpc_value *values,
		struct rpc_refusal *refusal)
{
	const json_t *found[RPC_PARAMS_MAX] = { NULL };
	int r;

	for (size_t i = 0; i < method->n_params; i++)
		values[i] = (struct rpc_value){ 0 };
	r = json_is_object(params) ? find_by_name(method, params, found, refusal)
				   : find_by_position(method, params, found, refusal);
	for (size_t i = 0; i < method->n_params && r == 0; i++) {
		const struct rpc_param *param = &method->params[i];

		if (found[i] && !json_is_null(found[i]))
			r = read_value(param, found[i], &values[i], refusal);
		else if (param->required)
			r = refuse_listing(method, refusal, "missing-param", "%s is missing", param->name);
	}
	return r;
}
