// SPDX-License-Identifier: MIT
/* backup: where it goes, the copy, and what is looked at before it gets its name. */
#include "daemon/ctl/backup.h"
#include "daemon/ctl/args.h"
#include "daemon/ctl/commands.h"
#include "daemon/ctl/database.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/show.h"
#include "daemon/ctl/when.h"
#include <errno.h>
#include <fcntl.h>
#include <libgen.h>
#include <limits.h>
#include <signal.h>
#include <stdarg.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#define FILE_MODE 0640 /* as the database: members of a group read */
#define TRIES 100      /* at a temporary name that nobody has */
#define OPCODES 10000  /* of SQLite, between two looks at whether to stop */

static volatile sig_atomic_t stopped;

void backup_stop(void)
{
	stopped = 1;
}

static int is_stopped(void *userdata)
{
	(void)userdata;
	return stopped;
}

/* Where a backup goes, step by step. */
struct place {
	int dir_fd;
	char dir[BACKUP_PATH_SIZE];
	char name[NAME_MAX + 1];
	char temporary[NAME_MAX + 1];
	bool made; /* the temporary file is there */
	bool force;
	char *text; /* BACKUP_TEXT_SIZE: what is wrong */
};

__attribute__((format(printf, 2, 3))) static int wrong(struct place *place, const char *format, ...)
{
	va_list list;

	va_start(list, format);
	(void)vsnprintf(place->text, BACKUP_TEXT_SIZE, format, list);
	va_end(list);
	return -1;
}

static int wrong_errno(struct place *place, const char *what, int error)
{
	switch (error) {
	case ENOSPC:
	case EDQUOT:
		return wrong(place, "There is no room for a backup in %s: free some, or write it elsewhere.",
			     place->dir);
	case EACCES:
	case EPERM:
		return wrong(place, "You may not write to %s: name a file in a folder of your own.", place->dir);
	case EROFS:
		return wrong(place, "%s can only be read: name a file elsewhere.", place->dir);
	case ENOENT:
	case ENOTDIR:
		return wrong(place, "There is no folder %s: make it, or name another.", place->dir);
	default:
		return wrong(place, "%s in %s: %s.", what, place->dir, strerror(error));
	}
}

/* ---- where ---- */

static int split(struct place *place, const char *file, int64_t now_ms)
{
	char path[BACKUP_PATH_SIZE], copy[BACKUP_PATH_SIZE];
	struct stat status;
	time_t now_s = (time_t)(now_ms / 1000);
	struct tm tm;
	size_t n;

	if (!*file || strlen(file) >= sizeof path)
		return wrong(place, "That name is empty or too long.");
	/* what a link points to is replaced, not the link */
	(void)snprintf(path, sizeof path, "%s", file);
	if (realpath(file, copy))
		(void)snprintf(path, sizeof path, "%s", copy);
	if (stat(path, &status) == 0 && S_ISDIR(status.st_mode)) {
		(void)snprintf(place->dir, sizeof place->dir, "%s", path);
		if (!gmtime_r(&now_s, &tm))
			return wrong(place, "The clock of this machine is wrong: name a file.");
		n = strftime(place->name, sizeof place->name, "bismar-%Y%m%dT%H%M%SZ.db", &tm);
		return n ? 0 : -1;
	}
	(void)snprintf(copy, sizeof copy, "%s", path);
	(void)snprintf(place->dir, sizeof place->dir, "%s", dirname(copy));
	(void)snprintf(copy, sizeof copy, "%s", path);
	if (path[strlen(path) - 1] == '/' || strlen(basename(copy)) >= sizeof place->name - 16)
		return wrong(place, "\"%s\" is no name for a file: a folder of that name isn't there.", file);
	(void)snprintf(copy, sizeof copy, "%s", path);
	(void)snprintf(place->name, sizeof place->name, "%s", basename(copy));
	return 0;
}

