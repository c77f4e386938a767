// SPDX-License-Identifier: MIT
/* Scales, containers, litters, animals: each call adds what it is told, in one transaction. */
#include "stmt.h"
#include "daemon/limits.h"

#include <errno.h>
#include <string.h>

int store_adopt_scale(struct store *store, const struct store_stamp *stamp, const char *address, const char *name,
		      char ret_id[UUID7_SIZE])
{
	return stmt_one_of_texts(store, STMT_ADD_SCALE,
				 "INSERT INTO scale (id, at_ms, offset_min, peer, said, address, name) "
				 "VALUES (?, ?, ?, ?, ?, ?, ?)",
				 stamp, (const char *const[]){ address, name }, 2, ret_id);
}

int store_forget_scale(struct store *store, const struct store_stamp *stamp, const char *scale_id)
{
	return stmt_one_of_texts(store, STMT_END_SCALE,
				 "INSERT INTO scale_end (id, at_ms, offset_min, peer, said, scale) VALUES (?, ?, ?, ?, ?, ?)",
				 stamp, &scale_id, 1, NULL);
}

int store_add_container(struct store *store, const struct store_stamp *stamp, const char *name, char ret_id[UUID7_SIZE])
{
	return stmt_one_of_texts(store, STMT_ADD_CONTAINER,
				 "INSERT INTO container (id, at_ms, offset_min, peer, said, name) VALUES (?, ?, ?, ?, ?, ?)",
				 stamp, &name, 1, ret_id);
}

int store_put_container(struct store *store, const struct store_stamp *stamp, const char *scale_id,
			const char *container_id)
{
	return stmt_one_of_texts(store, STMT_PUT_CONTAINER,
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
	int r = stmt_begin_row(store, STMT_SET_CONSENT,
			       "INSERT INTO scale_consent (id, at_ms, offset_min, peer, said, scale, user, code) "
			       "VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
			       stamp, id, &use);

	if (r != 0)
		return r;
	stmt_text(&use, scale_id);
	stmt_int_if(&use, has, index);
	stmt_int_if(&use, has, code);
	return stmt_end_row(store, &use, id, NULL);
}

int store_tare(struct store *store, const struct store_stamp *stamp, const char *container_id, int64_t mass_mg,
	       int64_t u_mg)
{
	char id[UUID7_SIZE];
	struct stmt use = { 0 };
	int r = stmt_begin_row(store, STMT_ADD_TARE, STMT_ADD_TARE_SQL, stamp, id, &use);

	if (r != 0)
		return r;
	stmt_text(&use, container_id);
	stmt_text(&use, NULL); /* no frame */
	stmt_int(&use, stamp->at_ms);
	stmt_int(&use, mass_mg);
	stmt_int(&use, u_mg);
	return stmt_end_row(store, &use, id, NULL);
}

int store_add_litter(struct store *store, const struct store_stamp *stamp, const struct store_new_litter *litter,
		     char ret_id[UUID7_SIZE])
{
	char id[UUID7_SIZE];
	struct stmt use = { 0 };
	int r = stmt_begin_row(store, STMT_ADD_LITTER,
			       "INSERT INTO litter (id, at_ms, offset_min, peer, said, name, dam, born_ms, adult_mg) "
			       "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
			       stamp, id, &use);

	if (r != 0)
		return r;
	stmt_text(&use, litter->name);
	stmt_text(&use, litter->dam);
	stmt_int_if(&use, litter->born_ms != INT64_MIN, litter->born_ms);
	stmt_int_if(&use, litter->adult_mg != 0, litter->adult_mg);
	return stmt_end_row(store, &use, id, ret_id);
}

int store_close_litter(struct store *store, const struct store_stamp *stamp, const char *litter_id)
{
	return stmt_one_of_texts(store, STMT_END_LITTER,
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

#define ADD_ALIAS_SQL                                                                                                  \
	"INSERT INTO animal_alias (id, at_ms, offset_min, peer, said, animal, alias) VALUES (?, ?, ?, ?, ?, ?, ?)"

int store_add_alias(struct store *store, const struct store_stamp *stamp, const char *animal_id, const char *alias)
{
	return stmt_one_of_texts(store, STMT_ADD_ALIAS, ADD_ALIAS_SQL, stamp,
				 (const char *const[]){ animal_id, alias }, 2, NULL);
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
		r = stmt_add_texts(store, STMT_ADD_ALIAS, ADD_ALIAS_SQL, stamp,
				   (const char *const[]){ id, animal->aliases[i] }, 2, alias_id);
	r = stmt_end(store, r);
	if (r == 0)
		memcpy(ret_id, id, sizeof(id));
	return r;
}

int store_animal_gone(struct store *store, const struct store_stamp *stamp, const char *animal_id, const char *why)
{
	return stmt_one_of_texts(store, STMT_END_ANIMAL,
				 "INSERT INTO animal_end (id, at_ms, offset_min, peer, said, animal, why) "
				 "VALUES (?, ?, ?, ?, ?, ?, ?)",
				 stamp, (const char *const[]){ animal_id, why }, 2, NULL);
}
