// SPDX-License-Identifier: MIT
#pragma once
/*
 * The ledger as readers have it: opened read-only, by its views alone (schema 1, protocols/database.md).
 * Above: list, export, watch. Below: sqlite3.
 */
#include "daemon/ctl/ctl.h"
#include <jansson.h>
#include <sqlite3.h>
#include <stddef.h>

/* Opens it. 0 and *ret; or -1 and what is wrong and what to do in buffer. */
int database_open(const char *path, sqlite3 **ret, char *buffer, size_t size);
/* The same for a command: CTL_DONE, or CTL_ABSENT with a message to standard error. */
enum ctl_status database_for(const struct ctl *ctl, sqlite3 **ret);
void database_close(sqlite3 *db); /* takes NULL */

/* Prepares, with texts[i] bound to ?i+1 (NULL binds NULL). NULL when the database refuses. */
sqlite3_stmt *database_ask(sqlite3 *db, const char *sql, const char *const *texts, size_t n);
/* Tells what sqlite3 says; CTL_ABSENT. */
enum ctl_status database_trouble(const struct ctl *ctl, sqlite3 *db);

/* The column's index by its name, or -1. */
int database_column(sqlite3_stmt *row, const char *name);
/* The text of a column by its name; "" for NULL or when there is no such column. Valid until the next step. */
const char *database_text(sqlite3_stmt *row, const char *name);
/* Whether the column is there and not NULL; its value. */
bool database_whole(sqlite3_stmt *row, const char *name, int64_t *ret);
bool database_mg(sqlite3_stmt *row, const char *name, int64_t *ret_mg); /* a column in grams */
/* The row as an object whose keys are the columns' names. NULL without memory. */
json_t *database_json(sqlite3_stmt *row);
