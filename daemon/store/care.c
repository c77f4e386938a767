// SPDX-License-Identifier: MIT
/* What follows from readings: growth, concerns, rounds, limits; written and read back. */
#include "stmt.h"

#include <stdio.h>
#include <string.h>

int store_add_growth(struct store *store, const struct store_stamp *stamp, const struct store_growth *growth)
{
	char id[UUID7_SIZE];
	struct stmt use = { 0 };
	int r = stmt_begin(store);

	if (r != 0)
		return r;
	r = stmt_use_row(store, STMT_ADD_GROWTH,
			 "INSERT INTO growth (id, at_ms, offset_min, peer, said, animal, as_of_ms, gain_mg_per_day, "
			 "u_gain_mg_per_day, gain_pct_per_day, verdict, tell_ms) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
			 stamp, id, &use);
	if (r == 0) {
		stmt_text(&use, growth->animal_id);
		stmt_int(&use, growth->as_of_ms);
		stmt_int(&use, growth->gain_mg_per_day);
		stmt_int(&use, growth->u_gain_mg_per_day);
		stmt_real(&use, growth->gain_pct_per_day);
		stmt_text(&use, growth->verdict);
		stmt_int_if(&use, growth->tell_ms != INT64_MAX, growth->tell_ms);
	}
	return stmt_end_row(store, r, &use, id, NULL);
}

int store_add_concern(struct store *store, const struct store_stamp *stamp, const struct store_concern *concern,
		      char ret_id[UUID7_SIZE])
{
	char id[UUID7_SIZE];
	struct stmt use = { 0 };
	int r = stmt_begin(store);

	if (r != 0)
		return r;
	r = stmt_use_row(store, STMT_ADD_CONCERN,
			 "INSERT INTO concern (id, at_ms, offset_min, peer, said, concern, litter, animal, state, level, rule, "
			 "text, source, since_ms) VALUES (?1, ?, ?, ?, ?, coalesce(?, ?1), ?, ?, ?, ?, ?, ?, ?, ?)",
			 stamp, id, &use);
	if (r == 0) {
		stmt_text(&use, concern->concern_id);
		stmt_text(&use, concern->litter_id);
		stmt_text(&use, concern->animal_id);
		stmt_text(&use, concern->open ? "open" : "closed");
		stmt_text(&use, concern->level);
		stmt_text(&use, concern->rule);
		stmt_text(&use, concern->text);
		stmt_text(&use, concern->source);
		stmt_int(&use, concern->since_ms);
	}
	r = stmt_end_row(store, r, &use, id, NULL);
	if (r == 0 && (!concern->concern_id || !*concern->concern_id))
		memcpy(ret_id, id, sizeof(id));
	else if (r == 0 && ret_id != concern->concern_id)
		(void)snprintf(ret_id, UUID7_SIZE, "%s", concern->concern_id);
	return r;
}

int store_begin_round(struct store *store, const struct store_stamp *stamp, const char *litter_id, const char *fed,
		      char ret_id[UUID7_SIZE])
{
	char id[UUID7_SIZE];
	struct stmt use = { 0 };
	int r = stmt_begin(store);

	if (r != 0)
		return r;
	r = stmt_use_row(store, STMT_BEGIN_ROUND,
			 "INSERT INTO round (id, at_ms, offset_min, peer, said, litter, fed) VALUES (?, ?, ?, ?, ?, ?, ?)",
			 stamp, id, &use);
	if (r == 0) {
		stmt_text(&use, litter_id);
		stmt_text(&use, fed);
	}
	return stmt_end_row(store, r, &use, id, ret_id);
}

int store_end_round(struct store *store, const struct store_stamp *stamp, const char *round_id, const char *why)
{
	char id[UUID7_SIZE];
	struct stmt use = { 0 };
	int r = stmt_begin(store);

	if (r != 0)
		return r;
	r = stmt_use_row(store, STMT_END_ROUND,
			 "INSERT INTO round_end (id, at_ms, offset_min, peer, said, round, why) VALUES (?, ?, ?, ?, ?, ?, ?)",
			 stamp, id, &use);
	if (r == 0) {
		stmt_text(&use, round_id);
		stmt_text(&use, why);
	}
	return stmt_end_row(store, r, &use, id, NULL);
}

int store_set_limits(struct store *store, const struct store_stamp *stamp, const char *litter_id,
		     const struct store_limits *limits)
{
	char id[UUID7_SIZE];
	struct stmt use = { 0 };
	int r = stmt_begin(store);

	if (r != 0)
		return r;
	r = stmt_use_row(store, STMT_SET_LIMITS,
			 "INSERT INTO litter_limits (id, at_ms, offset_min, peer, said, litter, early_loss_pct, band_low_pct, "
			 "overdue_h, behind_pct) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
			 stamp, id, &use);
	if (r == 0) {
		stmt_text(&use, litter_id);
		stmt_real_if(&use, limits->early_loss_pct > 0, limits->early_loss_pct);
		stmt_real_if(&use, limits->band_low_pct > 0, limits->band_low_pct);
		stmt_real_if(&use, limits->overdue_h > 0, limits->overdue_h);
		stmt_real_if(&use, limits->behind_pct > 0, limits->behind_pct);
	}
	return stmt_end_row(store, r, &use, id, NULL);
}

