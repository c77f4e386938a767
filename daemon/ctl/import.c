// SPDX-License-Identifier: MIT
/* import: a paper log that was typed into a spreadsheet. */
#include "daemon/ctl/args.h"
#include "daemon/ctl/commands.h"
#include "daemon/ctl/import_tell.h"
#include "daemon/ctl/request.h"
#include <errno.h>
#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

/* Reads up to the end, one octet more than it may have at most. The octets, with a NUL behind them; NULL: errno tells.
 */
static char *read_all(int fd, size_t *ret_n)
{
	char *octets = malloc(IMPORT_FILE_BYTES + 2);
	size_t n = 0;
	ssize_t got = 1;

	while (octets && n <= IMPORT_FILE_BYTES && got != 0) {
		got = read(fd, octets + n, IMPORT_FILE_BYTES + 1 - n);
		if (got > 0) {
			n += (size_t)got;
		} else if (got < 0 && errno != EINTR) {
			int error = errno;
			free(octets);
			errno = error;
			return NULL;
		}
	}
	if (octets)
		octets[n] = '\0';
	*ret_n = n;
	return octets;
}

/* "-": standard input. */
static enum ctl_status read_file(const char *path, char **ret, size_t *ret_n)
{
	bool is_input = strcmp(path, "-") == 0;
	int fd = is_input ? STDIN_FILENO : open(path, O_RDONLY | O_CLOEXEC);
	char *octets = fd < 0 ? NULL : read_all(fd, ret_n);

	if (!octets)
		ctl_error("%s can't be read: %s.", path, strerror(errno));
	if (fd >= 0 && !is_input)
		(void)close(fd); /* was only read */
	if (!octets)
		return CTL_REFUSED;
	if (*ret_n > IMPORT_FILE_BYTES) {
		ctl_error("%s is larger than %d MiB: split it.", path, IMPORT_FILE_BYTES / 1024 / 1024);
		free(octets);
		return CTL_REFUSED;
	}
	*ret = octets;
	return CTL_DONE;
}

struct wish {
	const char *file;
	bool really, doubtful;
	struct import_options options;
};

/* Nothing is added when something is wrong, and what is doubtful only when that was said. */
static bool may_commit(const struct import_table *table, const struct wish *wish)
{
	return wish->really && table->n_mistakes == 0 && (table->n_doubts == 0 || wish->doubtful);
}

static enum ctl_status conclude(const struct import_table *table, const struct wish *wish,
				const struct import_sent *sent)
{
	if (table->n_mistakes) {
		ctl_error("%u mistake%s: nothing was added. Mend the file and try again.", table->n_mistakes,
			  table->n_mistakes == 1 ? "" : "s");
		return CTL_REFUSED;
	}
	if (table->n_doubts && !wish->doubtful) {
		ctl_error("%u doubtful: nothing was added. Look at the paper; --doubtful takes what stands there.",
			  table->n_doubts);
		return CTL_REFUSED;
	}
	if (!sent->committed && sent->new_)
		ctl_error("Nothing was added yet: say --really to do it.");
	return ctl_flush();
}

static enum ctl_status with_daemon(const struct ctl *ctl, struct import_table *table, const struct wish *wish)
{
	struct import_sent sent = { 0 };
	struct socket *socket = NULL;
	enum ctl_status status = CTL_DONE;

	if (table->n) {
		status = request_open(ctl, &socket);
		if (status == CTL_DONE)
			status = import_send(ctl, socket, table, &sent);
		if (status == CTL_DONE && may_commit(table, wish))
			status = import_commit(ctl, socket, &sent);
		socket_free(socket); /* what wasn't committed goes with it */
	}
	import_tell(ctl, wish->file, table, &sent);
	if (status == CTL_DONE)
		return conclude(table, wish, &sent);
	(void)ctl_flush(); /* the status says more */
	return status;
}

static enum ctl_status run(const struct ctl *ctl, const struct wish *wish)
{
	struct import_table *table = calloc(1, sizeof *table);
	char *octets = NULL;
	size_t n = 0;
	enum ctl_status status = table ? read_file(wish->file, &octets, &n) : CTL_REFUSED;

	if (status == CTL_DONE && !import_table_read(octets, n, &wish->options, table)) {
		ctl_error("There is no memory left.");
		status = CTL_REFUSED;
	}
	free(octets);
	if (status == CTL_DONE)
		status = with_daemon(ctl, table, wish);
	if (table)
		import_table_done(table);
	free(table);
	return status;
}

static bool read_order(const struct ctl *ctl, const char *word, enum import_first *ret)
{
	if (!word)
		return true;
	if (strcmp(word, "day-first") == 0)
		*ret = IMPORT_FIRST_DAY;
	else if (strcmp(word, "month-first") == 0)
		*ret = IMPORT_FIRST_MONTH;
	else
		return args_wrong(ctl, "--dates is day-first or month-first, not \"%s\".", word) == CTL_DONE;
	return true;
}

static bool read_time(const struct ctl *ctl, const char *text, struct import_when *ret)
{
	struct import_when when = { 0 };

	if (text &&
	    (import_when_read(text, IMPORT_FIRST_UNTOLD, &when) != IMPORT_WHEN_READ || !when.has_time || when.has_date))
		return args_wrong(ctl, "--time is a time of day such as 08:00, not \"%s\".", text) == CTL_DONE;
	*ret = when;
	return true;
}

enum ctl_status import_run(struct ctl *ctl, int argc, char **argv)
{
	struct wish wish = { 0 };
	const char *units = NULL, *dates = NULL, *time = NULL;
	const struct args_option options[] = {
		{ .name = "--really", .flag = &wish.really },
		{ .name = "--doubtful", .flag = &wish.doubtful },
		{ .name = "--litter", .value = &wish.options.litter },
		{ .name = "--units", .value = &units },
		{ .name = "--dates", .value = &dates },
		{ .name = "--time", .value = &time },
	};
	struct args args;

	if (!args_parse(ctl, argc, argv, options, sizeof options / sizeof *options, 2, 2, &args))
		return CTL_USAGE;
	if (strcmp(args.words[0], "csv") != 0)
		return args_wrong(ctl, "The form is csv, not \"%s\".", args.words[0]);
	if (!read_order(ctl, dates, &wish.options.first) || !read_time(ctl, time, &wish.options.time))
		return CTL_USAGE;
	if (units && !(wish.options.unit = import_layout_unit(units)))
		return args_wrong(ctl, "--units is g, kg, oz or lb, not \"%s\".", units);
	wish.file = args.words[1];
	return run(ctl, &wish);
}
