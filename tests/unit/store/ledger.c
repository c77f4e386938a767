// SPDX-License-Identifier: MIT
#include "ledger.h"

#include <dirent.h>
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

void ledger_folder(char dir[64])
{
	(void)snprintf(dir, 64, "/tmp/bismar-store-XXXXXX");
	assert_non_null(mkdtemp(dir));
}

void ledger_path(const char *dir, const char *name, char ret[96])
{
	assert_true(snprintf(ret, 96, "%s/%s", dir, name) < 96);
}

void ledger_remove(const char *dir)
{
	DIR *d = opendir(dir);
	struct dirent *entry;

	assert_non_null(d);
	while ((entry = readdir(d)))
		if (entry->d_name[0] != '.')
			assert_int_equal(unlinkat(dirfd(d), entry->d_name, 0), 0);
	closedir(d);
	assert_int_equal(rmdir(dir), 0);
}

static void copy_file(const char *from, const char *to, const char *name)
{
	char path[96], buffer[65536];
	FILE *in, *out;
	size_t n;

	ledger_path(from, name, path);
	in = fopen(path, "re");
	ledger_path(to, name, path);
	out = fopen(path, "we");
	assert_non_null(in);
	assert_non_null(out);
	while ((n = fread(buffer, 1, sizeof(buffer), in)) > 0)
		assert_int_equal(fwrite(buffer, 1, n, out), n);
	fclose(in);
	assert_int_equal(fclose(out), 0);
}

void ledger_copy(const char *from, char dir[64])
{
	ledger_folder(dir);
	copy_file(from, dir, STORE_MARK);
	copy_file(from, dir, STORE_FILE);
	copy_file(from, dir, STORE_FILE "-wal");
	copy_file(from, dir, STORE_FILE "-shm");
}

struct store *ledger_open(const char *dir)
{
	struct store *store = NULL;

	assert_int_equal(store_open(dir, &store), 0);
	assert_non_null(store);
	return store;
}

struct store_stamp ledger_stamp(int64_t at_ms)
{
	return (struct store_stamp){ .at_ms = at_ms, .offset_min = 60, .peer = "uid 1000" };
}

void ledger_roster(struct ledger *l)
{
	const struct store_stamp stamp = ledger_stamp(LEDGER_T0);
	const struct store_new_litter litter = {
		.name = "first", .dam = "dam", .born_ms = LEDGER_T0, .adult_mg = 9000000
	};
	const char *const aliases[] = { "uno", "17" };
	struct store_new_animal animal = { .name = "one",
					   .litter_id = l->litter,
					   .collar = "green",
					   .sex = 'f',
					   .birth_mg = 300500,
					   .born_ms = INT64_MIN,
					   .aliases = aliases,
					   .n_aliases = 2 };

	assert_int_equal(store_adopt_scale(l->store, &stamp, "C0:FF:EE:00:00:01", "kitchen", l->scale), 0);
	assert_int_equal(store_add_container(l->store, &stamp, "bowl", l->container), 0);
	assert_int_equal(store_tare(l->store, &stamp, l->container, 412000, 1500), 0);
	assert_int_equal(store_put_container(l->store, &stamp, l->scale, l->container), 0);
	assert_int_equal(store_add_litter(l->store, &stamp, &litter, l->litter), 0);
	assert_int_equal(store_add_animal(l->store, &stamp, &animal, l->animal[0]), 0);
	animal = (struct store_new_animal){ .name = "two", .litter_id = l->litter, .born_ms = LEDGER_T0 + 1 };
	assert_int_equal(store_add_animal(l->store, &stamp, &animal, l->animal[1]), 0);
}

