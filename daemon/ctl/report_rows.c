// SPDX-License-Identifier: MIT
#include "daemon/ctl/report_rows.h"
#include "daemon/ctl/database.h"
#include "daemon/ctl/field.h"

#define LITTER \
	"SELECT litter_id, litter, dam, born_at_ms, adult_g, open FROM litter_now " \
	"WHERE litter = ?1 COLLATE NOCASE OR litter_id = ?1 ORDER BY open DESC, litter_id DESC LIMIT 1"

#define ANIMALS \
	"SELECT a.animal_id, a.animal, a.collar, a.sex, a.born_at_ms, a.birth_g, a.gone_at_ms, a.gone_why, n.newest_g, " \
	"n.newest_at_ms, n.gain_g_per_day, n.u_gain_g_per_day, n.gain_pct_per_day, n.verdict FROM animal_log AS a " \
	"LEFT JOIN animal_now AS n USING (animal_id) WHERE a.litter_id = ?1 " \
	"ORDER BY coalesce((SELECT at_ms FROM birth_log AS b WHERE b.animal_id = a.animal_id), a.born_at_ms), " \
	"a.noted_at_ms, a.animal_id"

#define READINGS \
	"SELECT r.reading_id, r.animal_id, r.at_ms, r.net_g, r.u_g, r.tare_g, r.container, r.scale, r.origin, r.state, " \
	"r.fed, r.answered_by, r.step_g, (SELECT count(*) FROM answer_log AS n WHERE n.weighing_id = r.reading_id) AS answers " \
	"FROM reading AS r WHERE r.litter_id = ?1 ORDER BY r.at_ms, r.reading_id"

#define CHANGED \
	"SELECT r.animal AS now, n.animal AS before, n.kind, n.why, n.at_ms, n.answered_by, r.at_ms AS weighed_at_ms, r.net_g, " \
	"r.animal_id, n.animal_id AS before_id FROM reading AS r JOIN answer_log AS n ON n.weighing_id = r.reading_id " \
	"WHERE r.litter_id = ?1 AND n.counts = 0 ORDER BY r.at_ms, n.at_ms"

#define CONCERNS \
	"SELECT concern_id, animal_id, animal, at_ms, state, level, rule, text, source, since_ms FROM concern_log " \
	"WHERE litter_id = ?1 ORDER BY since_ms, concern_id, at_ms"

#define TARES \
	"SELECT t.container, t.scale, t.at_ms, t.mass_g, t.u_g, count(c.at_ms) AS checks, max(c.at_ms) AS checked_at_ms, " \
	"max(abs(c.drift_g)) AS drift_g, sum(c.drifted) AS drifted FROM tare_log AS t " \
	"LEFT JOIN tare_log AS c ON c.kind = 'check' AND c.tare_id = t.tare_id WHERE t.kind = 'tare' AND t.container IN " \
	"(SELECT container FROM reading WHERE litter_id = ?1) GROUP BY t.tare_id ORDER BY t.at_ms"

/* All rows of a query into a new array. */
static enum ctl_status ask(const struct ctl *ctl, sqlite3 *db, const char *sql, const char *text, json_t **ret)
{
	sqlite3_stmt *row = database_ask(db, sql, &text, 1);
	json_t *list = json_array();
	bool fits = true;
	int r;

	while ((r = row ? sqlite3_step(row) : SQLITE_ERROR) == SQLITE_ROW && fits)
		fits = json_array_append_new(list, database_json(row)) == 0;
	*ret = list;
	if (fits && r == SQLITE_DONE) {
		(void)sqlite3_finalize(row); /* it ended well */
		return CTL_DONE;
	}
	if (fits)
		(void)database_trouble(ctl, db);
	else
		ctl_error("Out of memory.");
	(void)sqlite3_finalize(row); /* repeats the error of the step */
	return CTL_ABSENT;
}

static enum ctl_status find_litter(const struct ctl *ctl, sqlite3 *db, const char *litter, struct report_rows *ret)
{
	json_t *found = NULL;
	enum ctl_status status = ask(ctl, db, LITTER, litter, &found);

	if (status == CTL_DONE && json_array_size(found) == 0) {
		ctl_error("No litter is called \"%s\"; `bismar litter list` shows them.", litter);
		status = CTL_REFUSED;
	}
	if (status == CTL_DONE)
		ret->litter = json_incref(json_array_get(found, 0));
	json_decref(found);
	return status;
}

static enum ctl_status read_all(const struct ctl *ctl, sqlite3 *db, struct report_rows *ret)
{
	const struct {
		json_t **to;
		const char *sql;
	} asked[] = {
		{ &ret->animals, ANIMALS },
		{ &ret->births, "SELECT * FROM birth_log WHERE litter_id = ?1 ORDER BY at_ms, birth_id" },
		{ &ret->readings, READINGS },
		{ &ret->changed, CHANGED },
		{ &ret->signs, "SELECT * FROM sign_log WHERE litter_id = ?1 ORDER BY at_ms, sign_id" },
		{ &ret->feeds, "SELECT * FROM feed_log WHERE litter_id = ?1 ORDER BY at_ms, feed_id" },
		{ &ret->orders, "SELECT * FROM order_log WHERE litter_id = ?1 ORDER BY at_ms, order_id" },
		{ &ret->doses, "SELECT * FROM dose_log WHERE litter_id = ?1 ORDER BY at_ms, dose_id" },
		{ &ret->concerns, CONCERNS },
		{ &ret->tares, TARES },
	};
	const char *id = field_text(ret->litter, "litter_id");
	enum ctl_status status = CTL_DONE;

	for (size_t i = 0; status == CTL_DONE && i < sizeof asked / sizeof *asked; i++)
		status = ask(ctl, db, asked[i].sql, id, asked[i].to);
	return status;
}

enum ctl_status report_rows_read(const struct ctl *ctl, const char *litter, struct report_rows *ret)
{
	enum ctl_status status;
	sqlite3 *db;

	*ret = (struct report_rows){ 0 };
	status = database_for(ctl, &db);
	if (status != CTL_DONE)
		return status;
	/* one snapshot, whatever is weighed meanwhile */
	if (sqlite3_exec(db, "BEGIN", NULL, NULL, NULL) != SQLITE_OK)
		status = database_trouble(ctl, db);
	if (status == CTL_DONE)
		status = find_litter(ctl, db, litter, ret);
	if (status == CTL_DONE)
		status = read_all(ctl, db, ret);
	database_close(db); /* ends the transaction; nothing was written */
	if (status != CTL_DONE)
		report_rows_free(ret);
	return status;
}

void report_rows_free(struct report_rows *rows)
{
	json_decref(rows->litter);
	json_decref(rows->animals);
	json_decref(rows->births);
	json_decref(rows->readings);
	json_decref(rows->changed);
	json_decref(rows->signs);
	json_decref(rows->feeds);
	json_decref(rows->orders);
	json_decref(rows->doses);
	json_decref(rows->concerns);
	json_decref(rows->tares);
	*rows = (struct report_rows){ 0 };
}
