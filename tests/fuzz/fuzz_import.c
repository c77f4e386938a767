// SPDX-License-Identifier: MIT
/* Spreadsheets of anyone: what comes out is a weighing that the daemon can take, or a mistake that people can read. */
#include "daemon/ctl/import_table.h"
#include "daemon/ctl/text.h"
#include "daemon/weigh/quantity.h"
#include "fuzz.h"
#include "protocols/mass.h"

static void check_entry(const struct import_table *table, const struct import_entry *entry)
{
	char at[QUANTITY_RFC3339_SIZE];
	int64_t mg = 0;

	FUZZ_HOLDS(table->has_layout && entry->column < table->layout.n && entry->row > 1);
	FUZZ_HOLDS(quantity_mass(entry->mass, &mg, NULL) == QUANTITY_OK && mg > 0 && mg <= MASS_MAX_MG);
	FUZZ_HOLDS(*entry->animal && text_valid(entry->animal));
	FUZZ_HOLDS(entry->fed == 0 || entry->fed == 'b' || entry->fed == 'a');
	FUZZ_HOLDS(entry->offset_min > -24 * 60 && entry->offset_min < 24 * 60);
	quantity_rfc3339_utc(at, entry->at_ms);
	FUZZ_HOLDS(strncmp(at, "1999-12-31", 10) >= 0 && strncmp(at, "2200-01-02", 10) < 0);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	static struct import_table table;
	static bool begun;
	struct import_options options = { 0 };
	char *text = fuzz_text(data, size);

	if (!begun)
		(void)setenv("TZ", "Europe/Berlin", 1);
	begun = true;
	if (size && data[size - 1] & 1) { /* one bit of it chooses the options */
		options.unit = "g";
		options.first = IMPORT_FIRST_DAY;
		options.time = (struct import_when){ .has_time = true, .hour = 8 };
	}
	FUZZ_HOLDS(import_table_read(text, size, &options, &table));
	FUZZ_HOLDS(table.n || table.n_mistakes);
	FUZZ_HOLDS(table.n <= IMPORT_ROWS && table.n_issues <= IMPORT_ISSUES && table.n_issues <= table.n_mistakes);
	for (size_t i = 0; i < table.n; i++)
		check_entry(&table, &table.entries[i]);
	for (size_t i = 0; i < table.n_issues; i++)
		FUZZ_HOLDS(*table.issues[i].text && text_valid(table.issues[i].text));
	import_table_done(&table);
	free(text);
	return 0;
}
