// SPDX-License-Identifier: MIT
/* Whelping, signs, feeds, orders and doses: written and read back. */
#include "bedside.h"
#include "stmt.h"

static void sex(struct stmt *use, char letter)
{
	stmt_text(use, letter == 'f' ? "f" : letter == 'm' ? "m" : NULL);
}

/* ---- whelping ---- */

int store_begin_whelping(struct store *store, const struct store_stamp *stamp, const char *litter_id,
			 char ret_id[UUID7_SIZE])
{
	return stmt_one_of_texts(store, STMT_BEGIN_WHELPING,
				 "INSERT INTO whelping (id, at_ms, offset_min, peer, said, litter) "
				 "VALUES (?, ?, ?, ?, ?, ?)",
				 stamp, (const char *const[]){ litter_id }, 1, ret_id);
}

int store_end_whelping(struct store *store, const struct store_stamp *stamp, const char *whelping_id)
{
	return stmt_one_of_texts(store, STMT_END_WHELPING,
				 "INSERT INTO whelping_end (id, at_ms, offset_min, peer, said, whelping) "
				 "VALUES (?, ?, ?, ?, ?, ?)",
				 stamp, (const char *const[]){ whelping_id }, 1, NULL);
}

int store_add_birth(struct store *store, const struct store_stamp *stamp, const struct store_birth *birth,
		    char ret_id[UUID7_SIZE])
{
	char id[UUID7_SIZE];
	struct stmt use = { 0 };
	int r = stmt_begin_row(
		store, STMT_ADD_BIRTH,
		"INSERT INTO birth (id, at_ms, offset_min, peer, said, "
		"litter, animal, weighing, born_ms, sex, mass_mg) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
		stamp, id, &use);

	if (r != 0)
		return r;
	stmt_text(&use, birth->litter_id);
	stmt_text(&use, birth->animal_id);
	stmt_text(&use, birth->weighing_id);
	stmt_int(&use, birth->born_ms);
	sex(&use, birth->sex);
	stmt_int_if(&use, birth->mass_mg > 0, birth->mass_mg);
	return stmt_end_row(store, &use, id, ret_id);
}

int store_add_score(struct store *store, const struct store_stamp *stamp, const char *animal_id, int64_t scored_ms,
		    const char *points)
{
	char id[UUID7_SIZE];
	struct stmt use = { 0 };
	int r = stmt_begin_row(store, STMT_ADD_SCORE,
			       "INSERT INTO newborn_score (id, at_ms, offset_min, peer, said, "
			       "animal, scored_ms, points) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
			       stamp, id, &use);

	if (r != 0)
		return r;
	stmt_text(&use, animal_id);
	stmt_int(&use, scored_ms);
	stmt_text(&use, points);
	return stmt_end_row(store, &use, id, NULL);
}

int store_each_whelping(struct store *store, int (*fn)(void *, const struct store_whelping_row *), void *userdata)
{
	struct stmt use = { 0 };
	bool more;
	int r = stmt_use(
		store, STMT_WHELPINGS,
		"SELECT w.id, w.litter, w.at_ms, EXISTS (SELECT 1 FROM whelping_end AS e WHERE e.whelping = w.id) "
		"FROM litter AS l JOIN whelping AS w ON w.seq = (SELECT max(seq) FROM whelping WHERE litter = l.id) "
		"ORDER BY w.seq",
		&use);

	if (r != 0)
		return r;
	while (r == 0 && (r = stmt_step(store, &use, &more)) == 0 && more) {
		const struct store_whelping_row row = {
			.id = stmt_column(&use, 0),
			.litter_id = stmt_column(&use, 1),
			.at_ms = sqlite3_column_int64(use.st, 2),
			.ended = sqlite3_column_int(use.st, 3) != 0,
		};

		r = fn(userdata, &row);
	}
	stmt_done(&use);
	return r;
}

int store_each_birth(struct store *store, const char *litter_id, int (*fn)(void *, const struct store_birth_row *),
		     void *userdata)
{
	struct stmt use = { 0 };
	bool more;
	int r = stmt_use(store, STMT_BIRTHS,
			 "SELECT b.animal, a.name, b.born_ms, b.mass_mg, b.sex, (SELECT s.points FROM newborn_score AS "
			 "s WHERE s.animal = b.animal "
			 "ORDER BY s.seq DESC LIMIT 1) FROM birth AS b LEFT JOIN animal AS a ON a.id = b.animal WHERE "
			 "b.litter = ? "
			 "ORDER BY b.born_ms, b.seq",
			 &use);

	if (r != 0)
		return r;
	stmt_text(&use, litter_id);
	while (r == 0 && (r = stmt_step(store, &use, &more)) == 0 && more) {
		const struct store_birth_row row = {
			.animal_id = stmt_column(&use, 0),
			.name = stmt_column(&use, 1),
			.born_ms = sqlite3_column_int64(use.st, 2),
			.mass_mg = sqlite3_column_int64(use.st, 3),
			.sex = stmt_column(&use, 4) ? stmt_column(&use, 4)[0] : 0,
			.points = stmt_column(&use, 5),
		};

		r = fn(userdata, &row);
	}
	stmt_done(&use);
	return r;
}

