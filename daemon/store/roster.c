// SPDX-License-Identifier: MIT
/* Scales, containers, litters, animals: each call adds what it is told, in one transaction. */
#include "stmt.h"
#include "daemon/limits.h"

#include <errno.h>
#include <string.h>

/* Inserts one row that has n texts after the five common columns. */
static int add_texts(struct store *store, enum stmt_slot slot, const char *sql, const struct store_stamp *stamp,
		     const char *const *texts, size_t n, char ret_id[UUID7_SIZE])
{
	struct stmt use = { 0 };
	size_t i;
	int r = stmt_use_row(store, slot, sql, stamp, ret_id, &use);

	if (r != 0)
		return r;
	for (i = 0; i < n; i++)
		stmt_text(&use, texts[i]);
	return stmt_run(store, &use);
}

/* The same as a transaction of its own; ret_id may be NULL. */
static int one_row(struct store *store, enum stmt_slot slot, const char *sql, const struct store_stamp *stamp,
		   const char *const *texts, size_t n, char *ret_id)
{
	char id[UUID7_SIZE];
	int r = stmt_begin(store);

	if (r != 0)
		return r;
	r = add_texts(store, slot, sql, stamp, texts, n, id);
	r = stmt_end(store, r);
	if (r == 0 && ret_id)
		memcpy(ret_id, id, sizeof(id));
	return r;
}

int store_adopt_scale(struct store *store, const struct store_stamp *stamp, const char *address, const char *name,
		      char ret_id[UUID7_SIZE])
{
	return one_row(store, STMT_ADD_SCALE,
		       "INSERT INTO scale (id, at_ms, offset_min, peer, said, address, name) "
		       "VALUES (?, ?, ?, ?, ?, ?, ?)",
		       stamp, (const char *const[]){ address, name }, 2, ret_id);
}

int store_forget_scale(struct store *store, const struct store_stamp *stamp, const char *scale_id)
{
	return one_row(store, STMT_END_SCALE,
		       "INSERT INTO scale_end (id, at_ms, offset_min, peer, said, scale) VALUES (?, ?, ?, ?, ?, ?)",
		       stamp, &scale_id, 1, NULL);
}

int store_add_container(struct store *store, const struct store_stamp *stamp, const char *name, char ret_id[UUID7_SIZE])
{
	return one_row(store, STMT_ADD_CONTAINER,
		       "INSERT INTO container (id, at_ms, offset_min, peer, said, name) VALUES (?, ?, ?, ?, ?, ?)",
		       stamp, &name, 1, ret_id);
}

int store_put_container(struct store *store, const struct store_stamp *stamp, const char *scale_id,
			const char *container_id)
{
	return one_row(store, STMT_PUT_CONTAINER,
		       "INSERT INTO scale_container (id, at_ms, offset_min, peer, said, scale, container) "
		       "VALUES (?, ?, ?, ?, ?, ?, ?)",
		       stamp, (const char *const[]){ scale_id, container_id }, 2, NULL);
}

int store_set_consent(struct store *store, const struct store_stamp *stamp, const char *scale_id, unsigned index,
		      unsigned code)
{
	bool has = index != STORE_NO_USER;
	char id[UUID7_SIZE];
	struct stmt use = { 0 };
	int r = stmt_begin(store);

	if (r != 0)
		return r;
	r = stmt_use_row(store, STMT_SET_CONSENT,
			 "INSERT INTO scale_consent (id, at_ms, offset_min, peer, said, scale, user, code) "
			 "VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
			 stamp, id, &use);
	if (r == 0) {
		stmt_text(&use, scale_id);
		stmt_int_if(&use, has, index);
		stmt_int_if(&use, has, code);
		r = stmt_run(store, &use);
	}
	return stmt_end(store, r);
}

