// SPDX-License-Identifier: MIT
#include "contrib/page/views.h"
#include "daemon/ctl/database.h"
#include "daemon/ctl/field.h"
#include "daemon/litter/curve.h"

#define DAY_MS 86400000.0
#define BAND_STEP_DAYS 0.5
/* The step is asked for animal by animal: a join would have SQLite write out all readings there ever were. */
#define ANIMAL                                                                                                         \
	"SELECT a.animal_id AS animal, a.animal AS name, a.litter, a.litter_id, a.collar, a.sex, a.born_at_ms AS "     \
	"born_ms, "                                                                                                    \
	"a.birth_g, a.newest_g, a.newest_u_g, a.newest_at_ms AS newest_ms, "                                           \
	"(SELECT r.step_g FROM reading r WHERE r.reading_id = a.newest_reading_id) AS scale_step_g "                   \
	"FROM animal_now a "
/* The newest 500 of an animal, oldest first: two months of eight rounds a day. */
#define NEWEST_500 "FROM reading WHERE animal_id = ?1 ORDER BY at_ms DESC LIMIT 500) ORDER BY at_ms"

/* Rows as an array of objects; NULL when the database refuses. */
static json_t *rows(sqlite3 *db, const char *sql, const char *text)
{
	sqlite3_stmt *row = database_ask(db, sql, &text, text ? 1 : 0);
	json_t *list = row ? json_array() : NULL;
	int r = SQLITE_ERROR;

	while (list && (r = sqlite3_step(row)) == SQLITE_ROW)
		if (json_array_append_new(list, database_json(row)) < 0)
			break;
	(void)sqlite3_finalize(row); /* repeats the error of the step */
	if (r == SQLITE_DONE)
		return list;
	json_decref(list);
	return NULL;
}

static struct answer no_record(const char *why)
{
	return answer_refusal(&(struct refusal){ .status = MHD_HTTP_SERVICE_UNAVAILABLE,
						 .code = "no-record",
						 .message = why,
						 .hint = "`bismar checkup` at the computer says what to do." });
}

static struct answer not_found(void)
{
	return answer_refusal(&(struct refusal){ .status = MHD_HTTP_NOT_FOUND,
						 .code = "not-found",
						 .message = "There is no such animal in an open litter.",
						 .hint = "Load the list of animals again." });
}

/* Opens, asks, closes: what make() returns is stolen, NULL is trouble with the database. */
static struct answer with(const char *database, const char *animal, json_t *(*make)(sqlite3 *db, json_t *animal))
{
	json_t *found = NULL, *value = NULL;
	char why[512];
	sqlite3 *db;
	bool asked = animal != NULL;

	if (database_open(database, &db, why, sizeof why) < 0)
		return no_record(why);
	if (asked)
		found = rows(db, ANIMAL "WHERE a.animal_id = ?1", animal);
	if (!asked || json_array_size(found))
		value = make(db, json_array_get(found, 0));
	asked = asked && found && json_array_size(found) == 0;
	json_decref(found);
	database_close(db);
	if (asked)
		return not_found();
	return value ? answer_json(MHD_HTTP_OK, value) : no_record("The record can't be read.");
}

static json_t *animals_of(sqlite3 *db, json_t *animal)
{
	/* by the open litters: animal_now alone has SQLite look at every animal there ever was */
	json_t *animals = rows(db, ANIMAL "WHERE a.litter_id IN (SELECT litter_id FROM litter_now WHERE open) "
					  "ORDER BY a.litter, a.animal", NULL);
	json_t *scales = rows(db, "SELECT name AS scale, container FROM scale_now ORDER BY name", NULL);

	(void)animal;
	if (animals && scales)
		return json_pack("{s:o, s:o}", "animals", animals, "scales", scales);
	json_decref(animals);
	json_decref(scales);
	return NULL;
}

struct answer views_animals(const char *database)
{
	return with(database, NULL, animals_of);
}

