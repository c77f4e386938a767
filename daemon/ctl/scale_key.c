// SPDX-License-Identifier: MIT
#include "daemon/ctl/scale_key.h"
#include "daemon/ctl/args.h"
#include "daemon/ctl/commands.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/request.h"
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <termios.h>
#include <unistd.h>

/* ---- a terminal that shows nothing ---- */

static const int ends[] = { SIGINT, SIGTERM, SIGHUP, SIGQUIT };
#define ENDS (sizeof ends / sizeof *ends)

static volatile sig_atomic_t ended_by;

static void on_end(int signal)
{
	ended_by = signal;
}

/* A line, though a signal would end us: then the terminal is given back first. */
static ssize_t read_quietly(int fd, char *to, size_t size)
{
	struct sigaction mine = { .sa_handler = on_end }, before[ENDS]; /* without SA_RESTART: read returns */
	struct termios shown, hidden;
	ssize_t n;
	int error;

	if (tcgetattr(fd, &shown) < 0)
		return -1;
	for (size_t i = 0; i < ENDS; i++)
		(void)sigaction(ends[i], &mine, &before[i]); /* can't fail with valid signals, nor below */
	hidden = shown;
	hidden.c_lflag &= ~(tcflag_t)ECHO;
	n = tcsetattr(fd, TCSAFLUSH, &hidden) < 0 ? -1 : read(fd, to, size);
	error = errno;
	(void)tcsetattr(fd, TCSAFLUSH, &shown); /* a terminal that is gone needs nothing any more */
	for (size_t i = 0; i < ENDS; i++)
		(void)sigaction(ends[i], &before[i], NULL);
	(void)fputc('\n', stderr); /* Enter wasn't shown */
	if (ended_by)
		(void)raise(ended_by);
	errno = error;
	return n;
}

/* ---- the line ---- */

static ssize_t read_all(int fd, char *to, size_t size)
{
	size_t n = 0;

	while (n < size) {
		ssize_t more = read(fd, to + n, size - n);
		if (more < 0 && errno == EINTR)
			continue;
		if (more < 0)
			return -1;
		if (more == 0)
			break;
		n += (size_t)more;
	}
	return (ssize_t)n;
}

static ssize_t read_from(const char *file, char *to, size_t size)
{
	ssize_t n;
	int fd, error;

	if (strcmp(file, "-") == 0) {
		if (!isatty(STDIN_FILENO))
			return read_all(STDIN_FILENO, to, size);
		(void)fputs("The key (it isn't shown): ", stderr);
		return read_quietly(STDIN_FILENO, to, size);
	}
	fd = open(file, O_RDONLY | O_CLOEXEC);
	if (fd < 0)
		return -1;
	n = read_all(fd, to, size);
	error = errno;
	(void)close(fd);
	errno = error;
	return n;
}

/* Blanks and line ends at its ends are no part of it. */
static bool take_line(char *text, size_t n, char ret[SCALE_KEY_SIZE])
{
	static const char blanks[] = " \t\r\n";
	char *end;

	text[n] = '\0';
	text += strspn(text, blanks);
	end = text + strlen(text);
	while (end > text && strchr(blanks, end[-1]))
		*--end = '\0';
	if (!*text || strpbrk(text, "\r\n") || (size_t)(end - text) >= SCALE_KEY_SIZE)
		return false;
	(void)snprintf(ret, SCALE_KEY_SIZE, "%s", text);
	return true;
}

bool scale_key_read(const char *file, char ret[SCALE_KEY_SIZE])
{
	bool is_input = strcmp(file, "-") == 0, good = false;
	char text[2 * SCALE_KEY_SIZE];
	ssize_t n = read_from(file, text, sizeof text - 1);

	if (n >= 0)
		good = take_line(text, (size_t)n, ret);
	if (n < 0 && is_input)
		ctl_error("Standard input can't be read: %s.", strerror(errno));
	else if (n < 0 && strspn(file, "0123456789abcdefABCDEF: ") == strlen(file)) /* the key? it isn't told again */
		ctl_error("That is no file. A key isn't given on the command line, where anybody can see it: give a "
			  "file, or - and type it.");
	else if (n < 0)
		ctl_error("%s can't be read: %s.", file, strerror(errno));
	else if (!good)
		ctl_error("There is no key: it is one line of 32 hexadecimal digits.");
	explicit_bzero(text, sizeof text);
	return good;
}

enum ctl_status scale_key(struct ctl *ctl, int argc, char **argv)
{
	char key[SCALE_KEY_SIZE];
	json_t *params, *result = NULL;
	enum ctl_status status;
	struct args args;

	if (!args_parse(ctl, argc, argv, NULL, 0, 2, 2, &args))
		return CTL_USAGE;
	if (!scale_key_read(args.words[1], key))
		return CTL_REFUSED;
	params = request_params(ctl);
	(void)field_put(params, "scale", args.words[0]); /* what is left out for lack of memory is refused */
	(void)field_put(params, "key", key);
	explicit_bzero(key, sizeof key);
	status = request_call(ctl, "scale.key", params, &result);
	if (status != CTL_DONE)
		return status;
	return request_print(ctl, result, "The key of %s is kept. From now on only what is encrypted with it counts.",
			     field_text(result, "scale"));
}
