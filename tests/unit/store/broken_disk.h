// SPDX-License-Identifier: MIT
#pragma once
/*
 * A disk that fails on command: an SQLite VFS around the real one, made the default. Everything that changes the
 * disk is counted (write, sync, truncate, delete, growing the shared memory); the nth fails.
 */
#include <stdbool.h>

enum broken_how {
	BROKEN_FULL, /* SQLITE_FULL for writes, SQLITE_IOERR_FSYNC for syncs, ... */
	BROKEN_IO,   /* SQLITE_IOERR_... for all; half of what was to be written is */
};

struct broken_disk {
	unsigned calls;     /* changes asked for so far */
	unsigned fail_at;   /* the nth of them fails; 0: none does */
	bool stays;         /* and so does each one after it, until fail_at is 0 */
	enum broken_how how;
	unsigned failed;    /* how many did */
	bool fast;          /* a sync that doesn't fail only counts */
	bool wal_unsynced;  /* the log was written since its last sync */
};

extern struct broken_disk broken_disk;

void broken_disk_install(void);
