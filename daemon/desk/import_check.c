// SPDX-License-Identifier: MIT
/* What would come of the rows of an import: which are new, and which can hardly be true. */
#include "daemon/desk/import.h"
#include "daemon/desk/models.h"
#include "daemon/desk/room.h"
#include <errno.h>

#define MINUTE_MS INT64_C(60000) /* what people write down; offsets from UTC are whole minutes too */

static int64_t minute(const struct import_row *row)
{
	return row->at_ms / MINUTE_MS;
}

static int compare(const void *a, const void *b)
{
	const struct import_row *x = a, *y = b;
	int r = strcmp(x->animal_id, y->animal_id);

	if (r == 0)
		r = (minute(x) > minute(y)) - (minute(x) < minute(y));
	if (r == 0)
		r = (x->mass_mg > y->mass_mg) - (x->mass_mg < y->mass_mg);
	return r ? r : (x->index > y->index) - (x->index < y->index);
}

static bool same(const struct import_row *a, const struct import_row *b)
{
	return strcmp(a->animal_id, b->animal_id) == 0 && minute(a) == minute(b) && a->mass_mg == b->mass_mg;
}

int import_sort(struct desk *desk, struct import_row *rows, size_t n)
{
	if (n)
		qsort(rows, n, sizeof *rows, compare);
	for (size_t i = 0; i < n; i++) {
		int64_t from_ms = minute(&rows[i]) * MINUTE_MS;
		bool said = false;
		int r = 0;
		rows[i].fate = IMPORT_NEW;
		if (i && same(&rows[i - 1], &rows[i]))
			rows[i].fate = rows[i - 1].fate == IMPORT_NEW ? IMPORT_REPEATED : rows[i - 1].fate;
		else
			r = store_was_said(desk->store, rows[i].animal_id, from_ms, from_ms + MINUTE_MS,
					   rows[i].mass_mg, &said);
		if (r != 0)
			return r;
		if (said)
			rows[i].fate = IMPORT_ON_RECORD;
	}
	return 0;
}

/* The new rows of one litter, by its model's indices. */
static int doubt_litter(struct desk *desk, const struct model *model, struct import_row *rows, size_t n)
{
	struct models_row *tried = calloc(n, sizeof *tried);
	struct import_row **of = calloc(n, sizeof(struct import_row *));
	size_t k = 0;
	int r = tried && of ? 0 : -ENOMEM;

	for (size_t i = 0; r == 0 && i < n; i++) {
		int animal = model_index(model, rows[i].animal_id);
		if (animal < 0 || rows[i].fate != IMPORT_NEW)
			continue;
		of[k] = &rows[i];
		tried[k++] = (struct models_row){ .animal = (size_t)animal,
						  .at_ms = rows[i].at_ms,
						  .mass_mg = rows[i].mass_mg,
						  .u_mg = weigh_step_u_mg(rows[i].step_mg) };
	}
	if (r == 0 && k)
		r = models_try(desk, model, tried, k);
	for (size_t i = 0; r == 0 && i < k; i++)
		of[i]->wild = tried[i].wild;
	free(tried);
	free(of);
	return r;
}

int import_doubt(struct desk *desk, struct import_row *rows, size_t n)
{
	int r = 0;

	for (size_t i = 0; i < n; i++) {
		const struct roster_animal *animal = roster_animal_by_id(&desk->roster, rows[i].animal_id);
		rows[i].wild = false;
		rows[i].early = animal && rows[i].fate == IMPORT_NEW && animal->born_ms != INT64_MIN &&
				rows[i].at_ms < animal->born_ms;
	}
	for (const struct model *model = desk->models; n && model && r == 0; model = model->next)
		if (model->n)
			r = doubt_litter(desk, model, rows, n);
	return r;
}