/* ---- one animal's curve ---- */

/* null where no birth, no birth weight, or nothing published. */
static json_t *band_of(const json_t *animal)
{
	double born_ms, birth_g, low, high;
	json_t *band;

	if (!field_number(animal, "born_ms", &born_ms) || !field_number(animal, "birth_g", &birth_g))
		return json_null();
	band = json_array();
	for (double age = 0; band && curve_band(age, &low, &high); age += BAND_STEP_DAYS)
		if (json_array_append_new(band,
					  json_pack("{s:I, s:f, s:f}", "at_ms", (json_int_t)(born_ms + age * DAY_MS),
						    "low_g", birth_g * low, "high_g", birth_g * high)) < 0) {
			json_decref(band);
			return NULL;
		}
	return band;
}

static json_t *littermates_of(sqlite3 *db, const json_t *animal)
{
	json_t *mates = rows(db,
			     "SELECT b.animal_id AS id, b.animal AS name, b.collar FROM animal_now a JOIN animal_now b "
			     "ON b.litter_id = a.litter_id AND b.animal_id <> a.animal_id WHERE a.animal_id = ?1 "
			     "ORDER BY b.animal",
			     field_text(animal, "animal"));
	json_t *mate;
	size_t i;

	json_array_foreach (mates, i, mate) {
		if (json_object_set_new(
			    mate, "points",
			    rows(db, "SELECT * FROM (SELECT at_ms, net_g " NEWEST_500, field_text(mate, "id"))) < 0) {
			json_decref(mates);
			return NULL;
		}
		(void)json_object_del(mate, "id"); /* it is there */
	}
	return mates;
}

static json_t *curve_of(sqlite3 *db, json_t *animal)
{
	static const char *const keys[] = { "animal", "name", "litter", "born_ms", "birth_g" };
	json_t *band = band_of(animal), *curve = json_object();
	int r = curve ? 0 : -1;

	for (size_t i = 0; r == 0 && i < sizeof keys / sizeof *keys; i++)
		r = json_object_set(curve, keys[i], json_object_get(animal, keys[i]));
	if (r == 0)
		r = json_object_set_new(curve, "band_source",
					json_is_array(band) ? json_string(curve_band_source) : json_null());
	if (r == 0)
		r = json_object_set(curve, "band", band);
	if (r == 0)
		r = json_object_set_new(
			curve, "points",
			rows(db, "SELECT * FROM (SELECT at_ms, net_g, u_g " NEWEST_500, field_text(animal, "animal")));
	if (r == 0)
		r = json_object_set_new(curve, "littermates", littermates_of(db, animal));
	json_decref(band);
	if (r == 0)
		return curve;
	json_decref(curve);
	return NULL;
}

struct answer views_curve(const char *database, const char *animal)
{
	return animal ? with(database, animal, curve_of) : not_found();
}

/* ---- signs, feeds, doses ---- */

#define NEWEST_20 " WHERE animal_id = ?1 ORDER BY at_ms DESC LIMIT 20"

static json_t *signs_of(sqlite3 *db, json_t *animal)
{
	static const struct {
		const char *key, *sql;
	} logs[] = {
		{ "signs", "SELECT at_ms, sign, value FROM sign_log" NEWEST_20 },
		{ "feeds", "SELECT at_ms, ml, what, how, taken_g FROM feed_log" NEWEST_20 },
		{ "doses", "SELECT at_ms, ml, order_id AS 'order', what, route FROM dose_log" NEWEST_20 },
	};
	json_t *signs = json_object();

	for (size_t i = 0; signs && i < sizeof logs / sizeof *logs; i++)
		if (json_object_set_new(signs, logs[i].key, rows(db, logs[i].sql, field_text(animal, "animal"))) < 0) {
			json_decref(signs);
			return NULL;
		}
	return signs;
}

struct answer views_signs(const char *database, const char *animal)
{
	return animal ? with(database, animal, signs_of) : not_found();
}
