// SPDX-License-Identifier: MIT
/*
 * Preloaded into bismard: moves its wall clock and its boot clock by the seconds that a file holds, so that a test can
 * set the clock, or let the machine sleep, while bismard runs. CLOCK_MONOTONIC stands still in both cases, and is left
 * alone. Timers that run on the boot clock are looked at whenever the loop turns; they don't wake it earlier. Above:
 * test_faults_clock.c. Below: the kernel. The file's name is in BISMAR_TEST_CLOCK.
 */
#include <fcntl.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <sys/mman.h>
#include <sys/syscall.h>
#include <time.h>
#include <unistd.h>

struct shift {
	int64_t wall_s, boot_s;
};

static const struct shift *shift(void)
{
	static const struct shift none;
	static const struct shift *map;
	const char *path = getenv("BISMAR_TEST_CLOCK");
	void *at = MAP_FAILED;
	int fd;

	if (map)
		return map;
	fd = path ? open(path, O_RDONLY | O_CLOEXEC) : -1;
	if (fd >= 0) {
		at = mmap(NULL, sizeof none, PROT_READ, MAP_SHARED, fd, 0);
		(void)close(fd);
	}
	map = at == MAP_FAILED ? &none : at;
	return map;
}

/* In place of the C library's. */
int clock_gettime(clockid_t id, struct timespec *ret)
{
	long r = syscall(SYS_clock_gettime, id, ret);

	if (r < 0)
		return -1;
	if (id == CLOCK_REALTIME || id == CLOCK_REALTIME_COARSE)
		ret->tv_sec += (time_t)shift()->wall_s;
	else if (id == CLOCK_BOOTTIME)
		ret->tv_sec += (time_t)shift()->boot_s;
	return 0;
}
