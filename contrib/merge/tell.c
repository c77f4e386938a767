// SPDX-License-Identifier: MIT
#include "contrib/merge/tell.h"
#include <sqlite3.h>
#include <stdarg.h>
#include <stdio.h>

void tell(const char *format, ...)
{
	va_list list;

	(void)fputs("bismar-merge: ", stderr);
	va_start(list, format);
	(void)vfprintf(stderr, format, list);
	va_end(list);
	(void)fputs("\n", stderr);
}

void tell_sqlite(const char *path, int r, const char *text)
{
	switch (r & 0xff) {
	case SQLITE_NOTADB:
		tell("%s is no database of bismard's.", path);
		break;
	case SQLITE_BUSY:
	case SQLITE_LOCKED:
		tell("Another program has locked %s: try again.", path);
		break;
	case SQLITE_CORRUPT:
		tell("%s is damaged: keep a copy of it, and take a backup instead.", path);
		break;
	case SQLITE_FULL:
		tell("The disk is full: nothing of %s was taken. Make room, and run it again.", path);
		break;
	case SQLITE_CANTOPEN:
	case SQLITE_READONLY:
		/* WAL: somebody has to be able to make or read the files beside it */
		tell("%s, or the files beside it (-wal, -shm), can't be used (%s): start bismard, or ask as the user "
		     "who owns "
		     "them, or take a copy (`bismar backup`).",
		     path, text);
		break;
	default:
		tell("%s: %s.", path, text);
		break;
	}
}
