// SPDX-License-Identifier: MIT
#pragma once
/*
 * What a preloaded shim is told by the test, and tells it: a small file, named by an environment variable, mapped by
 * both. From call `first` on, counted from 1 since `count` was last set to 0, `length` calls fail. All 64-bit integers,
 * in this order; steps.py writes it. Above: memory_shim.c, disk_shim.c.
 */
#include <fcntl.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdlib.h>
#include <sys/mman.h>
#include <unistd.h>

struct fault {
	int64_t on, first, length, error; /* the test's; error: an errno, where the shim has several */
	int64_t count, failed;            /* the shim's */
};

static struct fault *fault_map(const char *variable)
{
	const char *path = getenv(variable);
	int fd = path ? open(path, O_RDWR | O_CLOEXEC) : -1;
	void *at = MAP_FAILED;

	if (fd >= 0) {
		at = mmap(NULL, sizeof(struct fault), PROT_READ | PROT_WRITE, MAP_SHARED, fd, 0);
		(void)close(fd);
	}
	return at == MAP_FAILED ? NULL : at;
}

/* Counts one call: is it one that fails? */
static bool fault_now(struct fault *fault)
{
	if (!fault || !fault->on)
		return false;
	fault->count++;
	if (fault->count < fault->first || fault->count >= fault->first + fault->length)
		return false;
	fault->failed++;
	return true;
}
