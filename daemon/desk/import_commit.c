// SPDX-License-Identifier: MIT
/* Requests about rows that were handed in: what would come of them, and that it shall. */
#include "daemon/desk/import.h"
#include "daemon/desk/models.h"
#include "daemon/desk/room.h"
#include "daemon/desk/rounds.h"
#include "daemon/weigh/quantity.h"
#include <errno.h>

/* ---- what would come of them ---- */

static int count(const struct import *import, enum import_fate fate)
{
	int n = 0;

	for (size_t i = 0; i < import->n; i++)
		n += import->rows[i].fate == fate;
	return n;
}

static int by_index(const void *a, const void *b)
{
	const struct import_row *const *x = a, *const *y = b;

	return ((*x)->index > (*y)->index) - ((*x)->index < (*y)->index);
}

static json_t *doubt_json(struct desk *desk, const struct import_row *row)
{
	const struct roster_animal *animal = roster_animal_by_id(&desk->roster, row->animal_id);
	const char *name = animal ? animal->name : "?";
	char text[256], mass[32];

	(void)quantity_format(mass, sizeof mass, row->mass_mg, row->step_mg, QUANTITY_GRAMS);
	if (row->early)
		(void)snprintf(text, sizeof text, "that is before %s was born", name);
	else
		(void)snprintf(text, sizeof text,
			       "%s is far off what %s weighed before: another pup's, a slip, or something happened",
			       mass, name);
	return json_pack("{s:i, s:s, s:s}", "row", (int)row->index, "code", row->early ? "before-birth" : "off-curve",
			 "text", text);
}

/* The first of those that can hardly be true, in the order in which they were handed in; all are counted. */
static json_t *doubts(struct desk *desk, const struct import *import, int *ret_n)
{
	const struct import_row **list = calloc(import->n ? import->n : 1, sizeof(const struct import_row *));
	json_t *ret = json_array();
	size_t n = 0;

	for (size_t i = 0; list && i < import->n; i++)
		if (import->rows[i].early || import->rows[i].wild)
			list[n++] = &import->rows[i];
	if (n)
		qsort(list, n, sizeof *list, by_index);
	for (size_t i = 0; i < n && i < LIMIT_IMPORT_TOLD; i++)
		(void)json_array_append_new(ret, doubt_json(desk, list[i]));
	free(list);
	*ret_n = (int)n;
	return list ? ret : NULL;
}

DESK_METHOD(desk_import_check)
{
	struct desk *desk = userdata;
	struct import *import = NULL;
	json_t *list;
	int n = 0, r = import_own(desk, caller, &import, refusal);

	(void)values;
	if (r != 0)
		return r;
	r = import_sort(desk, import->rows, import->n);
	if (r == 0)
		r = import_doubt(desk, import->rows, import->n);
	if (r != 0)
		return desk_refuse_ledger(r, refusal);
	list = doubts(desk, import, &n);
	if (!list)
		return -ENOMEM;
	*ret_result = json_pack("{s:i, s:i, s:i, s:i, s:i, s:o}", "new", count(import, IMPORT_NEW), "on_record",
				count(import, IMPORT_ON_RECORD), "repeated", count(import, IMPORT_REPEATED),
				"n_refused", (int)import->refused, "n_doubts", n, "doubts", list);
	return 0;
}

/* ---- all or none ---- */

struct adding {
	struct desk *desk;
	const struct import_row **rows; /* new ones, in the order in which they were handed in */
	size_t n;
};

static void typed_row(void *userdata, size_t i, struct store_typed *ret)
{
	const struct adding *adding = userdata;
	const struct import_row *row = adding->rows[i];
	const struct roster_animal *animal = roster_animal_by_id(&adding->desk->roster, row->animal_id);

	*ret = (struct store_typed){
		.at_ms = row->at_ms,
		.mass_mg = row->mass_mg,
		.u_mg = weigh_step_u_mg(row->step_mg),
		.step_mg = row->step_mg,
		.offset_min = row->offset_min,
		.animal_id = row->animal_id,
		.fed = row->fed == 'b' ? "before"
		       : row->fed      ? "after"
		       : animal        ? rounds_fed(adding->desk, animal->litter_id, row->at_ms)
				       : NULL,
	};
}