int store_tare(struct store *store, const struct store_stamp *stamp, const char *container_id, int64_t mass_mg,
	       int64_t u_mg)
{
	char id[UUID7_SIZE];
	struct stmt use = { 0 };
	int r = stmt_begin(store);

	if (r != 0)
		return r;
	r = stmt_use_row(store, STMT_ADD_TARE, STMT_ADD_TARE_SQL, stamp, id, &use);
	if (r == 0) {
		stmt_text(&use, container_id);
		stmt_text(&use, NULL); /* no frame */
		stmt_int(&use, stamp->at_ms);
		stmt_int(&use, mass_mg);
		stmt_int(&use, u_mg);
		r = stmt_run(store, &use);
	}
	return stmt_end(store, r);
}

int store_add_litter(struct store *store, const struct store_stamp *stamp, const struct store_new_litter *litter,
		     char ret_id[UUID7_SIZE])
{
	char id[UUID7_SIZE];
	struct stmt use = { 0 };
	int r = stmt_begin(store);

	if (r != 0)
		return r;
	r = stmt_use_row(store, STMT_ADD_LITTER,
			 "INSERT INTO litter (id, at_ms, offset_min, peer, said, name, dam, born_ms, adult_mg) "
			 "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
			 stamp, id, &use);
	if (r == 0) {
		stmt_text(&use, litter->name);
		stmt_text(&use, litter->dam);
		stmt_int_if(&use, litter->born_ms != INT64_MIN, litter->born_ms);
		stmt_int_if(&use, litter->adult_mg != 0, litter->adult_mg);
		r = stmt_run(store, &use);
	}
	r = stmt_end(store, r);
	if (r == 0)
		memcpy(ret_id, id, sizeof(id));
	return r;
}

int store_close_litter(struct store *store, const struct store_stamp *stamp, const char *litter_id)
{
	return one_row(store, STMT_END_LITTER,
		       "INSERT INTO litter_end (id, at_ms, offset_min, peer, said, litter) "
		       "VALUES (?, ?, ?, ?, ?, ?)",
		       stamp, &litter_id, 1, NULL);
}

static int add_animal(struct store *store, const struct store_stamp *stamp, const struct store_new_animal *animal,
		      char ret_id[UUID7_SIZE])
{
	const char sex[] = { animal->sex, '\0' };
	struct stmt use = { 0 };
	int r = stmt_use_row(store, STMT_ADD_ANIMAL,
			     "INSERT INTO animal (id, at_ms, offset_min, peer, said, name, litter, collar, sex, "
			     "birth_mg, born_ms) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
			     stamp, ret_id, &use);

	if (r != 0)
		return r;
	stmt_text(&use, animal->name);
	stmt_text(&use, animal->litter_id);
	stmt_text(&use, animal->collar);
	stmt_text(&use, sex);
	stmt_int_if(&use, animal->birth_mg != 0, animal->birth_mg);
	stmt_int_if(&use, animal->born_ms != INT64_MIN, animal->born_ms);
	return stmt_run(store, &use);
}

int store_add_animal(struct store *store, const struct store_stamp *stamp, const struct store_new_animal *animal,
		     char ret_id[UUID7_SIZE])
{
	char id[UUID7_SIZE], alias_id[UUID7_SIZE];
	size_t i;
	int r;

	if (animal->n_aliases > LIMIT_ALIASES)
		return -EINVAL;
	r = stmt_begin(store);
	if (r != 0)
		return r;
	r = add_animal(store, stamp, animal, id);
	for (i = 0; r == 0 && i < animal->n_aliases; i++)
		r = add_texts(store, STMT_ADD_ALIAS,
			      "INSERT INTO animal_alias (id, at_ms, offset_min, peer, said, animal, alias) "
			      "VALUES (?, ?, ?, ?, ?, ?, ?)",
			      stamp, (const char *const[]){ id, animal->aliases[i] }, 2, alias_id);
	r = stmt_end(store, r);
	if (r == 0)
		memcpy(ret_id, id, sizeof(id));
	return r;
}

int store_animal_gone(struct store *store, const struct store_stamp *stamp, const char *animal_id, const char *why)
{
	return one_row(store, STMT_END_ANIMAL,
		       "INSERT INTO animal_end (id, at_ms, offset_min, peer, said, animal, why) "
		       "VALUES (?, ?, ?, ?, ?, ?, ?)",
		       stamp, (const char *const[]){ animal_id, why }, 2, NULL);
}
