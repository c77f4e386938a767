// SPDX-License-Identifier: MIT
/*
 * Shows what bismard asks and records; a pup's name, collar or alias on a line answers the oldest question.
 * cc answer.c -o answer; usage: answer [SOCKET]
 */
#include <poll.h>
#include <stdio.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

int main(int argc, char **argv)
{
	struct sockaddr_un address = { .sun_family = AF_UNIX };
	struct pollfd ends[2] = { { .events = POLLIN }, { .fd = STDIN_FILENO, .events = POLLIN } };
	char octets[4096];
	ssize_t n;

	snprintf(address.sun_path, sizeof address.sun_path, "%s", argc > 1 ? argv[1] : "/run/bismar/prompt.sock");
	ends[0].fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
	if (connect(ends[0].fd, (struct sockaddr *)&address, sizeof address) < 0 ||
	    write(ends[0].fd, "text\n", 5) != 5) {
		perror(address.sun_path);
		return 1;
	}
	while (poll(ends, 2, -1) > 0) {
		int from = ends[0].revents ? 0 : 1;

		n = read(ends[from].fd, octets, sizeof octets);
		if (n > 0 && write(from == 0 ? STDOUT_FILENO : ends[0].fd, octets, (size_t)n) != n)
			return 1;
		if (n <= 0 && from == 0)
			return 0; /* bismard has ended it */
		if (n <= 0) {
			shutdown(ends[0].fd, SHUT_WR); /* what is due still comes */
			ends[1].fd = -1;
		}
	}
	return 1;
}
