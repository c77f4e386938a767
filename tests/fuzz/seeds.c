// SPDX-License-Identifier: MIT
/* Runs a fuzz target over files, each at every length: an ordinary test. usage: TARGET FILE... */
#include "fuzz.h"

#define MOST 65536
#ifndef FUZZ_STRIDE
#define FUZZ_STRIDE 1 /* from length to length */
#endif

int main(int argc, char **argv)
{
	static uint8_t data[MOST];

	if (argc < 2) {
		(void)fprintf(stderr, "usage: %s FILE...\n", argv[0]);
		return 2;
	}
	for (int i = 1; i < argc; i++) {
		FILE *file = fopen(argv[i], "rb");
		size_t n;
		if (!file) {
			perror(argv[i]);
			return 1;
		}
		n = fread(data, 1, sizeof data, file);
		(void)fclose(file); /* it was read only */
		for (size_t size = n % FUZZ_STRIDE; size <= n; size += FUZZ_STRIDE) {
			uint8_t *own = malloc(size ? size : 1); /* so that one octet too far is seen */
			if (!own)
				return 1;
			memcpy(own, data, size);
			(void)LLVMFuzzerTestOneInput(own, size); /* aborts when something doesn't hold */
			free(own);
		}
	}
	return 0;
}