/* ---- signs and feeds ---- */

int store_add_sign(struct store *store, const struct store_stamp *stamp, const struct store_sign *sign)
{
	char id[UUID7_SIZE];
	struct stmt use = { 0 };
	int r = stmt_begin_row(store, STMT_ADD_SIGN,
			       "INSERT INTO sign (id, at_ms, offset_min, peer, said, "
			       "animal, seen_ms, sign, value) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
			       stamp, id, &use);

	if (r != 0)
		return r;
	stmt_text(&use, sign->animal_id);
	stmt_int(&use, sign->seen_ms);
	stmt_text(&use, sign->sign);
	stmt_text(&use, sign->value);
	return stmt_end_row(store, &use, id, NULL);
}

int store_each_sign(struct store *store, const char *animal_id, int64_t since_ms,
		    int (*fn)(void *, const struct store_sign *), void *userdata)
{
	struct stmt use = { 0 };
	bool more;
	int r = stmt_use(
		store, STMT_SIGNS,
		"SELECT animal, sign, value, seen_ms FROM sign WHERE animal = ? AND seen_ms >= ? ORDER BY seen_ms, seq",
		&use);

	if (r != 0)
		return r;
	stmt_text(&use, animal_id);
	stmt_int(&use, since_ms);
	while (r == 0 && (r = stmt_step(store, &use, &more)) == 0 && more) {
		const struct store_sign row = {
			.animal_id = stmt_column(&use, 0),
			.sign = stmt_column(&use, 1),
			.value = stmt_column(&use, 2),
			.seen_ms = sqlite3_column_int64(use.st, 3),
		};

		r = fn(userdata, &row);
	}
	stmt_done(&use);
	return r;
}

int store_add_feed(struct store *store, const struct store_stamp *stamp, const struct store_feed *feed)
{
	char id[UUID7_SIZE];
	struct stmt use = { 0 };
	int r = stmt_begin_row(
		store, STMT_ADD_FEED,
		"INSERT INTO feed (id, at_ms, offset_min, peer, said, "
		"animal, fed_ms, how, ul, taken_mg, u_mg, what) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
		stamp, id, &use);

	if (r != 0)
		return r;
	stmt_text(&use, feed->animal_id);
	stmt_int(&use, feed->fed_ms);
	stmt_text(&use, feed->ul > 0 ? "given" : "nursed");
	stmt_int_if(&use, feed->ul > 0, feed->ul);
	stmt_int_if(&use, feed->ul <= 0, feed->taken_mg);
	stmt_int_if(&use, feed->ul <= 0, feed->u_mg);
	stmt_text(&use, feed->what);
	return stmt_end_row(store, &use, id, NULL);
}

int store_each_feed(struct store *store, const char *animal_id, int64_t since_ms,
		    int (*fn)(void *, const struct store_feed *), void *userdata)
{
	struct stmt use = { 0 };
	bool more;
	int r = stmt_use(store, STMT_FEEDS,
			 "SELECT animal, what, fed_ms, ul, taken_mg, u_mg FROM feed WHERE animal = ? AND fed_ms >= ? "
			 "ORDER BY fed_ms, seq",
			 &use);

	if (r != 0)
		return r;
	stmt_text(&use, animal_id);
	stmt_int(&use, since_ms);
	while (r == 0 && (r = stmt_step(store, &use, &more)) == 0 && more) {
		const struct store_feed row = {
			.animal_id = stmt_column(&use, 0),
			.what = stmt_column(&use, 1),
			.fed_ms = sqlite3_column_int64(use.st, 2),
			.ul = sqlite3_column_int64(use.st, 3),
			.taken_mg = sqlite3_column_int64(use.st, 4),
			.u_mg = sqlite3_column_int64(use.st, 5),
		};

		r = fn(userdata, &row);
	}
	stmt_done(&use);
	return r;
}

/* ---- a vet's orders ---- */

int store_add_order(struct store *store, const struct store_stamp *stamp, const struct store_order *order,
		    char ret_id[UUID7_SIZE])
{
	char id[UUID7_SIZE];
	struct stmt use = { 0 };
	int r = stmt_begin_row(store, STMT_ADD_ORDER,
			       "INSERT INTO vet_order (id, at_ms, offset_min, peer, said, "
			       "litter, animal, what, vet, kind, route, per, amount_ul, most_ul, every_ms, from_ms, "
			       "until_ms) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
			       stamp, id, &use);

	if (r != 0)
		return r;
	stmt_text(&use, order->litter_id);
	stmt_text(&use, order->animal_id);
	stmt_text(&use, order->what);
	stmt_text(&use, order->vet);
	stmt_text(&use, order->kind);
	stmt_text(&use, order->route);
	stmt_text(&use, order->per);
	stmt_int(&use, order->amount_ul);
	stmt_int(&use, order->most_ul);
	stmt_int(&use, order->every_ms);
	stmt_int(&use, order->from_ms);
	stmt_int(&use, order->until_ms);
	return stmt_end_row(store, &use, id, ret_id);
}

