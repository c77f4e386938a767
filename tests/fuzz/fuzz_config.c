// SPDX-License-Identifier: MIT
/* bismard.conf, formats that it declares included: whatever is in it, what comes out can be used. */
#include "daemon/config_file.h"
#include "fuzz.h"
#include <sys/mman.h>
#include <unistd.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	static struct config config;
	char path[32];
	int fd = memfd_create("conf", MFD_CLOEXEC);
	struct config_file file = { .path = path, .config = &config };

	if (fd < 0 || write(fd, data, size) != (ssize_t)size)
		abort();
	(void)snprintf(path, sizeof path, "/proc/self/fd/%d", fd);
	config = (struct config){ .log_level = 6 };
	(void)config_file_read(&file); /* 0 or why not; either way config can be used */
	FUZZ_HOLDS(config.n_formats <= CONFIG_FORMATS);
	for (size_t i = 0; i < config.n_formats; i++) {
		const struct declared *format = &config.formats[i];
		struct payload payload;
		FUZZ_HOLDS(format->factor != 0 && format->width >= 1 && format->width <= DECLARED_WIDTH_MAX);
		FUZZ_HOLDS(format->offset <= DECLARED_OFFSET_MAX);
		(void)declared_decode(format, (struct bytes){ data, size }, &payload); /* any answer, within bounds */
	}
	(void)close(fd); /* a memory file */
	return 0;
}
