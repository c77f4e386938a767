// SPDX-License-Identifier: MIT
#pragma once
/*
 * What was added to schema 1 since, in order; a released one is never edited. Additions take nothing away from a
 * reader, so the schema's number stays (protocols/database.md), and an older bismard can go on with such a database.
 * The table `addition` has a row for each that is in it.
 */
#include "schema_row.h"

static const char addition_1[] =
	"CREATE TABLE addition (\n" ROW
	"  what TEXT NOT NULL\n"
	") STRICT;\n" APPEND_ONLY("addition")

	/* The index and consent code for a scale with several users (User Data Service). user NULL: none any more */
	"CREATE TABLE scale_consent (\n" ROW
	"  scale TEXT NOT NULL REFERENCES scale (id),\n"
	"  user INTEGER CHECK (user BETWEEN 0 AND 254),\n"
	"  code INTEGER CHECK (code BETWEEN 0 AND 9999),\n"
	"  CHECK ((user IS NULL) = (code IS NULL))\n"
	") STRICT;\n"
	"CREATE INDEX scale_consent_scale ON scale_consent (scale);\n" APPEND_ONLY("scale_consent")

	/* A scale's clock, as it was read on a link: its time less ours; was_set: it has been set to ours right after */
	"CREATE TABLE scale_clock (\n" ROW
	"  scale TEXT NOT NULL REFERENCES scale (id),\n"
	"  ahead_ms INTEGER NOT NULL,\n"
	"  was_set INTEGER NOT NULL CHECK (was_set IN (0, 1))\n"
	") STRICT;\n" APPEND_ONLY("scale_clock")

	/* store_last_bthome(): the counter of an encrypted broadcast must rise */
	"CREATE INDEX frame_bthome ON frame (scale) WHERE uuid = '" STORE_BTHOME_UUID "' AND fate <> 'refused';\n";

static const struct addition {
	const char *what, *sql;
} additions[] = {
	{ "consent codes and clocks of scales", addition_1 },
};