int ledger_weigh(struct ledger *l, int64_t at_ms, int64_t net_mg, char ret_id[UUID7_SIZE])
{
	/* Weight Measurement, flags 0 (kg), 0x0090 = 144 units of 5 g: 0.720 kg */
	static const uint8_t octets[] = { 0x00, 0x90, 0x00 };
	const struct store_stamp stamp = ledger_stamp(at_ms);
	const struct store_frame frame = {
		.scale_id = l->scale,
		.uuid = "2a9d",
		.octets = octets,
		.n = sizeof(octets),
		.received_ms = at_ms,
		.link = 4000000000u,
		.fate = STORE_USED,
		.has_mass = true,
		.mass_mg = net_mg + 412000,
		.step_mg = 5000,
	};
	const struct weighing weighing = {
		.at_ms = at_ms,
		.origin = WEIGH_RADIO,
		.gross_mg = net_mg + 412000,
		.tare_mg = 412000,
		.net_mg = net_mg,
		.u_mg = 2082,
	};
	const struct store_weighing row = {
		.scale_id = l->scale, .container_id = l->container, .weighing = &weighing, .user = -1, .step_mg = 5000
	};

	return store_add_frame(l->store, &stamp, &frame, &row, NULL, ret_id);
}

void ledger_follow(struct ledger *l, int64_t at_ms)
{
	const struct store_stamp stamp = ledger_stamp(at_ms);
	const struct store_growth growth = { .animal_id = l->animal[0],
					     .as_of_ms = at_ms,
					     .gain_mg_per_day = 14250,
					     .u_gain_mg_per_day = 2500,
					     .gain_pct_per_day = 4.75,
					     .verdict = "gaining",
					     .tell_ms = at_ms + 3600000 };
	const struct store_concern concern = { .litter_id = l->litter,
					       .animal_id = l->animal[0],
					       .open = true,
					       .level = "look",
					       .rule = "overdue",
					       .text = "one wasn't weighed for 27 h",
					       .source = "a handbook",
					       .since_ms = at_ms };
	char id[UUID7_SIZE];

	assert_int_equal(store_add_growth(l->store, &stamp, &growth), 0);
	assert_int_equal(store_add_concern(l->store, &stamp, &concern, id), 0);
	assert_int_equal(store_begin_round(l->store, &stamp, l->litter, NULL, id), 0);
	assert_int_equal(store_end_round(l->store, &stamp, id, "asked"), 0);
	assert_int_equal(store_begin_round(l->store, &stamp, l->litter, "before", id), 0);
	assert_int_equal(store_set_limits(l->store, &stamp, l->litter, &(struct store_limits){ .overdue_h = 12.5 }), 0);
}

void ledger_bedside(struct ledger *l, int64_t at_ms)
{
	const struct store_stamp stamp = ledger_stamp(at_ms);
	const struct store_order order = { .litter_id = l->litter, .animal_id = l->animal[0], .what = "saline", .vet = "a vet",
					   .kind = "fluid", .route = "under the skin", .per = "kg", .amount_ul = 10000,
					   .most_ul = 40000, .every_ms = 21600000, .from_ms = at_ms, .until_ms = at_ms + 86400000 };
	char id[UUID7_SIZE], other[UUID7_SIZE];

	assert_int_equal(store_begin_whelping(l->store, &stamp, l->litter, id), 0);
	assert_int_equal(store_end_whelping(l->store, &stamp, id), 0);
	assert_int_equal(store_add_birth(l->store, &stamp,
					 &(struct store_birth){ .litter_id = l->litter, .animal_id = l->animal[0], .born_ms = at_ms },
					 id), 0);
	assert_int_equal(store_add_score(l->store, &stamp, l->animal[0], at_ms, "22222"), 0);
	assert_int_equal(store_add_sign(l->store, &stamp,
					&(struct store_sign){ .animal_id = l->animal[0], .sign = "gums", .value = "dry",
							      .seen_ms = at_ms }), 0);
	assert_int_equal(store_add_feed(l->store, &stamp,
					&(struct store_feed){ .animal_id = l->animal[0], .fed_ms = at_ms, .ul = 6000 }), 0);
	assert_int_equal(store_add_order(l->store, &stamp, &order, id), 0);
	assert_int_equal(store_add_dose(l->store, &stamp,
					&(struct store_dose){ .order_id = id, .animal_id = l->animal[0], .given_ms = at_ms,
							      .ul = 3000, .mass_mg = 304000, .judged = "plain" }, other), 0);
	assert_int_equal(store_end_order(l->store, &stamp, id, "over"), 0);
}

