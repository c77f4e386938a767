// SPDX-License-Identifier: MIT
/* Weighings and results read back. */
#include "stmt.h"

#include <errno.h>
#include <string.h>

#define TAIL_MIN 4 /* characters of an id's end; the index weighing_tail is made for as many */

/* Columns of a store_weighing_row; the tables are w, f (the frame), a (the newest answer). */
#define WEIGHING_COLUMNS                                                                                               \
	"w.id, w.scale, w.container, a.animal, a.kind = 'aside', w.weighed_ms, coalesce(f.received_ms, w.at_ms), "     \
	"w.gross_mg, w.tare_mg, w.net_mg, w.u_mg, w.step_mg, w.state = 'restless', w.origin, "                         \
	"CASE WHEN a.kind <> 'reopen' THEN coalesce(a.said, a.peer) END "
#define WEIGHING_JOINS                                                                                                 \
	"LEFT JOIN frame AS f ON f.id = w.frame "                                                                      \
	"LEFT JOIN answer AS a ON a.seq = (SELECT max(seq) FROM answer WHERE weighing = w.id) "

static enum weigh_origin origin_of(const char *text)
{
	if (text && strcmp(text, weigh_origin_text(WEIGH_STORED)) == 0)
		return WEIGH_STORED;
	if (text && strcmp(text, weigh_origin_text(WEIGH_TYPED)) == 0)
		return WEIGH_TYPED;
	return WEIGH_RADIO; /* the schema knows these three */
}

static struct store_weighing_row weighing_row(struct stmt *use)
{
	return (struct store_weighing_row){
		.id = stmt_column(use, 0),
		.scale_id = stmt_column(use, 1),
		.container_id = stmt_column(use, 2),
		.animal_id = stmt_column(use, 3),
		.aside = sqlite3_column_int(use->st, 4) != 0, /* 0 for NULL */
		.at_ms = sqlite3_column_int64(use->st, 5),
		.received_ms = sqlite3_column_int64(use->st, 6),
		.gross_mg = sqlite3_column_int64(use->st, 7),
		.tare_mg = sqlite3_column_int64(use->st, 8),
		.net_mg = sqlite3_column_int64(use->st, 9),
		.u_mg = sqlite3_column_int64(use->st, 10),
		.step_mg = sqlite3_column_int64(use->st, 11),
		.restless = sqlite3_column_int(use->st, 12) != 0,
		.origin = origin_of(stmt_column(use, 13)),
		.answered_by = stmt_column(use, 14),
	};
}

int store_each_unanswered(struct store *store, int64_t since_ms, int (*fn)(void *, const struct store_weighing_row *),
			  void *userdata)
{
	struct stmt use = { 0 };
	bool more;
	int r = stmt_use(store, STMT_UNANSWERED,
			 "SELECT " WEIGHING_COLUMNS
			 "FROM open_weighing AS o JOIN weighing AS w ON w.seq = o.seq " WEIGHING_JOINS
			 "WHERE coalesce(f.received_ms, w.at_ms) >= ? ORDER BY o.seq",
			 &use);

	if (r == 0)
		stmt_int(&use, since_ms);
	while (r == 0 && (r = stmt_step(store, &use, &more)) == 0 && more) {
		const struct store_weighing_row row = weighing_row(&use);

		r = fn(userdata, &row);
	}
	stmt_done(&use);
	return r;
}

/* Is there a second one? It is looked for before fn is called, so the first row is read again for fn. */
static int find_only(struct store *store, struct stmt *use)
{
	bool more;
	int r = stmt_step(store, use, &more);

	if (r == 0 && !more)
		return -ENOENT;
	if (r == 0)
		r = stmt_step(store, use, &more);
	if (r == 0 && more)
		return -EEXIST;
	return r;
}

int store_find_weighing(struct store *store, const char *id_or_tail,
			int (*fn)(void *, const struct store_weighing_row *), void *userdata)
{
	struct stmt use = { 0 };
	bool more;
	int r;

	if (strlen(id_or_tail) < TAIL_MIN)
		return -ENOENT;
	r = stmt_use(store, STMT_FIND,
		     "SELECT " WEIGHING_COLUMNS "FROM weighing AS w " WEIGHING_JOINS
		     "WHERE substr(w.id, -4) = lower(substr(?1, -4)) AND substr(w.id, -length(?1)) = lower(?1)",
		     &use);
	if (r != 0)
		return r;
	stmt_text(&use, id_or_tail);
	r = find_only(store, &use);
	if (r == 0) {
		(void)sqlite3_reset(use.st); /* keeps the binding */
		r = stmt_step(store, &use, &more);
	}
	if (r == 0) {
		const struct store_weighing_row row = weighing_row(&use);

		r = fn(userdata, &row);
	}
	stmt_done(&use);
	return r;
}

