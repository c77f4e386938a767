// SPDX-License-Identifier: MIT
#include "daemon/desk/roster.h"
#include <errno.h>
#include <strings.h>

/* A list under construction: rows of one size, grown by doubling. */
struct rows {
	void *at;
	size_t size, n, room;
};

static void *rows_add(struct rows *rows)
{
	if (rows->n == rows->room) {
		size_t room = rows->room ? rows->room * 2 : 8;
		void *at = reallocarray(rows->at, room, rows->size);
		if (!at)
			return NULL;
		rows->at = at;
		rows->room = room;
	}
	void *row = (char *)rows->at + rows->size * rows->n++;
	memset(row, 0, rows->size);
	return row;
}

/* Ledger texts were checked for length when they went in; a longer one is cut, never overrun. */
static void keep(char *to, size_t size, const char *text)
{
	(void)snprintf(to, size, "%s", text ? text : "");
}

#define KEEP(field, text) keep(field, sizeof(field), text)

static int scale_row(void *userdata, const struct store_scale_row *row)
{
	struct roster_scale *scale = rows_add(userdata);

	if (!scale)
		return -ENOMEM;
	KEEP(scale->id, row->id);
	KEEP(scale->address, row->address);
	KEEP(scale->name, row->name);
	KEEP(scale->container_id, row->container_id);
	scale->battery = -1;
	scale->user = row->user;
	scale->code = row->code;
	return 0;
}

static int result_row(void *userdata, const struct weigh_result *result)
{
	struct weigh_result old = *result;

	old.link = 0; /* links are counted from 1 anew by each daemon: this one is none of them */
	weigh_remember(userdata, &old);
	return 0;
}

int roster_load_scales(struct roster *roster, struct store *store)
{
	struct rows rows = { .size = sizeof(struct roster_scale) };
	int r = store_each_scale(store, scale_row, &rows);

	for (size_t i = 0; r == 0 && i < rows.n; i++) {
		struct roster_scale *scale = (struct roster_scale *)rows.at + i;
		const struct roster_scale *old = roster_scale_by_id(roster, scale->id);
		if (old) {
			scale->memory = old->memory;
			scale->battery = old->battery;
			scale->resolution_kg_mg = old->resolution_kg_mg;
			scale->resolution_lb_mg = old->resolution_lb_mg;
			scale->live_told_ms = old->live_told_ms;
			scale->clock = old->clock;
			scale->air = old->air;
		} else {
			r = store_each_result(store, scale->id, WEIGH_REMEMBERED, result_row, &scale->memory);
		}
	}
	if (r != 0) {
		free(rows.at);
		return r;
	}
	free(roster->scales);
	roster->scales = rows.at;
	roster->n_scales = rows.n;
	store_trim(store);
	return 0;
}

static int container_row(void *userdata, const struct store_container_row *row)
{
	struct roster_container *container = rows_add(userdata);

	if (!container)
		return -ENOMEM;
	KEEP(container->id, row->id);
	KEEP(container->name, row->name);
	container->has_tare = row->has_tare;
	container->tare = (struct tare){ .mass_mg = row->mass_mg, .u_mg = row->u_mg, .checked_ms = row->checked_ms };
	return 0;
}

int roster_load_containers(struct roster *roster, struct store *store)
{
	struct rows rows = { .size = sizeof(struct roster_container) };
	int r = store_each_container(store, container_row, &rows);

	if (r != 0) {
		free(rows.at);
		return r;
	}
	free(roster->containers);
	roster->containers = rows.at;
	roster->n_containers = rows.n;
	store_trim(store);
	return 0;
}

static int litter_row(void *userdata, const struct store_litter_row *row)
{
	struct roster_litter *litter;

	if (row->closed)
		return 0;
	litter = rows_add(userdata);
	if (!litter)
		return -ENOMEM;
	KEEP(litter->id, row->id);
	KEEP(litter->name, row->name);
	litter->adult_mg = row->adult_mg;
	return 0;
}

static int limits_row(void *userdata, const char *litter_id, const struct store_limits *row)
{
	struct rows *rows = userdata;

	for (size_t i = 0; i < rows->n; i++) {
		struct roster_litter *litter = (struct roster_litter *)rows->at + i;
		if (strcmp(litter->id, litter_id) == 0)
			litter->limits = (struct concern_limits){ .early_loss_pct = row->early_loss_pct,
								  .band_low_pct = row->band_low_pct,
								  .overdue_h = row->overdue_h,
								  .behind_pct = row->behind_pct };
	}
	return 0;
}

int roster_load_litters(struct roster *roster, struct store *store)
{
	struct rows rows = { .size = sizeof(struct roster_litter) };
	int r = store_each_litter(store, litter_row, &rows);

	if (r == 0)
		r = store_each_limits(store, limits_row, &rows);
	if (r != 0) {
		free(rows.at);
		return r;
	}
	free(roster->litters);
	roster->litters = rows.at;
	roster->n_litters = rows.n;
	store_trim(store);
	return 0;
}

static int animal_row(void *userdata, const struct store_animal_row *row)
{
	struct roster_animal *animal = rows_add(userdata);

	if (!animal)
		return -ENOMEM;
	KEEP(animal->id, row->id);
	KEEP(animal->name, row->name);
	KEEP(animal->litter_id, row->litter_id);
	KEEP(animal->collar, row->collar);
	animal->birth_mg = row->birth_mg;
	animal->born_ms = row->born_ms;
	animal->newest_mg = row->newest_mg;
	animal->newest_u_mg = row->newest_u_mg;
	animal->newest_at_ms = row->newest_at_ms;
	for (size_t i = 0; i < row->n_aliases && i < LIMIT_ALIASES; i++)
		KEEP(animal->aliases[animal->n_aliases++], row->aliases[i]);
	return 0;
}