/* What is recorded of each pup and litter follows once for all its rows. */
static json_t *follow(struct desk *desk, const struct import *import)
{
	json_t *litters = json_object();
	const char *before = "", *name;
	json_t *animal_id;

	for (size_t i = 0; i < import->n; i++) { /* sorted by animal */
		const struct import_row *row = &import->rows[i];
		const struct roster_animal *animal = roster_animal_by_id(&desk->roster, row->animal_id);
		const struct roster_litter *litter =
			animal ? roster_litter_by_id(&desk->roster, animal->litter_id) : NULL;
		if (row->fate != IMPORT_NEW || strcmp(before, row->animal_id) == 0 || !litter)
			continue;
		before = row->animal_id;
		desk_refresh_animal(desk, row->animal_id);
		(void)json_object_set_new(litters, litter->name, json_string(row->animal_id));
	}
	json_object_foreach (litters, name, animal_id) {
		const struct roster_animal *animal = roster_animal_by_id(&desk->roster, json_string_value(animal_id));
		models_changed(desk, animal->id);
		rounds_recorded(desk, animal->litter_id);
	}
	return litters;
}

static void tell_imported(struct desk *desk, size_t n, const json_t *litters, const char *by)
{
	json_t *names = json_array(), *unused;
	json_t *object = (json_t *)litters; /* jansson's iterators want it so, and don't write */
	const char *name;
	char text[LIMIT_TEXT_BYTES + 64];

	json_object_foreach (object, name, unused)
		(void)json_array_append_new(names, json_string(name));
	(void)snprintf(text, sizeof text, "imported %zu reading%s (%s)", n, n == 1 ? "" : "s", by);
	desk_tell(desk, PROMPT_IMPORTED, json_pack("{s:i, s:o, s:s}", "readings", (int)n, "litters", names, "by", by),
		  text);
}

static int commit(struct desk *desk, const struct rpc_caller *caller, struct import *import, struct adding *adding,
		  json_t **ret_result, struct rpc_refusal *refusal)
{
	const char *said = *import->said ? import->said : NULL;
	struct store_stamp stamp = desk_stamp(caller->peer, said);
	json_t *litters;
	int r;

	for (size_t i = 0; i < import->n; i++)
		if (import->rows[i].fate == IMPORT_NEW)
			adding->rows[adding->n++] = &import->rows[i];
	for (size_t i = 0; i < adding->n; i++)
		if (!roster_animal_by_id(&desk->roster, adding->rows[i]->animal_id))
			return rpc_refuse(refusal, "not-found", "Import it anew.",
					  "an animal has left since its rows came");
	if (adding->n) {
		qsort(adding->rows, adding->n, sizeof *adding->rows, by_index);
		r = store_add_typed_rows(desk->store, &stamp, adding->n, typed_row, adding);
		if (r != 0)
			return desk_refuse_ledger(r, refusal);
	}
	*ret_result = json_pack("{s:i, s:i, s:i}", "added", (int)adding->n, "on_record",
				count(import, IMPORT_ON_RECORD), "repeated", count(import, IMPORT_REPEATED));
	if (adding->n) {
		litters = follow(desk, import);
		tell_imported(desk, adding->n, litters, said ? said : caller->peer);
		json_decref(litters);
	}
	return 0;
}

DESK_METHOD(desk_import_commit)
{
	struct desk *desk = userdata;
	struct adding adding = { .desk = desk };
	struct import *import = NULL;
	int r = import_own(desk, caller, &import, refusal);

	(void)values;
	if (r != 0)
		return r;
	if (import->refused)
		return rpc_refuse(refusal, "bad-rows", "`import.rows` told which; mend them, and begin anew.",
				  "%u of %u rows can't be taken, so none is", import->refused, import->handed_in);
	adding.rows = calloc(import->n ? import->n : 1, sizeof(const struct import_row *));
	if (!adding.rows)
		return -ENOMEM;
	r = import_sort(desk, import->rows, import->n);
	r = r != 0 ? desk_refuse_ledger(r, refusal) : commit(desk, caller, import, &adding, ret_result, refusal);
	free(adding.rows);
	if (r == 0)
		desk->import = import_free(desk->import); /* refused, it may be tried again */
	return r;
}
