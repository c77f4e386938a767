// SPDX-License-Identifier: MIT
/* export: readings for other programs, in one of three forms. */
#include "daemon/ctl/export.h"
#include "daemon/ctl/args.h"
#include "daemon/ctl/commands.h"
#include "daemon/ctl/outfile.h"

/* Ours, where none is given: no domain that anybody has (.local is of a machine's own network, RFC 6762). */
#define SOURCE "local.bismar"

static const struct form {
	const char *word;
	int (*write)(FILE *to, sqlite3 *db, const struct export_ask *ask);
} forms[] = { { "csv", export_csv }, { "jsonl", export_jsonl }, { "icar", export_icar } };

/* Whether there is such a litter; a misspelt one must not look like an empty one. */
static enum ctl_status check_litter(const struct ctl *ctl, sqlite3 *db, const char *litter)
{
	sqlite3_stmt *row = database_ask(
		db, "SELECT 1 FROM litter_now WHERE litter = ?1 COLLATE NOCASE OR litter_id = ?1", &litter, 1);
	int r = row ? sqlite3_step(row) : SQLITE_ERROR;
	enum ctl_status status = CTL_DONE;

	if (r == SQLITE_DONE) {
		ctl_error("No litter is called \"%s\"; `bismar litter list` shows them.", litter);
		status = CTL_REFUSED;
	} else if (r != SQLITE_ROW) {
		status = database_trouble(ctl, db);
	}
	(void)sqlite3_finalize(row); /* repeats the error of the step */
	return status;
}

static enum ctl_status write_file(const struct ctl *ctl, sqlite3 *db, const struct form *form,
				  const struct export_ask *ask, const char *path)
{
	struct outfile out;
	enum ctl_status status = outfile_begin(&out, path);

	if (status != CTL_DONE)
		return status;
	if (form->write(out.to, db, ask) == 0)
		return outfile_end(&out);
	status = database_trouble(ctl, db);
	outfile_drop(&out);
	return status;
}

static const struct form *form_of(const char *word)
{
	for (size_t i = 0; i < sizeof forms / sizeof *forms; i++)
		if (strcmp(forms[i].word, word) == 0)
			return &forms[i];
	return NULL;
}

enum ctl_status export_run(struct ctl *ctl, int argc, char **argv)
{
	const char *litter = NULL, *since = NULL, *path = NULL, *source = NULL;
	const struct args_option options[] = {
		{ .name = "--litter", .value = &litter },
		{ .name = "--since", .value = &since },
		{ .name = "--source", .value = &source },
		{ .name = "-o", .value = &path },
	};
	const struct form *form;
	enum ctl_status status;
	struct args args;
	char since_text[24];
	int64_t since_ms = 0;
	sqlite3 *db;

	if (!args_parse(ctl, argc, argv, options, 4, 1, 1, &args))
		return CTL_USAGE;
	form = form_of(args.words[0]);
	if (!form)
		return args_wrong(ctl, "The form is csv, jsonl or icar, not \"%s\".", args.words[0]);
	if (!args_time(ctl, since, &since_ms))
		return CTL_USAGE;
	if (source && !export_is_source(source))
		return args_wrong(
			ctl, "--source is a domain name of yours in reverse, such as org.example.litters, not \"%s\".",
			source);
	(void)snprintf(since_text, sizeof since_text, "%lld", (long long)since_ms);
	const struct export_ask ask = {
		.litter = litter, .since = since_text, .source = source ? source : SOURCE, .lines = ctl->json
	};
	status = database_for(ctl, &db);
	if (status != CTL_DONE)
		return status;
	if (litter)
		status = check_litter(ctl, db, litter);
	if (status == CTL_DONE)
		status = write_file(ctl, db, form, &ask, path);
	database_close(db);
	return status;
}