/* Whether the place is the database's own: itself, or one of the files that SQLite and the daemon keep beside it. */
static bool is_live(const struct place *place, const char *database_path)
{
	static const char *const beside[] = { "", "-wal", "-shm", "-journal" };
	char real[PATH_MAX], dir[PATH_MAX], own[NAME_MAX + 16];
	struct stat ours, theirs, status, live;
	const char *base;

	if (!realpath(database_path, real))
		return false;
	if (stat(real, &live) == 0 && fstatat(place->dir_fd, place->name, &status, 0) == 0 &&
	    live.st_dev == status.st_dev && live.st_ino == status.st_ino)
		return true; /* by whatever name */
	(void)snprintf(dir, sizeof dir, "%s", real);
	if (stat(dirname(dir), &theirs) != 0 || fstat(place->dir_fd, &ours) != 0 || ours.st_dev != theirs.st_dev ||
	    ours.st_ino != theirs.st_ino)
		return false;
	base = strrchr(real, '/') + 1; /* an absolute path has one */
	for (size_t i = 0; i < sizeof beside / sizeof *beside; i++) {
		(void)snprintf(own, sizeof own, "%s%s", base, beside[i]);
		if (strcmp(place->name, own) == 0)
			return true;
	}
	return strcmp(place->name, "bismar.began") == 0; /* the daemon's mark and lock (protocols/database.md) */
}

