// SPDX-License-Identifier: MIT
#pragma once
/*
 * What the page shows of the record: the published views (protocols/database.md) as JSON, see HTTP.md. The database is
 * opened read-only for each, so that a record that was put back is the one that is read.
 * Above: server.c. Below: ctl/database, litter/curve.
 */
#include "contrib/page/answer.h"

struct answer views_animals(const char *database);
/* animal: an id; NULL or one that isn't there is refused. */
struct answer views_curve(const char *database, const char *animal);
struct answer views_signs(const char *database, const char *animal);
