// SPDX-License-Identifier: MIT
/* report: the record of a litter, for the vet, the buyer and the shelf. By the views alone: it needs no daemon. */
#include "daemon/ctl/args.h"
#include "daemon/ctl/commands.h"
#include "daemon/ctl/outfile.h"
#include "daemon/ctl/report_page.h"

static enum ctl_status write_report(const struct report *report, const char *path)
{
	struct outfile out;
	enum ctl_status status = outfile_begin(&out, path);

	if (status != CTL_DONE)
		return status;
	report_page(out.to, report);
	status = outfile_end(&out);
	if (status != CTL_DONE || !*out.path)
		return status;
	(void)printf("%s: open it in a browser to read or print it.\n", path);
	return ctl_flush();
}

enum ctl_status report_run(struct ctl *ctl, int argc, char **argv)
{
	const char *path = NULL, *since = NULL;
	const struct args_option options[] = { { .name = "-o", .value = &path }, { .name = "--since", .value = &since } };
	struct report_model model = { 0 };
	struct report_rows rows;
	struct report report;
	int64_t since_ms = INT64_MIN;
	enum ctl_status status;
	struct args args;

	if (!args_parse(ctl, argc, argv, options, 2, 1, 1, &args) || !args_time(ctl, since, &since_ms))
		return CTL_USAGE;
	status = report_rows_read(ctl, args.words[0], &rows);
	if (status != CTL_DONE)
		return status;
	status = report_model_make(&rows, &model);
	if (status == CTL_DONE) {
		report_init(&report, ctl, &rows, &model, since_ms);
		status = write_report(&report, path);
	}
	report_model_free(&model);
	report_rows_free(&rows);
	return status;
}
