// SPDX-License-Identifier: MIT
#include "daemon/desk/import.h"
#include "daemon/desk/room.h"
#include "daemon/prompt/params.h"
#include <assert.h>
#include <errno.h>
#include <systemd/sd-event.h>

struct import *import_free(struct import *import)
{
	if (!import)
		return NULL;
	import->idle = sd_event_source_disable_unref(import->idle);
	free(import->rows);
	free(import);
	return NULL;
}

void import_left(void *userdata, const struct rpc_caller *caller)
{
	struct desk *desk = userdata;

	if (desk->import && desk->import->caller == caller)
		desk->import = import_free(desk->import);
}

static int on_idle(sd_event_source *source, uint64_t usec, void *userdata)
{
	struct desk *desk = userdata;

	(void)source;
	(void)usec;
	desk->import = import_free(desk->import);
	return 0;
}

static int await_more(struct import *import)
{
	int r = sd_event_source_set_time_relative(import->idle, import->idle_s * UINT64_C(1000000));

	return r < 0 ? r : 0;
}

DESK_METHOD(desk_import_begin) /* seconds?, by? */
{
	struct desk *desk = userdata;
	struct import *import;
	int r;

	if (values[0].given && (values[0].whole < 1 || values[0].whole > IMPORT_IDLE_S))
		return rpc_refuse(refusal, "bad-value", "It is 1 to 60.", "it can't wait for so many seconds");
	import_left(desk, caller); /* what this connection had begun before */
	if (desk->import)
		return rpc_refuse(refusal, "busy", "Wait until it is done, a minute at most, and try again.",
				  "somebody else imports a file");
	import = calloc(1, sizeof *import);
	if (!import)
		return -ENOMEM;
	import->caller = caller;
	(void)snprintf(import->said, sizeof import->said, "%s", values[1].text ? values[1].text : "");
	import->idle_s = values[0].given ? (unsigned)values[0].whole : IMPORT_IDLE_S;
	r = sd_event_add_time_relative(desk->event, &import->idle, CLOCK_MONOTONIC, import->idle_s * UINT64_C(1000000),
				       0, on_idle, desk);
	if (r < 0) {
		import_free(import);
		return r;
	}
	desk->import = import;
	*ret_result = json_pack("{s:i, s:i}", "room", LIMIT_IMPORT_ROWS, "seconds", (int)import->idle_s);
	return 0;
}

int import_own(struct desk *desk, const struct rpc_caller *caller, struct import **ret, struct rpc_refusal *refusal)
{
	if (!desk->import || desk->import->caller != caller)
		return rpc_refuse(
			refusal, "no-import",
			"Begin one with `import.begin`, on the same connection; one that nothing is heard of for a "
			"minute is dropped.",
			"no import is under way");
	*ret = desk->import;
	return await_more(*ret);
}

/* ---- rows ---- */

static const struct rpc_param row_params[] = { { "animal", "who", RPC_TEXT, true },
					       { "mass", "mass_g", RPC_MASS, true },
					       { "at", NULL, RPC_TIME, true },
					       { "fed", NULL, RPC_TEXT, false } };
static const struct rpc_method row_method = { "a row", row_params, sizeof row_params / sizeof *row_params, NULL };

static int read_row(struct desk *desk, const json_t *json, struct import_row *ret, struct rpc_refusal *refusal)
{
	struct rpc_value values[sizeof row_params / sizeof *row_params];
	struct roster_animal *animal;
	int r = params_read(&row_method, json, values, refusal);

	if (r == 0)
		r = desk_find_animal(desk, values[0].text, &animal, refusal);
	if (r != 0)
		return r;
	if (values[2].time_ms > clock_now_ms() + DESK_AHEAD_MS)
		return rpc_refuse(refusal, "bad-value", "Look at the date, the year too.", "that time lies ahead");
	if (values[3].given && strcmp(values[3].text, "before") != 0 && strcmp(values[3].text, "after") != 0)
		return rpc_refuse(refusal, "bad-value", "It is before or after, or nothing.",
				  "weighed \"%.40s\" a feed?", values[3].text);
	*ret = (struct import_row){ .fed = values[3].given ? values[3].text[0] : 0,
				    .offset_min = values[2].offset_min,
				    .at_ms = values[2].time_ms,
				    .mass_mg = values[1].mass_mg,
				    .step_mg = values[1].step_mg };
	(void)snprintf(ret->animal_id, sizeof ret->animal_id, "%s", animal->id);
	return 0;
}

static int keep(struct import *import, const struct import_row *row)
{
	if (import->n == import->room) {
		size_t room = import->room ? import->room * 2 : 256;
		struct import_row *rows;
		room = room > LIMIT_IMPORT_ROWS ? LIMIT_IMPORT_ROWS : room;
		rows = reallocarray(import->rows, room, sizeof *rows);
		if (!rows)
			return -ENOMEM;
		import->rows = rows;
		import->room = room;
	}
	import->rows[import->n++] = *row;
	return 0;
}

/* Only the first of a reply are told in words. */
static void tell_refused(json_t *list, unsigned index, struct rpc_refusal *refusal)
{
	json_decref(refusal->data);
	if (json_array_size(list) < LIMIT_IMPORT_TOLD)
		(void)json_array_append_new(list, json_pack("{s:i, s:s, s:o, s:o}", "row", (int)index, "code",
							    refusal->word, "message", rpc_text(refusal->message),
							    "hint", rpc_text(refusal->hint)));
}

DESK_METHOD(desk_import_rows) /* rows */
{
	struct desk *desk = userdata;
	struct import *import = NULL;
	json_t *list;
	const json_t *json;
	size_t i;
	int r = import_own(desk, caller, &import, refusal);

	if (r != 0)
		return r;
	assert(import);
	if (json_array_size(values[0].rows) > LIMIT_IMPORT_ROWS - import->handed_in)
		return rpc_refuse(refusal, "too-many", "Split the file.", "an import takes %d rows at most",
				  LIMIT_IMPORT_ROWS);
	list = json_array();
	json_array_foreach (values[0].rows, i, json) {
		struct rpc_refusal why = { .code = RPC_REFUSED };
		struct import_row row;
		r = read_row(desk, json, &row, &why);
		row.index = import->handed_in;
		if (r == 0)
			r = keep(import, &row);
		if (r < 0)
			break;
		import->handed_in++;
		if (r > 0) {
			tell_refused(list, row.index, &why);
			import->refused++;
		}
	}
	if (r < 0) { /* half a request is none */
		json_decref(list);
		desk->import = import_free(import);
		return r;
	}
	*ret_result = json_pack("{s:i, s:i, s:o}", "rows", (int)import->handed_in, "n_refused", (int)import->refused,
				"refused", list);
	return 0;
}

DESK_METHOD(desk_import_drop)
{
	struct desk *desk = userdata;
	struct import *import = NULL;
	int r = import_own(desk, caller, &import, refusal);

	(void)values;
	if (r != 0)
		return r;
	assert(import);
	*ret_result = json_pack("{s:i}", "rows", (int)import->handed_in);
	desk->import = import_free(desk->import);
	return 0;
}
