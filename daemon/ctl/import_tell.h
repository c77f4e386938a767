// SPDX-License-Identifier: MIT
#pragma once
/*
 * What is told of an import: what is in the file, what is wrong with it, what was or would be added.
 * Above: import.c. Below: import_table, import_send, prose.
 */
#include "daemon/ctl/import_send.h"

/* On standard output, for people or as one JSON object. */
void import_tell(const struct ctl *ctl, const char *file, const struct import_table *table,
		 const struct import_sent *sent);