sqlite3 *ledger_reader(const char *dir)
{
	sqlite3 *db = NULL;
	char path[96];

	ledger_path(dir, STORE_FILE, path);
	assert_int_equal(sqlite3_open_v2(path, &db, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
	return db;
}

static void put_column(FILE *out, sqlite3_stmt *st, int column)
{
	const unsigned char *blob;
	int i;

	if (column > 0)
		fputc('|', out);
	if (sqlite3_column_type(st, column) != SQLITE_BLOB) {
		const char *text = (const char *)sqlite3_column_text(st, column);

		fputs(text ? text : "", out);
		return;
	}
	blob = sqlite3_column_blob(st, column);
	for (i = 0; i < sqlite3_column_bytes(st, column); i++)
		fprintf(out, "%02x", blob[i]);
}

char *ledger_rows(const char *dir, const char *sql)
{
	sqlite3 *db = ledger_reader(dir);
	sqlite3_stmt *st = NULL;
	char *text = NULL;
	size_t n = 0;
	FILE *out = open_memstream(&text, &n);
	int rc, i;

	assert_non_null(out);
	rc = sqlite3_prepare_v2(db, sql, -1, &st, NULL);
	if (rc != SQLITE_OK)
		fail_msg("%s: %s", sql, sqlite3_errmsg(db));
	while ((rc = sqlite3_step(st)) == SQLITE_ROW) {
		for (i = 0; i < sqlite3_column_count(st); i++)
			put_column(out, st, i);
		fputc('\n', out);
	}
	if (rc != SQLITE_DONE)
		fail_msg("%s: %s", sql, sqlite3_errmsg(db));
	fclose(out);
	sqlite3_finalize(st);
	sqlite3_close(db);
	return text;
}

void ledger_expect(const char *dir, const char *sql, const char *rows)
{
	char *text = ledger_rows(dir, sql);

	assert_string_equal(text, rows);
	free(text);
}

int64_t ledger_count(const char *dir, const char *sql)
{
	char *text = ledger_rows(dir, sql);
	int64_t count = strtoll(text, NULL, 10);

	free(text);
	return count;
}

int ledger_in_child(int (*fn)(void *), void *userdata)
{
	int ends[2], result = 0;
	pid_t pid;

	assert_int_equal(pipe(ends), 0);
	pid = fork();
	assert_true(pid >= 0);
	if (pid == 0) {
		result = fn(userdata);
		if (write(ends[1], &result, sizeof(result)) == sizeof(result))
			raise(SIGKILL);
		_exit(1);
	}
	close(ends[1]);
	if (read(ends[0], &result, sizeof(result)) != sizeof(result))
		fail_msg("the child told nothing");
	close(ends[0]);
	assert_int_equal(waitpid(pid, NULL, 0), pid);
	return result;
}

int ledger_setup(void **state)
{
	struct ledger *l = calloc(1, sizeof(*l));

	assert_non_null(l);
	ledger_folder(l->dir);
	l->store = ledger_open(l->dir);
	ledger_roster(l);
	*state = l;
	return 0;
}

int ledger_setup_closed(void **state)
{
	struct ledger *l;
	int r = ledger_setup(state);

	l = *state;
	l->store = store_close(l->store);
	return r;
}

int ledger_teardown(void **state)
{
	struct ledger *l = *state;

	store_close(l->store);
	ledger_remove(l->dir);
	free(l);
	return 0;
}
