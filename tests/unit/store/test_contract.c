// SPDX-License-Identifier: MIT
/* The columns that readers are promised, as the contract lists them; and protocols/database.md tells the truth. */
#include "ledger.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const struct {
	const char *view, *columns;
	bool closed; /* the list is all there is; otherwise more may follow */
} contract[] = {
	{ "reading",
	  "reading_id, animal_id, animal, collar, litter_id, litter, at, at_ms, net_g, u_g, gross_g, tare_g, "
	  "container, "
	  "scale, origin, state, fed, answered_at_ms, answered_by",
	  false },
	{ "unanswered", "weighing_id, at, at_ms, net_g, u_g, gross_g, tare_g, container, scale, origin, state", false },
	{ "animal_now",
	  "animal_id, animal, collar, sex, litter_id, litter, born_at_ms, birth_g, newest_at_ms, newest_g, "
	  "gain_g_per_day, u_gain_g_per_day, gain_pct_per_day, verdict, tell_at_ms",
	  false },
	{ "frame_log", "frame_id, scale, received_at_ms, uuid, bytes, fate, why", false },
	{ "scale_now", "scale_id, address, name, container_id, container, adopted_at_ms, newest_at_ms", true },
	{ "container_now", "container_id, container, tare_g, u_g, tared_at_ms, checked_at_ms, drift_g, scale", true },
	{ "concern_now", "concern_id, animal_id, animal, level, rule, text, source, since_ms, litter_id, litter", false },
	{ "round_now", "round_id, litter_id, litter, begun_at_ms, fed", false },
	{ "litter_now", "litter_id, litter, dam, born_at_ms, adult_g, open, animals", true },
};

/* "a, b, c" of a view */
static void columns_of(const char *dir, const char *view, char ret[1024])
{
	char sql[160], *text;

	(void)snprintf(sql, sizeof(sql),
		       "SELECT group_concat(name, ', ') FROM "
		       "(SELECT name FROM pragma_table_info('%s') ORDER BY cid)",
		       view);
	text = ledger_rows(dir, sql);
	text[strcspn(text, "\n")] = '\0';
	assert_true(snprintf(ret, 1024, "%s", text) < 1024);
	free(text);
}

static void views_begin_with_the_contract(void **state)
{
	struct ledger *l = *state;
	char columns[1024];
	size_t i, n;

	for (i = 0; i < sizeof(contract) / sizeof(contract[0]); i++) {
		columns_of(l->dir, contract[i].view, columns);
		n = strlen(contract[i].columns);
		if (strncmp(columns, contract[i].columns, n) != 0)
			fail_msg("%s has %s", contract[i].view, columns);
		assert_true(columns[n] == '\0' || (!contract[i].closed && columns[n] == ','));
	}
}

static FILE *contract_text(void)
{
	const char *source = getenv("BISMAR_SOURCE"); /* set by the build; else it runs in the source folder */
	char path[1024];
	FILE *file;

	(void)snprintf(path, sizeof(path), "%s/protocols/database.md", source ? source : ".");
	file = fopen(path, "re");
	if (!file)
		fail_msg("can't read %s", path);
	return file;
}

/* The name between the first two backquotes, or NULL. */
static char *quoted(char *line)
{
	char *begin = strchr(line, '`'), *end = begin ? strchr(begin + 1, '`') : NULL;

	if (!end)
		return NULL;
	*end = '\0';
	return begin + 1;
}

/* Calls a section "## `view`", and each row "| `column` |" in it a column. */
static void text_agrees_with_views(void **state)
{
	struct ledger *l = *state;
	FILE *file = contract_text();
	char line[512], view[64] = "", told[1024] = "", columns[1024];
	bool more;
	size_t n = 0;
	int views = 0;

	do {
		more = fgets(line, sizeof(line), file) != NULL;
		if (!more || strncmp(line, "## ", 3) == 0) {
			if (view[0]) {
				columns_of(l->dir, view, columns);
				assert_string_equal(told, columns);
				views++;
			}
			n = 0;
			view[0] = told[0] = '\0';
			if (more && strncmp(line, "## `", 4) == 0)
				(void)snprintf(view, sizeof(view), "%s", quoted(line));
		} else if (view[0] && strncmp(line, "| `", 3) == 0) {
			n += (size_t)snprintf(told + n, sizeof(told) - n, "%s%s", n ? ", " : "", quoted(line));
			assert_true(n < sizeof(told));
		}
	} while (more);
	fclose(file);
	/* and no view is left out, but the one that is for the others */
	assert_int_equal(views, ledger_count(l->dir, "SELECT count(*) FROM sqlite_schema WHERE type = 'view' "
						     "AND name <> 'answer_now'"));
}

