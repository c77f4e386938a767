// SPDX-License-Identifier: MIT
/*
 * Preloaded into bismard: allocations fail when the test says so (fault.h; BISMAR_TEST_MEMORY names the file). Those
 * that glibc makes for itself (strdup, fopen) come this way too. Above: memory. Below: glibc's own allocator.
 */
#include "fault.h"
#include <errno.h>
#include <stddef.h>

/* glibc's, under the names by which it exports them beside the usual ones */
void *__libc_malloc(size_t size);
void *__libc_calloc(size_t n, size_t size);
void *__libc_realloc(void *at, size_t size);

static struct fault *fault;

__attribute__((constructor)) static void begin(void)
{
	fault = fault_map("BISMAR_TEST_MEMORY");
}

static bool fails(void)
{
	if (!fault_now(fault))
		return false;
	errno = ENOMEM;
	return true;
}

void *malloc(size_t size)
{
	return fails() ? NULL : __libc_malloc(size);
}

void *calloc(size_t n, size_t size)
{
	return fails() ? NULL : __libc_calloc(n, size);
}

void *realloc(void *at, size_t size)
{
	return fails() ? NULL : __libc_realloc(at, size);
}
