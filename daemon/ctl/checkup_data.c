// SPDX-License-Identifier: MIT
/* The ledger, its disk, the clock that dates it, and what the scales and containers in it have last said. */
#include "daemon/ctl/checkup.h"
#include "daemon/ctl/database.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/show.h"
#include "daemon/ctl/when.h"
#include <math.h>
#include <time.h>
#include <unistd.h>

#define PATH_SIZE 512
#define STEP_UNKNOWN_MG 5000 /* as weigh/weigh.h: the coarsest of the standards' */

/* The first column of the first row as a whole number; false when there is none, or NULL. */
static bool ask_whole(const struct checkup *checkup, const char *sql, int64_t *ret)
{
	sqlite3_stmt *row = checkup->facts.db ? database_ask(checkup->facts.db, sql, NULL, 0) : NULL;
	bool there = row && sqlite3_step(row) == SQLITE_ROW && sqlite3_column_type(row, 0) != SQLITE_NULL;

	if (there)
		*ret = sqlite3_column_int64(row, 0);
	(void)sqlite3_finalize(row); /* repeats the error of the step */
	return there;
}

static bool newest(const struct checkup *checkup, int64_t *ret_ms)
{
	return ask_whole(checkup,
			 "SELECT max(at_ms) FROM (SELECT max(at_ms) AS at_ms FROM reading UNION ALL "
			 "SELECT max(at_ms) FROM unanswered)",
			 ret_ms);
}

static bool is_sound(struct checkup *checkup)
{
	sqlite3_stmt *row = database_ask(checkup->facts.db, "PRAGMA quick_check(1)", NULL, 0);
	bool sound = row && sqlite3_step(row) == SQLITE_ROW && strcmp(database_text(row, "quick_check"), "ok") == 0;

	if (!sound)
		checkup_todo(checkup,
			     "Stop bismard, keep a copy of the file, and put a backup back (README.md, Backup).",
			     "The database is damaged: %s.",
			     row && *database_text(row, "quick_check") ? database_text(row, "quick_check")
								       : sqlite3_errmsg(checkup->facts.db));
	(void)sqlite3_finalize(row); /* repeats the error of the step */
	return sound;
}

void checkup_database(struct checkup *checkup)
{
	const struct checkup_facts *facts = &checkup->facts;
	int64_t pending = 0, schema = 0, newest_ms;
	char when[WHEN_SIZE];

	if (field_whole(facts->status, "pending", &pending) && pending > 0)
		checkup_todo(checkup,
			     "Make room on its disk, or see `journalctl -u bismard -e`. They are written as soon as it "
			     "goes.",
			     "%lld results wait in bismard's memory: the database can't be written.",
			     (long long)pending);
	if (!facts->db) {
		checkup_todo(checkup, facts->db_trouble, "The database can't be read.");
		return;
	}
	if (!is_sound(checkup))
		return;
	if (facts->wal_octets > CHECKUP_WAL_OCTETS)
		checkup_todo(checkup,
			     "Close programs that have read it for a long time, then `sudo systemctl restart bismard`.",
			     "The database's log has grown to %lld MB.", (long long)(facts->wal_octets / 1000000));
	(void)ask_whole(checkup, "PRAGMA user_version", &schema);
	if (newest(checkup, &newest_ms)) {
		when_show_near(when, newest_ms, facts->now_ms);
		checkup_good(checkup, "The database is sound (schema %lld), its newest weighing is of %s.",
			     (long long)schema, when);
	} else {
		checkup_good(checkup, "The database is sound (schema %lld); nothing has been weighed yet.",
			     (long long)schema);
	}
}