/* Type in the text against the type of what the view gives, where a full row gives it. */
static void types_are_as_told(void **state)
{
	struct ledger *l = *state;
	const struct store_stamp stamp = ledger_stamp(LEDGER_T0);
	const struct store_frame frame = { .scale_id = l->scale,
					   .uuid = "2a9d",
					   .octets = (const uint8_t *)"\0\0",
					   .n = 3,
					   .received_ms = LEDGER_T0,
					   .fate = STORE_USED,
					   .why = "remark" };
	const struct store_check check = { .container_id = l->container, .gross_mg = 413000, .drift_mg = 1000 };
	FILE *file = contract_text();
	char line[512], view[64] = "", sql[256], type[16], id[UUID7_SIZE], *name, *got;
	int compared = 0;

	assert_int_equal(ledger_weigh(l, LEDGER_T0, 308000, id), 0);
	assert_int_equal(store_answer(l->store, &stamp, id, STORE_ANSWER, l->animal[0], NULL, "after"), 0);
	assert_int_equal(ledger_weigh(l, LEDGER_T0, 308000, id), 0);
	assert_int_equal(store_add_frame(l->store, &stamp, &frame, NULL, &check, NULL), 0);
	ledger_follow(l, LEDGER_T0);
	while (fgets(line, sizeof(line), file)) {
		if (strncmp(line, "## `", 4) == 0)
			(void)snprintf(view, sizeof(view), "%s", quoted(line));
		if (!view[0] || strncmp(line, "| `", 3) != 0)
			continue;
		assert_int_equal(sscanf(strchr(line + 3, '|'), "| %15s |", type), 1);
		name = quoted(line);
		(void)snprintf(sql, sizeof(sql), "SELECT upper(typeof(%s)) FROM %s WHERE %s IS NOT NULL LIMIT 1", name,
			       view, name);
		got = ledger_rows(l->dir, sql);
		got[strcspn(got, "\n")] = '\0';
		if (*got) {
			assert_string_equal(got, type);
			compared++;
		}
		free(got);
	}
	fclose(file);
	assert_true(compared > 90);
}

/* The examples run, and find what they should. */
static void examples_run(void **state)
{
	struct ledger *l = *state;
	const int64_t noon_yesterday =
		ledger_count(l->dir, "SELECT 1000 * unixepoch('now', 'localtime', 'start of day', "
				     "'-12 hours', 'utc')");
	const struct store_stamp stamp = ledger_stamp(LEDGER_T0);
	FILE *file = contract_text();
	char line[512], sql[1024] = "", id[UUID7_SIZE], *rows;
	bool in = false;
	int n = 0;

	assert_int_equal(ledger_weigh(l, noon_yesterday, 308000, id), 0);
	assert_int_equal(store_answer(l->store, &stamp, id, STORE_ANSWER, l->animal[0], NULL, NULL), 0);
	assert_int_equal(ledger_weigh(l, noon_yesterday + 2 * 86400000, 333000, id), 0);
	assert_int_equal(store_answer(l->store, &stamp, id, STORE_ANSWER, l->animal[1], NULL, NULL), 0);
	while (fgets(line, sizeof(line), file)) {
		if (in && strncmp(line, "```", 3) == 0) {
			rows = ledger_rows(l->dir, sql);
			assert_non_null(strstr(rows, "308.0"));
			assert_true((strstr(rows, "333.0") != NULL) == (n == 0)); /* not yesterday's */
			free(rows);
			sql[0] = '\0';
			in = false;
			n++;
		} else if (in) {
			size_t used = strlen(sql);

			assert_true(snprintf(sql + used, sizeof(sql) - used, "%s", line) < (int)(sizeof(sql) - used));
		} else {
			in = strcmp(line, "```sql\n") == 0;
		}
	}
	fclose(file);
	assert_int_equal(n, 2);
}

#define WITH_LEDGER(test) cmocka_unit_test_setup_teardown(test, ledger_setup, ledger_teardown)

int main(void)
{
	const struct CMUnitTest tests[] = {
		WITH_LEDGER(views_begin_with_the_contract),
		WITH_LEDGER(text_agrees_with_views),
		WITH_LEDGER(types_are_as_told),
		WITH_LEDGER(examples_run),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