static int find_place(struct place *place, const char *database_path, const char *file, int64_t now_ms)
{
	struct stat status;

	if (split(place, file, now_ms) < 0)
		return -1;
	place->dir_fd = open(place->dir, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
	if (place->dir_fd < 0)
		return wrong_errno(place, "Writing", errno);
	if (is_live(place, database_path))
		return wrong(place, "%s/%s belongs to the database itself: name another file.", place->dir,
			     place->name);
	if (fstatat(place->dir_fd, place->name, &status, AT_SYMLINK_NOFOLLOW) < 0)
		return 0;
	if (!S_ISREG(status.st_mode))
		return wrong(place, "%s/%s isn't a plain file: name another.", place->dir, place->name);
	if (!place->force)
		return wrong(place, "%s/%s exists already: name another file, or say --force to replace it.",
			     place->dir, place->name);
	return 0;
}

/* An empty file of our own beside the name; VACUUM INTO takes one. */
static int make_temporary(struct place *place)
{
	int fd = -1;

	for (int i = 0; fd < 0 && i < TRIES; i++) {
		(void)snprintf(place->temporary, sizeof place->temporary, ".%.*s.%05d-%02d", NAME_MAX - 32, place->name,
			       (int)(getpid() % 100000), i);
		fd = openat(place->dir_fd, place->temporary, O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC | O_NOFOLLOW,
			    FILE_MODE);
		if (fd < 0 && errno != EEXIST)
			return wrong_errno(place, "Writing", errno);
	}
	if (fd < 0)
		return wrong(place, "Too many backups were broken off in %s: delete the files .%s.*.", place->dir,
			     place->name);
	place->made = true;
	(void)fchmod(fd, FILE_MODE); /* against another umask; a file system without modes has its own */
	(void)close(fd);             /* nothing was written through it */
	return 0;
}

/* ---- what is in it ---- */

static int ask_whole(sqlite3 *db, const char *sql, int64_t *ret)
{
	sqlite3_stmt *row = database_ask(db, sql, NULL, 0);
	int r = row ? sqlite3_step(row) : SQLITE_ERROR;

	if (r == SQLITE_ROW)
		*ret = sqlite3_column_int64(row, 0);
	(void)sqlite3_finalize(row); /* repeats the error of the step */
	return r == SQLITE_ROW ? 0 : -1;
}

/* The ledger's tables are those that refuse DELETE; what else there is may shrink. */
static int list_tables(sqlite3 *db, struct backup *backup)
{
	sqlite3_stmt *row =
		database_ask(db,
			     "SELECT t.name AS name FROM sqlite_schema AS t WHERE t.type = 'table' AND EXISTS "
			     "(SELECT 1 FROM sqlite_schema AS g WHERE g.type = 'trigger' AND g.tbl_name = t.name "
			     "AND g.name = t.name || '_delete') ORDER BY t.name",
			     NULL, 0);
	int r = SQLITE_ERROR;

	backup->n_tables = 0;
	while (row && (r = sqlite3_step(row)) == SQLITE_ROW && backup->n_tables < BACKUP_TABLES)
		(void)snprintf(backup->tables[backup->n_tables++].name, BACKUP_NAME_SIZE, "%s",
			       database_text(row, "name"));
	(void)sqlite3_finalize(row); /* repeats the error of the step */
	return r == SQLITE_DONE ? 0 : -1;
}

static int count_rows(sqlite3 *db, struct backup *backup)
{
	char sql[BACKUP_NAME_SIZE * 2 + 64], quoted[BACKUP_NAME_SIZE * 2];
	int64_t schema = 0;
	int r = list_tables(db, backup);

	for (size_t i = 0; r == 0 && i < backup->n_tables; i++) {
		(void)sqlite3_snprintf((int)sizeof quoted, quoted, "%w", backup->tables[i].name);
		(void)snprintf(sql, sizeof sql, "SELECT count(*) FROM \"%s\"", quoted);
		r = ask_whole(db, sql, &backup->tables[i].rows);
	}
	if (r == 0)
		r = ask_whole(db, "PRAGMA user_version", &schema);
	if (r == 0)
		r = ask_whole(db, "SELECT count(*) FROM reading", &backup->readings);
	if (r == 0)
		r = ask_whole(db, "SELECT coalesce(max(at_ms), 0) FROM reading", &backup->newest_at_ms);
	backup->schema = (int)schema;
	return r;
}

static int wrong_sql(struct place *place, sqlite3 *db)
{
	int r = sqlite3_errcode(db);

	if (stopped)
		return wrong(place, "The backup was broken off; nothing is left of it.");
	switch (r & 0xff) {
	case SQLITE_FULL:
		return wrong_errno(place, "Writing", ENOSPC);
	case SQLITE_CORRUPT:
	case SQLITE_NOTADB:
		return wrong(place, "The database is damaged (%s): keep a copy of it, and put an older backup back.",
			     sqlite3_errmsg(db));
	case SQLITE_IOERR:
		return wrong(place, "Writing to %s failed (%s): is there room, is the disk sound?", place->dir,
			     sqlite3_errmsg(db));
	default:
		return wrong(place, "The backup failed: %s.", sqlite3_errmsg(db));
	}
}

static int copy(struct place *place, sqlite3 *db, const char *path)
{
	sqlite3_stmt *statement;
	int r;

	(void)sqlite3_progress_handler(db, OPCODES, is_stopped, NULL);
	statement = database_ask(db, "VACUUM INTO ?1", &path, 1);
	r = statement ? sqlite3_step(statement) : SQLITE_ERROR;
	(void)sqlite3_finalize(statement); /* repeats the error of the step */
	if (r != SQLITE_DONE)
		(void)wrong_sql(place, db);
	sqlite3_progress_handler(db, 0, NULL, NULL);
	return r == SQLITE_DONE ? 0 : -1;
}

/* ---- whether it is whole ---- */

static int check_sound(struct place *place, sqlite3 *db)
{
	sqlite3_stmt *row = database_ask(db, "PRAGMA integrity_check(1)", NULL, 0);
	bool sound = row && sqlite3_step(row) == SQLITE_ROW && strcmp(database_text(row, "integrity_check"), "ok") == 0;

	if (!sound && row && !stopped)
		(void)wrong(place, "The copy isn't sound (%s): the disk, or the database itself, is failing.",
			    database_text(row, "integrity_check"));
	else if (!sound)
		(void)wrong_sql(place, db);
	(void)sqlite3_finalize(row); /* repeats the error of the step */
	return sound ? 0 : -1;
}

/* Rows are only ever added, so whatever was there before the copy began is in it. */
static int check_rows(struct place *place, const struct backup *before, const struct backup *after)
{
	if (after->schema != before->schema || after->n_tables < before->n_tables)
		return wrong(place,
			     "The copy has another schema than the database: was bismar updated just now? Try again.");
	for (size_t i = 0; i < before->n_tables; i++) {
		const struct backup_table *table = NULL;
		for (size_t j = 0; j < after->n_tables && !table; j++)
			if (strcmp(after->tables[j].name, before->tables[i].name) == 0)
				table = &after->tables[j];
		if (!table || table->rows < before->tables[i].rows)
			return wrong(
				place,
				"Rows of %s are missing in the copy: the disk, or the database itself, is failing.",
				before->tables[i].name);
	}
	return 0;
}

static int check(struct place *place, const char *path, const struct backup *before, struct backup *after)
{
	char why[512];
	sqlite3 *db;
	int r;

	if (database_open(path, &db, why, sizeof why) < 0) /* application_id and user_version too */
		return wrong(place, "The copy can't be read back: %s", why);
	(void)sqlite3_progress_handler(db, OPCODES, is_stopped, NULL);
	r = check_sound(place, db);
	if (r == 0 && count_rows(db, after) < 0)
		r = wrong_sql(place, db);
	if (r == 0)
		r = check_rows(place, before, after);
	database_close(db);
	return r;
}

/* ---- its name ---- */

static int sync_file(struct place *place, struct backup *ret)
{
	int fd = openat(place->dir_fd, place->temporary, O_RDWR | O_CLOEXEC | O_NOFOLLOW), error = 0;
	struct stat status;

	if (fd < 0)
		return wrong_errno(place, "Writing", errno);
	if (fsync(fd) < 0 || fstat(fd, &status) < 0)
		error = errno;
	(void)close(fd); /* what counts was synced */
	if (error)
		return wrong_errno(place, "Writing", error);
	ret->octets = status.st_size;
	return 0;
}

static int give_name(struct place *place)
{
	unsigned flags = place->force ? 0 : RENAME_NOREPLACE;
	int r = renameat2(place->dir_fd, place->temporary, place->dir_fd, place->name, flags);

	if (r < 0 && flags && errno == EINVAL) { /* a file system that can't promise it; we have looked before */
		r = faccessat(place->dir_fd, place->name, F_OK, AT_SYMLINK_NOFOLLOW) == 0 ? -1 : 0;
		errno = EEXIST;
		if (r == 0)
			r = renameat(place->dir_fd, place->temporary, place->dir_fd, place->name);
	}
	if (r < 0 && errno == EEXIST)
		return wrong(place, "%s/%s exists already: name another file, or say --force to replace it.",
			     place->dir, place->name);
	if (r < 0)
		return wrong_errno(place, "Naming the backup", errno);
	place->made = false;
	/* the name itself is on the disk when its folder is; not every file system can do that */
	if (fsync(place->dir_fd) < 0 && errno != EINVAL)
		return wrong_errno(place, "The backup is written, but its name isn't certain to survive a power cut",
				   errno);
	return 0;
}

static int write_in(struct place *place, sqlite3 *db, struct backup *ret)
{
	struct backup before = { 0 }, after = { 0 };
	char path[BACKUP_PATH_SIZE + NAME_MAX + 2];

	if (count_rows(db, &before) < 0)
		return wrong_sql(place, db);
	if (make_temporary(place) < 0)
		return -1;
	(void)snprintf(path, sizeof path, "%s/%s", place->dir, place->temporary);
	if (copy(place, db, path) < 0 || check(place, path, &before, &after) < 0 || sync_file(place, &after) < 0)
		return -1;
	if ((size_t)snprintf(after.path, sizeof after.path, "%s/%s", place->dir, place->name) >= sizeof after.path)
		return wrong(place, "That name is too long.");
	if (give_name(place) < 0)
		return -1;
	*ret = after;
	return 0;
}

/* Our own files; if even that fails, their name tells what they are. */
static void take_away(const struct place *place)
{
	static const char *const beside[] = { "", "-journal", "-wal", "-shm" };
	char name[sizeof place->temporary + 16];

	for (size_t i = 0; i < sizeof beside / sizeof *beside; i++) {
		(void)snprintf(name, sizeof name, "%s%s", place->temporary, beside[i]);
		(void)unlinkat(place->dir_fd, name, 0);
	}
}

int backup_write(sqlite3 *db, const char *database_path, const char *file, bool force, int64_t now_ms,
		 struct backup *ret, char text[BACKUP_TEXT_SIZE])
{
	struct place place = { .dir_fd = -1, .force = force, .text = text };
	int r = find_place(&place, database_path, file, now_ms);

	if (r == 0)
		r = write_in(&place, db, ret);
	if (place.made)
		take_away(&place);
	if (place.dir_fd >= 0)
		(void)close(place.dir_fd);
	return r;
}

/* ---- the command ---- */

static void on_signal(int number)
{
	(void)number;
	backup_stop();
}

static void print_json(const struct backup *backup)
{
	json_t *rows = json_object();

	for (size_t i = 0; i < backup->n_tables; i++)
		(void)json_object_set_new(rows, backup->tables[i].name, json_integer(backup->tables[i].rows));
	json_t *object =
		json_pack("{s:s, s:I, s:i, s:I, s:o, s:o}", "file", backup->path, "octets", (json_int_t)backup->octets,
			  "schema", backup->schema, "readings", (json_int_t)backup->readings, "newest_at_ms",
			  backup->newest_at_ms ? json_integer(backup->newest_at_ms) : json_null(), "rows", rows);
	field_print(object);
	json_decref(object);
}

static void print_text(const struct ctl *ctl, const struct backup *backup)
{
	char when[WHEN_SIZE] = "";

	if (backup->newest_at_ms)
		when_show_near(when, backup->newest_at_ms, ctl->now_ms);
	(void)printf("%s: %lld reading%s%s%s, %.1f MB. It was read back and is whole.\n", backup->path,
		     (long long)backup->readings, backup->readings == 1 ? "" : "s", *when ? ", newest " : "", when,
		     (double)backup->octets / 1e6);
}

enum ctl_status backup_run(struct ctl *ctl, int argc, char **argv)
{
	const struct sigaction action = { .sa_handler = on_signal };
	char text[BACKUP_TEXT_SIZE] = "The backup failed.";
	bool force = false;
	const struct args_option options[] = { { .name = "--force", .flag = &force } };
	struct backup *backup;
	enum ctl_status status;
	struct args args;
	sqlite3 *db;

	if (!args_parse(ctl, argc, argv, options, 1, 1, 1, &args))
		return CTL_USAGE;
	if (strcmp(args.words[0], "-") == 0)
		return args_wrong(ctl, "A backup is a file or goes into a folder; \"-\" is neither.");
	status = database_for(ctl, &db);
	if (status != CTL_DONE)
		return status;
	for (size_t i = 0; i < 3; i++) /* what is half written is taken away before we go */
		(void)sigaction((const int[]){ SIGINT, SIGTERM, SIGHUP }[i], &action, NULL);
	backup = calloc(1, sizeof *backup);
	if (backup && backup_write(db, ctl->database_path, args.words[0], force, ctl->now_ms, backup, text) == 0) {
		if (ctl->json)
			print_json(backup);
		else
			print_text(ctl, backup);
		status = ctl_flush();
	} else {
		ctl_error("%s", text);
		status = CTL_REFUSED;
	}
	free(backup);
	database_close(db);
	return status;
}
