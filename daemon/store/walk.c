// SPDX-License-Identifier: MIT
/* Walks over the roster. */
#include "stmt.h"
#include "daemon/limits.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

int store_each_scale(struct store *store, int (*fn)(void *, const struct store_scale_row *), void *userdata)
{
	struct stmt use = { 0 };
	bool more;
	int r = stmt_use(store, STMT_SCALES,
			 "SELECT n.scale_id, n.address, n.name, n.container_id, c.user, c.code FROM scale_now AS n "
			 "JOIN scale AS s ON s.id = n.scale_id LEFT JOIN scale_consent AS c ON c.seq = "
			 "(SELECT max(seq) FROM scale_consent WHERE scale = s.id) ORDER BY s.seq",
			 &use);

	while (r == 0 && (r = stmt_step(store, &use, &more)) == 0 && more) {
		const struct store_scale_row row = {
			.id = stmt_column(&use, 0),
			.address = stmt_column(&use, 1),
			.name = stmt_column(&use, 2),
			.container_id = stmt_column(&use, 3),
			.user = sqlite3_column_type(use.st, 4) == SQLITE_NULL ? STORE_NO_USER :
										(unsigned)sqlite3_column_int(use.st, 4),
			.code = (unsigned)sqlite3_column_int(use.st, 5),
		};

		r = fn(userdata, &row);
	}
	stmt_done(&use);
	return r;
}

int store_each_container(struct store *store, int (*fn)(void *, const struct store_container_row *), void *userdata)
{
	struct stmt use = { 0 };
	bool more;
	int r = stmt_use(store, STMT_CONTAINERS,
			 "SELECT c.id, c.name, t.mass_mg, t.u_mg, t.tared_ms, n.checked_at_ms FROM container AS c "
			 "JOIN container_now AS n ON n.container_id = c.id "
			 "LEFT JOIN container_tare AS t ON t.seq = "
			 "(SELECT max(seq) FROM container_tare WHERE container = c.id) ORDER BY c.seq",
			 &use);

	while (r == 0 && (r = stmt_step(store, &use, &more)) == 0 && more) {
		const struct store_container_row row = {
			.id = stmt_column(&use, 0),
			.name = stmt_column(&use, 1),
			.has_tare = sqlite3_column_type(use.st, 2) != SQLITE_NULL,
			.mass_mg = sqlite3_column_int64(use.st, 2), /* 0 for NULL, here and below */
			.u_mg = sqlite3_column_int64(use.st, 3),
			.at_ms = sqlite3_column_int64(use.st, 4),
			.checked_ms = sqlite3_column_int64(use.st, 5),
		};

		r = fn(userdata, &row);
	}
	stmt_done(&use);
	return r;
}

static int64_t time_column(struct stmt *use, int column)
{
	return sqlite3_column_type(use->st, column) == SQLITE_NULL ? INT64_MIN : sqlite3_column_int64(use->st, column);
}

int store_each_litter(struct store *store, int (*fn)(void *, const struct store_litter_row *), void *userdata)
{
	struct stmt use = { 0 };
	bool more;
	int r = stmt_use(store, STMT_LITTERS,
			 "SELECT l.id, l.name, l.dam, l.born_ms, l.adult_mg, "
			 "EXISTS (SELECT 1 FROM litter_end AS e WHERE e.litter = l.id) FROM litter AS l ORDER BY l.seq",
			 &use);

	while (r == 0 && (r = stmt_step(store, &use, &more)) == 0 && more) {
		const struct store_litter_row row = {
			.id = stmt_column(&use, 0),
			.name = stmt_column(&use, 1),
			.dam = stmt_column(&use, 2),
			.born_ms = time_column(&use, 3),
			.adult_mg = sqlite3_column_int64(use.st, 4),
			.closed = sqlite3_column_int(use.st, 5) != 0,
		};

		r = fn(userdata, &row);
	}
	stmt_done(&use);
	return r;
}

struct aliases {
	char *text[LIMIT_ALIASES];
	size_t n;
};

static void aliases_done(struct aliases *aliases)
{
	while (aliases->n > 0)
		free(aliases->text[--aliases->n]);
}

/* Copied: the next step of the statement takes each away. A ledger merged from others may hold more: the oldest. */
static int aliases_read(struct store *store, const char *animal_id, struct aliases *aliases)
{
	struct stmt use = { 0 };
	bool more;
	int r = stmt_use(store, STMT_ALIASES, "SELECT alias FROM animal_alias WHERE animal = ? ORDER BY seq", &use);

	if (r != 0)
		return r;
	stmt_text(&use, animal_id);
	while (r == 0 && aliases->n < LIMIT_ALIASES && (r = stmt_step(store, &use, &more)) == 0 && more) {
		const char *text = stmt_column(&use, 0);

		aliases->text[aliases->n] = text ? strdup(text) : NULL;
		if (!aliases->text[aliases->n])
			r = -ENOMEM;
		else
			aliases->n++;
	}
	stmt_done(&use);
	return r;
}

/* Columns as in store_each_animal. */
static int animal_row(struct store *store, struct stmt *use, int (*fn)(void *, const struct store_animal_row *),
		      void *userdata)
{
	struct aliases aliases = { 0 };
	const char *sex = stmt_column(use, 4);
	struct store_animal_row row = {
		.id = stmt_column(use, 0),
		.name = stmt_column(use, 1),
		.litter_id = stmt_column(use, 2),
		.collar = stmt_column(use, 3),
		.sex = sex ? sex[0] : '\0',
		.birth_mg = sqlite3_column_int64(use->st, 5),
		.born_ms = time_column(use, 6),
		.newest_mg = sqlite3_column_int64(use->st, 7),
		.newest_u_mg = sqlite3_column_int64(use->st, 8),
		.newest_at_ms = sqlite3_column_int64(use->st, 9),
	};
	int r = aliases_read(store, row.id, &aliases);

	if (r == 0) {
		row.aliases = (const char *const *)aliases.text;
		row.n_aliases = aliases.n;
		r = fn(userdata, &row);
	}
	aliases_done(&aliases);
	return r;
}

int store_each_animal(struct store *store, int (*fn)(void *, const struct store_animal_row *), void *userdata)
{
	struct stmt use = { 0 };
	bool more;
	int r = stmt_use(store, STMT_ANIMALS,
			 "SELECT a.id, a.name, a.litter, a.collar, a.sex, a.birth_mg, n.born_at_ms, "
			 "w.net_mg, w.u_mg, w.weighed_ms FROM animal AS a "
			 "JOIN animal_now AS n ON n.animal_id = a.id "
			 "LEFT JOIN weighing AS w ON w.id = n.newest_reading_id ORDER BY a.seq",
			 &use);

	while (r == 0 && (r = stmt_step(store, &use, &more)) == 0 && more)
		r = animal_row(store, &use, fn, userdata);
	stmt_done(&use);
	return r;
}