int store_newest(struct store *store, const char *animal_id, int64_t *ret_mg, int64_t *ret_u_mg, int64_t *ret_at_ms)
{
	struct stmt use = { 0 };
	bool row;
	int r = stmt_use(store, STMT_NEWEST,
			 "SELECT w.net_mg, w.u_mg, w.weighed_ms FROM weighing AS w WHERE w.id = "
			 "(SELECT n.weighing FROM answer_now AS n WHERE n.animal = ? "
			 "ORDER BY n.weighed_ms DESC, n.seq DESC LIMIT 1)",
			 &use);

	if (r != 0)
		return r;
	stmt_text(&use, animal_id);
	r = stmt_step(store, &use, &row);
	if (r == 0) {
		*ret_mg = row ? sqlite3_column_int64(use.st, 0) : 0;
		*ret_u_mg = row ? sqlite3_column_int64(use.st, 1) : 0;
		*ret_at_ms = row ? sqlite3_column_int64(use.st, 2) : 0;
	}
	stmt_done(&use);
	return r;
}

int store_each_result(struct store *store, const char *scale_id, size_t n,
		      int (*fn)(void *, const struct weigh_result *), void *userdata)
{
	struct stmt use = { 0 };
	bool more;
	int r = stmt_use(store, STMT_RESULTS,
			 "SELECT mass_mg, step_mg, received_ms, stamp_ms, link FROM (SELECT * FROM frame "
			 "WHERE scale = ? AND mass_mg IS NOT NULL AND fate <> 'refused' ORDER BY seq DESC LIMIT ?) "
			 "ORDER BY seq",
			 &use);

	if (r != 0)
		return r;
	stmt_text(&use, scale_id);
	stmt_int(&use, n > INT32_MAX ? INT32_MAX : (int64_t)n);
	while (r == 0 && (r = stmt_step(store, &use, &more)) == 0 && more) {
		const struct weigh_result row = {
			.gross_mg = sqlite3_column_int64(use.st, 0),
			.step_mg = sqlite3_column_int64(use.st, 1),
			.received_ms = sqlite3_column_int64(use.st, 2),
			.has_stamp = sqlite3_column_type(use.st, 3) != SQLITE_NULL,
			.stamp_ms = sqlite3_column_int64(use.st, 3),
			.link = (uint32_t)sqlite3_column_int64(use.st, 4),
		};

		r = fn(userdata, &row);
	}
	stmt_done(&use);
	return r;
}

int store_last_bthome(struct store *store, const char *scale_id, int (*fn)(void *, const uint8_t *octets, size_t n),
		      void *userdata)
{
	struct stmt use = { 0 };
	bool row;
	int r = stmt_use(store, STMT_LAST_BTHOME,
			 "SELECT bytes FROM frame WHERE scale = ? AND uuid = '" STORE_BTHOME_UUID "' AND fate <> 'refused' "
			 "ORDER BY seq DESC LIMIT 1",
			 &use);

	if (r != 0)
		return r;
	stmt_text(&use, scale_id);
	r = stmt_step(store, &use, &row);
	if (r == 0 && row)
		r = fn(userdata, sqlite3_column_blob(use.st, 0), (size_t)sqlite3_column_bytes(use.st, 0));
	stmt_done(&use);
	return r;
}

int store_was_said(struct store *store, const char *animal_id, int64_t from_ms, int64_t until_ms, int64_t net_mg, bool *ret)
{
	struct stmt use = { 0 };
	bool row;
	int r = stmt_use(store, STMT_WAS_SAID,
			 "SELECT 1 FROM answer AS a JOIN weighing AS w ON w.id = a.weighing "
			 "WHERE a.animal = ? AND a.weighed_ms >= ? AND a.weighed_ms < ? AND w.net_mg = ? LIMIT 1",
			 &use);

	if (r != 0)
		return r;
	stmt_text(&use, animal_id);
	stmt_int(&use, from_ms);
	stmt_int(&use, until_ms);
	stmt_int(&use, net_mg);
	r = stmt_step(store, &use, &row);
	if (r == 0)
		*ret = row;
	stmt_done(&use);
	return r;
}
