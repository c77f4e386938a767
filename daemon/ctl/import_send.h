// SPDX-License-Identifier: MIT
#pragma once
/*
 * The weighings of a table to the daemon, which is the only one that writes: it says what is wrong with them and what
 * would come of them, and adds all of them or none.
 * Above: import.c. Below: import_table, request.
 */
#include "daemon/ctl/ctl.h"
#include "daemon/ctl/import_table.h"

struct socket;

struct import_sent {
	bool checked; /* the daemon has said what follows */
	bool committed;
	int64_t new_, on_record, repeated; /* would be added, or were when committed; are not */
};

/* Hands in all of the table, whose issues grow by what the daemon says of it. CTL_DONE, or a status that was told. */
enum ctl_status import_send(const struct ctl *ctl, struct socket *socket, struct import_table *table,
			    struct import_sent *ret);
/* Adds what was handed in. CTL_DONE and *ret says how many, or a status that was told. */
enum ctl_status import_commit(const struct ctl *ctl, struct socket *socket, struct import_sent *ret);