/* ---- read back ---- */

int store_each_reading(struct store *store, const char *litter_id, int64_t since_ms, int64_t until_ms,
		       int (*fn)(void *, const struct store_reading_row *), void *userdata)
{
	struct stmt use = { 0 };
	bool more;
	int r = stmt_use(store, STMT_READINGS,
			 "SELECT w.id, n.animal, n.weighed_ms, w.net_mg, w.u_mg, w.step_mg, n.fed, w.state = 'restless' "
			 "FROM animal AS a JOIN answer_now AS n ON n.animal = a.id JOIN weighing AS w ON w.id = n.weighing "
			 "WHERE a.litter = ? AND n.weighed_ms BETWEEN ? AND ? ORDER BY n.weighed_ms, n.seq",
			 &use);

	if (r != 0)
		return r;
	stmt_text(&use, litter_id);
	stmt_int(&use, since_ms);
	stmt_int(&use, until_ms);
	while (r == 0 && (r = stmt_step(store, &use, &more)) == 0 && more) {
		const struct store_reading_row row = {
			.id = stmt_column(&use, 0),
			.animal_id = stmt_column(&use, 1),
			.at_ms = sqlite3_column_int64(use.st, 2),
			.net_mg = sqlite3_column_int64(use.st, 3),
			.u_mg = sqlite3_column_int64(use.st, 4),
			.step_mg = sqlite3_column_int64(use.st, 5),
			.fed = stmt_column(&use, 6),
			.restless = sqlite3_column_int(use.st, 7) != 0,
		};

		r = fn(userdata, &row);
	}
	stmt_done(&use);
	return r;
}

int store_each_concern(struct store *store, int (*fn)(void *, const struct store_concern *), void *userdata)
{
	struct stmt use = { 0 };
	bool more;
	int r = stmt_use(store, STMT_OPEN_CONCERNS,
			 "SELECT c.concern, c.litter, c.animal, c.level, c.rule, c.text, c.source, c.since_ms "
			 "FROM open_concern AS o JOIN concern AS c ON c.seq = o.seq ORDER BY c.seq",
			 &use);

	while (r == 0 && (r = stmt_step(store, &use, &more)) == 0 && more) {
		const struct store_concern row = {
			.concern_id = stmt_column(&use, 0),
			.litter_id = stmt_column(&use, 1),
			.animal_id = stmt_column(&use, 2),
			.open = true,
			.level = stmt_column(&use, 3),
			.rule = stmt_column(&use, 4),
			.text = stmt_column(&use, 5),
			.source = stmt_column(&use, 6),
			.since_ms = sqlite3_column_int64(use.st, 7),
		};

		r = fn(userdata, &row);
	}
	stmt_done(&use);
	return r;
}

int store_each_round(struct store *store, int (*fn)(void *, const struct store_round_row *), void *userdata)
{
	struct stmt use = { 0 };
	bool more;
	int r = stmt_use(store, STMT_ROUNDS,
			 "SELECT r.id, r.litter, r.fed, r.at_ms, (SELECT max(e.at_ms) FROM round_end AS e WHERE e.round = r.id) "
			 "FROM litter AS l JOIN round AS r ON r.seq = (SELECT max(seq) FROM round WHERE litter = l.id) ORDER BY r.seq",
			 &use);

	while (r == 0 && (r = stmt_step(store, &use, &more)) == 0 && more) {
		const struct store_round_row row = {
			.id = stmt_column(&use, 0),
			.litter_id = stmt_column(&use, 1),
			.fed = stmt_column(&use, 2),
			.at_ms = sqlite3_column_int64(use.st, 3),
			.ended_ms = sqlite3_column_type(use.st, 4) == SQLITE_NULL ? INT64_MIN : sqlite3_column_int64(use.st, 4),
		};

		r = fn(userdata, &row);
	}
	stmt_done(&use);
	return r;
}

int store_each_limits(struct store *store, int (*fn)(void *, const char *, const struct store_limits *), void *userdata)
{
	struct stmt use = { 0 };
	bool more;
	int r = stmt_use(store, STMT_LIMITS,
			 "SELECT litter, early_loss_pct, band_low_pct, overdue_h, behind_pct FROM litter_limits AS s "
			 "WHERE seq = (SELECT max(seq) FROM litter_limits WHERE litter = s.litter) ORDER BY seq",
			 &use);

	while (r == 0 && (r = stmt_step(store, &use, &more)) == 0 && more) {
		const struct store_limits row = {
			.early_loss_pct = sqlite3_column_double(use.st, 1), /* 0 for NULL */
			.band_low_pct = sqlite3_column_double(use.st, 2),
			.overdue_h = sqlite3_column_double(use.st, 3),
			.behind_pct = sqlite3_column_double(use.st, 4),
		};

		r = fn(userdata, stmt_column(&use, 0), &row);
	}
	stmt_done(&use);
	return r;
}
