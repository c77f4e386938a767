// SPDX-License-Identifier: MIT
#include "uuid7.h"

#include <errno.h>
#include <sys/random.h>

#define COUNT_MAX 0xfff

/* RFC 9562, 5.7: 48 bits unix_ts_ms, 4 bits version, 12 bits rand_a, 2 bits variant, 62 bits rand_b; big-endian. */
void uuid7_format(char ret[UUID7_SIZE], int64_t ms, uint16_t count, const uint8_t random[8])
{
	static const char hex[] = "0123456789abcdef";
	uint64_t time = ms > 0 ? (uint64_t)ms : 0;
	uint8_t octets[16];
	size_t i, n = 0;

	for (i = 0; i < 6; i++)
		octets[i] = (uint8_t)(time >> (40 - 8 * i));
	octets[6] = (uint8_t)(0x70 | (count >> 8 & 0x0f)); /* version 7 */
	octets[7] = (uint8_t)count;
	for (i = 0; i < 8; i++)
		octets[8 + i] = random[i];
	octets[8] = (uint8_t)(0x80 | (octets[8] & 0x3f)); /* variant 0b10 */

	for (i = 0; i < sizeof(octets); i++) {
		if (i == 4 || i == 6 || i == 8 || i == 10)
			ret[n++] = '-';
		ret[n++] = hex[octets[i] >> 4];
		ret[n++] = hex[octets[i] & 0x0f];
	}
	ret[n] = '\0';
}

int uuid7_next(struct uuid7_clock *clock, int64_t now_ms, char ret[UUID7_SIZE])
{
	uint8_t random[8];
	ssize_t n;

	do
		n = getrandom(random, sizeof(random), 0);
	while (n < 0 && errno == EINTR); /* so few octets are never cut short (getrandom(2)) */
	if (n < 0)
		return -errno;

	if (now_ms > clock->ms) {
		clock->ms = now_ms;
		clock->count = 0;
	} else if (clock->count < COUNT_MAX) {
		clock->count++;
	} else {
		/* RFC 9562, 6.2: on a counter rollover the time stamp may run ahead */
		clock->ms++;
		clock->count = 0;
	}
	uuid7_format(ret, clock->ms, clock->count, random);
	return 0;
}