int store_end_order(struct store *store, const struct store_stamp *stamp, const char *order_id, const char *why)
{
	return stmt_one_of_texts(store, STMT_END_ORDER,
				 "INSERT INTO vet_order_end (id, at_ms, offset_min, peer, said, vet_order, why) "
				 "VALUES (?, ?, ?, ?, ?, ?, ?)",
				 stamp, (const char *const[]){ order_id, why }, 2, NULL);
}

int store_each_order(struct store *store, const char *litter_id, int (*fn)(void *, const struct store_order *),
		     void *userdata)
{
	struct stmt use = { 0 };
	bool more;
	int r = stmt_use(store, STMT_ORDERS,
			 "SELECT id, litter, animal, what, vet, kind, route, per, amount_ul, most_ul, every_ms, "
			 "from_ms, until_ms "
			 "FROM vet_order AS o WHERE litter = ? AND NOT EXISTS (SELECT 1 FROM vet_order_end AS e WHERE "
			 "e.vet_order = o.id) "
			 "ORDER BY seq",
			 &use);

	if (r != 0)
		return r;
	stmt_text(&use, litter_id);
	while (r == 0 && (r = stmt_step(store, &use, &more)) == 0 && more) {
		const struct store_order row = {
			.id = stmt_column(&use, 0),
			.litter_id = stmt_column(&use, 1),
			.animal_id = stmt_column(&use, 2),
			.what = stmt_column(&use, 3),
			.vet = stmt_column(&use, 4),
			.kind = stmt_column(&use, 5),
			.route = stmt_column(&use, 6),
			.per = stmt_column(&use, 7),
			.amount_ul = sqlite3_column_int64(use.st, 8),
			.most_ul = sqlite3_column_int64(use.st, 9),
			.every_ms = sqlite3_column_int64(use.st, 10),
			.from_ms = sqlite3_column_int64(use.st, 11),
			.until_ms = sqlite3_column_int64(use.st, 12),
		};

		r = fn(userdata, &row);
	}
	stmt_done(&use);
	return r;
}

int store_add_dose(struct store *store, const struct store_stamp *stamp, const struct store_dose *dose,
		   char ret_id[UUID7_SIZE])
{
	char id[UUID7_SIZE];
	struct stmt use = { 0 };
	int r = stmt_begin_row(
		store, STMT_ADD_DOSE,
		"INSERT INTO dose (id, at_ms, offset_min, peer, said, "
		"vet_order, animal, given_ms, ul, mass_mg, judged, words) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
		stamp, id, &use);

	if (r != 0)
		return r;
	stmt_text(&use, dose->order_id);
	stmt_text(&use, dose->animal_id);
	stmt_int(&use, dose->given_ms);
	stmt_int(&use, dose->ul);
	stmt_int(&use, dose->mass_mg);
	stmt_text(&use, dose->judged);
	stmt_text(&use, dose->words);
	return stmt_end_row(store, &use, id, ret_id);
}

int store_each_dose(struct store *store, const char *animal_id, int64_t since_ms,
		    int (*fn)(void *, const struct store_dose *), void *userdata)
{
	struct stmt use = { 0 };
	bool more;
	int r = stmt_use(store, STMT_DOSES,
			 "SELECT d.vet_order, d.animal, d.given_ms, d.ul, d.mass_mg, d.judged, d.words, o.what, "
			 "o.kind, o.route FROM dose AS d "
			 "JOIN vet_order AS o ON o.id = d.vet_order WHERE d.animal = ? AND d.given_ms >= ? ORDER BY "
			 "d.given_ms, d.seq",
			 &use);

	if (r != 0)
		return r;
	stmt_text(&use, animal_id);
	stmt_int(&use, since_ms);
	while (r == 0 && (r = stmt_step(store, &use, &more)) == 0 && more) {
		const struct store_dose row = {
			.order_id = stmt_column(&use, 0),
			.animal_id = stmt_column(&use, 1),
			.given_ms = sqlite3_column_int64(use.st, 2),
			.ul = sqlite3_column_int64(use.st, 3),
			.mass_mg = sqlite3_column_int64(use.st, 4),
			.judged = stmt_column(&use, 5),
			.words = stmt_column(&use, 6),
			.what = stmt_column(&use, 7),
			.kind = stmt_column(&use, 8),
			.route = stmt_column(&use, 9),
		};

		r = fn(userdata, &row);
	}
	stmt_done(&use);
	return r;
}
