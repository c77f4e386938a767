// SPDX-License-Identifier: MIT
#pragma once
/*
 * A copy of the ledger in one file, made while the daemon writes or while it doesn't run, by whoever may read.
 * Above: the command `backup`. Below: sqlite3 (VACUUM INTO, in one read transaction), the file system.
 *
 * It is written beside its final name, checked, synced, and only then given that name: a file of that name is whole, or
 * isn't there. It has no -wal and needs none.
 */
#include "daemon/ctl/ctl.h"
#include <sqlite3.h>

#define BACKUP_PATH_SIZE 4096
#define BACKUP_TABLES 64
#define BACKUP_NAME_SIZE 64
#define BACKUP_TEXT_SIZE 1024

struct backup_table {
	char name[BACKUP_NAME_SIZE];
	int64_t rows;
};

struct backup {
	char path[BACKUP_PATH_SIZE];
	int64_t octets;
	int schema;
	size_t n_tables;
	struct backup_table tables[BACKUP_TABLES]; /* of the ledger, as they are in the copy */
	int64_t readings, newest_at_ms;            /* of the view `reading`; newest 0: none */
};

/*
 * Writes the database at database_path, open as db, to file; a directory gets a name by the time now_ms. force: another
 * file of that name may be replaced, though never the database itself or what belongs to it. 0 and *ret; or -1 and what
 * is wrong and what to do in text, and nothing is left behind.
 */
int backup_write(sqlite3 *db, const char *database_path, const char *file, bool force, int64_t now_ms,
		 struct backup *ret, char text[BACKUP_TEXT_SIZE]);
/* From a signal handler: the backup under way is given up. */
void backup_stop(void);