void checkup_disk(struct checkup *checkup)
{
	const struct checkup_facts *facts = &checkup->facts;
	int64_t free_mb = facts->disk_free / 1000000;

	if (facts->disk_total <= 0)
		return;
	if (facts->disk_free < CHECKUP_DISK_OCTETS || facts->disk_free < facts->disk_total / 100 * CHECKUP_DISK_PERCENT)
		checkup_todo(checkup, "Make room on it: `sudo apt-get clean`, `sudo journalctl --vacuum-size=100M`.",
			     "The disk of the database has %lld MB left.", (long long)free_mb);
	else
		checkup_good(checkup, "The disk of the database has %lld MB left.", (long long)free_mb);
}

/* ---- the clock ---- */

static bool has_rtc(const struct checkup *checkup)
{
	char path[PATH_SIZE];

	(void)snprintf(path, sizeof path, "%s/class/rtc/rtc0", checkup->sys);
	return access(path, F_OK) == 0;
}

void checkup_clock(struct checkup *checkup)
{
	const struct checkup_facts *facts = &checkup->facts;
	time_t now_s = (time_t)(facts->now_ms / 1000);
	int64_t newest_ms;
	struct tm tm;
	bool good = true;
	char when[WHEN_SIZE];

	if (!gmtime_r(&now_s, &tm) || tm.tm_year + 1900 < CHECKUP_YEAR_MIN || tm.tm_year + 1900 > CHECKUP_YEAR_MAX) {
		good = false;
		checkup_todo(checkup, "`sudo timedatectl set-time \"2026-11-25 13:45\"`, with the time that it is.",
			     "This machine's clock is wrong: it has the year %d.", tm.tm_year + 1900);
	}
	if (newest(checkup, &newest_ms) && newest_ms > facts->now_ms + CHECKUP_AHEAD_MS) {
		good = false;
		when_show(when, newest_ms);
		checkup_todo(checkup, "Set the clock; whatever was weighed while it was wrong has a wrong time.",
			     "The newest weighing lies in the future (%s): the clock is wrong, or was.", when);
	}
	if (facts->clock_known && !facts->clock_synchronised) {
		good = false;
		checkup_todo(checkup,
			     "`sudo timedatectl set-ntp true`; without network, compare it with a watch now and then.",
			     has_rtc(checkup) ? "The clock isn't synchronised."
					      : "The clock isn't synchronised, and this machine has none that runs on "
						"without power.");
	}
	if (good)
		checkup_good(checkup, "The clock is %s.", facts->clock_known ? "synchronised" : "plausible");
}

/* ---- scales ---- */

static const json_t *status_of(const struct checkup *checkup, const char *name)
{
	size_t i;
	json_t *scale;

	json_array_foreach(json_object_get(checkup->facts.status, "scales"), i,
			   scale) if (strcmp(field_text(scale, "scale"), name) == 0) return scale;
	return NULL;
}

/* Whether somebody is to be weighed: silence is no news else. */
static bool has_pups(const struct checkup *checkup)
{
	int64_t n = 0;

	return ask_whole(checkup, "SELECT coalesce(sum(animals), 0) FROM litter_now WHERE open = 1", &n) && n > 0;
}

static void look_at_scale(struct checkup *checkup, const char *name, bool spoke, int64_t newest_ms)
{
	const json_t *status = status_of(checkup, name);
	char when[WHEN_SIZE] = "", battery[32] = "";
	int64_t percent = 100;

	if (spoke)
		when_show_near(when, newest_ms, checkup->facts.now_ms);
	if (field_whole(status, "battery", &percent))
		(void)snprintf(battery, sizeof battery, ", battery %d %%", (int)percent);
	if (percent <= CHECKUP_BATTERY_PERCENT)
		checkup_todo(checkup, "Put new batteries in: a weak one lets it fall silent in the middle of a round.",
			     "%s: battery %d %%.", name, (int)percent);
	else if (field_true(status, "battery_low"))
		checkup_todo(checkup, "Put new batteries in: a weak one lets it fall silent in the middle of a round.",
			     "%s says that its battery is low.", name);
	else if (!spoke)
		checkup_todo(
			checkup,
			"Put something on it. If nothing comes: is it near enough, is another device connected to it?",
			"%s has not sent any weight yet%s.", name, battery);
	else if (checkup->facts.now_ms - newest_ms > CHECKUP_SILENT_MS && has_pups(checkup))
		checkup_todo(
			checkup,
			"Put something on it. If nothing comes: batteries, distance, another device connected to it?",
			"%s has been silent since %s%s.", name, when, battery);
	else
		checkup_good(checkup, "%s: last heard %s%s.", name, when, battery);
}

