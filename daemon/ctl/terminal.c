// SPDX-License-Identifier: MIT
#include "daemon/ctl/terminal.h"
#include <errno.h>
#include <sys/ioctl.h>
#include <termios.h>
#include <unistd.h>

struct terminal {
	struct termios before, raw;
};

int terminal_new(struct terminal **ret)
{
	struct terminal *terminal = calloc(1, sizeof *terminal);
	struct termios *raw;
	int r;

	if (!terminal)
		return -ENOMEM;
	if (tcgetattr(STDIN_FILENO, &terminal->before) < 0) {
		r = -errno;
		free(terminal);
		return r;
	}
	raw = &terminal->raw;
	*raw = terminal->before;
	raw->c_iflag &= ~(tcflag_t)(ICRNL | IXON | ISTRIP | INLCR | IGNCR);
	raw->c_lflag &= ~(tcflag_t)(ICANON | ECHO | ISIG | IEXTEN);
	raw->c_cc[VMIN] = 1;
	raw->c_cc[VTIME] = 0;
	if (tcsetattr(STDIN_FILENO, TCSAFLUSH, raw) < 0) {
		r = -errno;
		free(terminal);
		return r;
	}
	*ret = terminal;
	return 0;
}

struct terminal *terminal_free(struct terminal *terminal)
{
	static const char bye[] = "\033[0m\033[999;1H\r\n"; /* the last row, whichever that is */

	if (!terminal)
		return NULL;
	(void)terminal_write(bye, sizeof bye - 1);                   /* a terminal that is gone needs no farewell */
	return terminal_leave(terminal);
}

struct terminal *terminal_leave(struct terminal *terminal)
{
	if (!terminal)
		return NULL;
	(void)tcsetattr(STDIN_FILENO, TCSADRAIN, &terminal->before); /* a terminal that is gone needs it no more */
	free(terminal);
	return NULL;
}

int terminal_key(char *ret_key)
{
	ssize_t n;

	do
		n = read(STDIN_FILENO, ret_key, 1);
	while (n < 0 && errno == EINTR);
	return n < 0 ? -errno : n == 0 ? -EPIPE : 0;
}

void terminal_drop(void)
{
	(void)tcflush(STDIN_FILENO, TCIFLUSH); /* what isn't dropped is taken for an answer, which is shown */
}

void terminal_resume(const struct terminal *terminal)
{
	(void)tcsetattr(STDIN_FILENO, TCSADRAIN,
			&terminal->raw); /* worked at the start; if not now, lines still come */
}

void terminal_size(unsigned *ret_width, unsigned *ret_height)
{
	struct winsize size = { 0 };

	(void)ioctl(STDOUT_FILENO, TIOCGWINSZ, &size); /* all zero when it fails */
	*ret_width = size.ws_col ? size.ws_col : 80;
	*ret_height = size.ws_row ? size.ws_row : 24;
}

int terminal_write(const char *octets, size_t n)
{
	while (n > 0) {
		ssize_t written = write(STDOUT_FILENO, octets, n);
		if (written < 0 && errno == EINTR)
			continue;
		if (written < 0)
			return -errno;
		octets += written;
		n -= (size_t)written;
	}
	return 0;
}
