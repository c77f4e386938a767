// SPDX-License-Identifier: MIT
#include "stmt.h"
#include <errno.h>

int store_outcome_of_errno(int error)
{
	switch (error) {
	case ENOSPC:
	case EDQUOT:
		return STORE_FULL;
	case EROFS:
	case EACCES:
	case EPERM:
		return STORE_READ_ONLY;
	case ENOMEM:
	case EMFILE:
	case ENFILE:
		return -error;
	default: /* any other errno */
		return STORE_IO;
	}
}

const char *store_outcome_text(enum store_outcome outcome)
{
	switch (outcome) {
	case STORE_OK:
		return "done";
	case STORE_FULL:
		return "The disk that holds " STORE_FILE " is full. Make room; nothing needs to be restarted.";
	case STORE_READ_ONLY:
		return STORE_FILE " or its folder can't be written. Check whether the disk is mounted read-only, "
				  "and that the folder and the files in it belong to the user that bismard runs as.";
	case STORE_BUSY:
		return "Another program holds a lock on " STORE_FILE ". Close programs that opened it for writing: "
		       "only bismard writes it, others open it read-only.";
	case STORE_IO:
		return "The disk failed while " STORE_FILE " was read or written. Look at the kernel's log "
		       "(journalctl -k), copy the folder to another disk, and check this one.";
	case STORE_DAMAGED:
		return STORE_FILE " is damaged, or no SQLite database. Stop bismard, keep a copy of the whole folder, "
				  "then put a backup in its place (without an old " STORE_FILE
				  "-wal and -shm), or rescue what is "
				  "there with sqlite3's .recover.";
	case STORE_NEWER:
		return STORE_FILE " was written by a newer bismar. Install that version, or a newer one, again.";
	case STORE_FOREIGN:
		return STORE_FILE " belongs to another program. Move it away, or give bismard another folder "
				  "with --state.";
	case STORE_MISSING:
		return "A database was begun in this folder, and " STORE_FILE " is gone or empty. Put it back from a "
		       "backup (and move an old " STORE_FILE "-wal and -shm away); or, to begin anew, move every file "
		       "whose name begins with bismar out of the folder.";
	case STORE_LOCKED:
		return "Another bismard already runs on this " STORE_FILE ". Stop it first, or give this one another "
		       "folder with --state.";
	case STORE_MERGED:
		return STORE_FILE " was made by bismar-merge of several ledgers, and is no ledger itself. Move it away and "
				  "put a backup in its place, or give bismard another folder with --state.";
	}
	return "unknown outcome";
}

const char *store_detail(const struct store *store)
{
	return store->detail;
}