void checkup_scales(struct checkup *checkup)
{
	sqlite3_stmt *row;
	unsigned n = 0;

	if (!checkup->facts.db)
		return;
	row = database_ask(checkup->facts.db, "SELECT name, newest_at_ms FROM scale_now ORDER BY name COLLATE NOCASE",
			   NULL, 0);
	for (; row && sqlite3_step(row) == SQLITE_ROW; n++) {
		int64_t newest_ms = 0;
		bool spoke = database_whole(row, "newest_at_ms", &newest_ms);
		look_at_scale(checkup, database_text(row, "name"), spoke, newest_ms);
	}
	if (row && n == 0)
		checkup_todo(checkup, "`bismar scale find` shows those in reach, `bismar scale adopt` takes one.",
			     "No scale is adopted.");
	(void)sqlite3_finalize(row); /* repeats the error of the step */
}

/* ---- containers ---- */

/* As weigh/weigh.h judges an empty container: more than the step and twice the uncertainty explain. */
static bool has_drifted(int64_t drift_mg, int64_t u_mg, int64_t step_mg)
{
	double reading_u = (double)step_mg / sqrt(12.0); /* JCGM 100:2008, 4.3.7 */
	double explained = 2 * sqrt(reading_u * reading_u + (double)u_mg * (double)u_mg);

	return fabs((double)drift_mg) > fmax((double)step_mg, explained);
}

void checkup_containers(struct checkup *checkup)
{
	sqlite3_stmt *row;
	char todo[CHECKUP_TEXT], drift[SHOW_SIZE], name[128];

	if (!checkup->facts.db)
		return;
	row = database_ask(checkup->facts.db,
			   "SELECT c.container, c.tare_g, c.u_g, c.drift_g, (SELECT r.step_g FROM reading AS r WHERE "
			   "r.container = "
			   "c.container ORDER BY r.at_ms DESC LIMIT 1) AS step_g FROM container_now AS c WHERE c.scale "
			   "IS NOT NULL "
			   "ORDER BY c.container COLLATE NOCASE",
			   NULL, 0);
	while (row && sqlite3_step(row) == SQLITE_ROW) {
		int64_t drift_mg = 0, u_mg = 0, step_mg = STEP_UNKNOWN_MG, tare_mg;
		(void)snprintf(name, sizeof name, "%s", database_text(row, "container"));
		(void)database_mg(row, "u_g", &u_mg); /* stay as they are */
		(void)database_mg(row, "step_g", &step_mg);
		(void)snprintf(todo, sizeof todo, "`bismar container tare %s`, with it empty on the scale", name);
		if (!database_mg(row, "tare_g", &tare_mg))
			checkup_todo(checkup, todo, "%s stands on a scale, and its mass isn't known.", name);
		else if (!database_mg(row, "drift_g", &drift_mg))
			checkup_good(checkup, "%s: not seen empty since it was weighed.", name);
		else if (has_drifted(drift_mg, u_mg, step_mg))
			checkup_todo(checkup, todo, "%s was %s %s when last seen empty: is the pad wet, or another?",
				     name, show_mass(drift, drift_mg < 0 ? -drift_mg : drift_mg, checkup->ctl->unit),
				     drift_mg < 0 ? "lighter" : "heavier");
		else
			checkup_good(checkup, "%s weighs what it weighed.", name);
	}
	(void)sqlite3_finalize(row); /* repeats the error of the step */
}