int roster_load_animals(struct roster *roster, struct store *store)
{
	struct rows rows = { .size = sizeof(struct roster_animal) };
	int r = store_each_animal(store, animal_row, &rows);

	if (r != 0) {
		free(rows.at);
		return r;
	}
	free(roster->animals);
	roster->animals = rows.at;
	roster->n_animals = rows.n;
	store_trim(store);
	return 0;
}

int roster_load(struct roster *roster, struct store *store)
{
	int r = roster_load_scales(roster, store);

	if (r == 0)
		r = roster_load_containers(roster, store);
	if (r == 0)
		r = roster_load_litters(roster, store);
	if (r == 0)
		r = roster_load_animals(roster, store);
	return r;
}

void roster_done(struct roster *roster)
{
	free(roster->scales);
	free(roster->containers);
	free(roster->litters);
	free(roster->animals);
	*roster = (struct roster){ 0 };
}

struct roster_scale *roster_scale(struct roster *roster, const char *name_or_address)
{
	for (size_t i = 0; i < roster->n_scales; i++)
		if (strcasecmp(roster->scales[i].name, name_or_address) == 0 ||
		    strcasecmp(roster->scales[i].address, name_or_address) == 0)
			return &roster->scales[i];
	return NULL;
}

struct roster_scale *roster_scale_by_id(struct roster *roster, const char *id)
{
	for (size_t i = 0; i < roster->n_scales; i++)
		if (strcmp(roster->scales[i].id, id) == 0)
			return &roster->scales[i];
	return NULL;
}

struct roster_container *roster_container(struct roster *roster, const char *name)
{
	for (size_t i = 0; i < roster->n_containers; i++)
		if (strcasecmp(roster->containers[i].name, name) == 0)
			return &roster->containers[i];
	return NULL;
}

struct roster_container *roster_container_by_id(struct roster *roster, const char *id)
{
	for (size_t i = 0; i < roster->n_containers; i++)
		if (strcmp(roster->containers[i].id, id) == 0)
			return &roster->containers[i];
	return NULL;
}

struct roster_litter *roster_litter(struct roster *roster, const char *name)
{
	for (size_t i = 0; i < roster->n_litters; i++)
		if (strcasecmp(roster->litters[i].name, name) == 0)
			return &roster->litters[i];
	return NULL;
}

const struct roster_litter *roster_litter_by_id(const struct roster *roster, const char *id)
{
	for (size_t i = 0; i < roster->n_litters; i++)
		if (strcmp(roster->litters[i].id, id) == 0)
			return &roster->litters[i];
	return NULL;
}

struct roster_animal *roster_animal_by_id(struct roster *roster, const char *id)
{
	for (size_t i = 0; i < roster->n_animals; i++)
		if (strcmp(roster->animals[i].id, id) == 0)
			return &roster->animals[i];
	return NULL;
}

/* 3: by name, 2: by collar, 1: by alias, 0: not at all */
static int fits(const struct roster_animal *animal, const char *word)
{
	if (strcasecmp(animal->name, word) == 0)
		return 3;
	if (animal->collar[0] && strcasecmp(animal->collar, word) == 0)
		return 2;
	for (size_t i = 0; i < animal->n_aliases; i++)
		if (strcasecmp(animal->aliases[i], word) == 0)
			return 1;
	return 0;
}

static enum roster_match best_of(struct roster *roster, const char *litter_id, const char *word,
				 struct roster_animal **ret, struct roster_animal **ret_other)
{
	struct roster_animal *found = NULL, *other = NULL;
	int best = 0;

	for (size_t i = 0; i < roster->n_animals; i++) {
		struct roster_animal *animal = &roster->animals[i];
		if (litter_id && strcmp(animal->litter_id, litter_id) != 0)
			continue;
		int how = fits(animal, word);
		if (how > best) {
			best = how;
			found = animal;
			other = NULL;
		} else if (how && how == best) {
			other = animal;
		}
	}
	if (!found)
		return ROSTER_NOBODY;
	*ret = found;
	if (!other)
		return ROSTER_ONE;
	*ret_other = other;
	return ROSTER_SEVERAL;
}

enum roster_match roster_animal(struct roster *roster, const char *word, struct roster_animal **ret,
				struct roster_animal **ret_other)
{
	struct roster_animal *animal = roster_animal_by_id(roster, word);
	enum roster_match match;
	const char *slash;

	if (animal) {
		*ret = animal;
		return ROSTER_ONE;
	}
	match = best_of(roster, NULL, word, ret, ret_other);
	slash = strchr(word, '/');
	if (match != ROSTER_NOBODY || !slash || (size_t)(slash - word) >= ROSTER_TEXT)
		return match;

	char name[ROSTER_TEXT];
	(void)snprintf(name, sizeof name, "%.*s", (int)(slash - word), word);
	const struct roster_litter *litter = roster_litter(roster, name);
	return litter ? best_of(roster, litter->id, slash + 1, ret, ret_other) : ROSTER_NOBODY;
}

struct roster_animal *roster_taken(struct roster *roster, const char *litter_id, const char *word)
{
	for (size_t i = 0; i < roster->n_animals; i++)
		if (strcmp(roster->animals[i].litter_id, litter_id) == 0 && fits(&roster->animals[i], word))
			return &roster->animals[i];
	return NULL;
}
