// SPDX-License-Identifier: MIT
#include "pup.h"
#include "chr.h"
#include "model.h"
#include "words.h"

static enum command_outcome error(char *text, const char *why)
{
	words_copy(text, COMMANDS_TEXT, why);
	return COMMAND_ERROR;
}

/* Grams with or without a fraction; the wire has 5 g steps, rounded to the nearest, halves up. */
static bool read_grams(const char *word, unsigned *ret_raw)
{
	char *end;
	double grams = strtod(word, &end);

	if (*end || end == word || !(grams >= 0 && grams <= 327670))
		return false;
	*ret_raw = (unsigned)(grams / 5 + 0.5);
	return true;
}

/* Weight Measurement 0x2A9D: flags, weight, and what the flags announce, in the order of its table. */
static size_t encode(uint8_t flags, unsigned raw, uint8_t octets[static 15])
{
	time_t now = time(NULL);
	struct tm tm;
	size_t n = 0;

	octets[n++] = flags;
	octets[n++] = (uint8_t)raw;
	octets[n++] = (uint8_t)(raw >> 8);
	if (flags & 0x02 && localtime_r(&now, &tm)) {
		unsigned year = (unsigned)tm.tm_year + 1900;
		uint8_t stamp[7] = { (uint8_t)year,
				     (uint8_t)(year >> 8),
				     (uint8_t)(tm.tm_mon + 1),
				     (uint8_t)tm.tm_mday,
				     (uint8_t)tm.tm_hour,
				     (uint8_t)tm.tm_min,
				     (uint8_t)(tm.tm_sec > 59 ? 59 : tm.tm_sec) };
		memcpy(octets + n, stamp, sizeof(stamp));
		n += sizeof(stamp);
	}
	if (flags & 0x04)
		octets[n++] = 0xff; /* unknown user */
	if (flags & 0x08) {
		memset(octets + n, 0, 4); /* BMI and height */
		n += 4;
	}
	return n;
}

enum command_outcome pup_run(struct sim *sim, int n, char **words, char *text)
{
	struct peer *peer = sim->peers;
	uint8_t octets[15], flags = 0;
	size_t attr, n_octets, n_flags = 1;
	unsigned raw;

	while (peer && !model_chr(peer, "00002a9d-0000-1000-8000-00805f9b34fb", &attr))
		peer = peer->next;
	if (!peer)
		return error(text, "no scale is defined");
	if (!read_grams(words[1], &raw))
		return error(text, "grams are 0..327670");
	if (n == 3 && (!words_octets(words[2], &flags, 1, &n_flags) || n_flags != 1 || flags & 0x01))
		return error(text, "flags are two hexadecimal digits; bit 0 must be 0 (SI units)");
	n_octets = encode(flags, raw, octets);
	if (!peer->link || !chr_deliver(peer->link, attr, octets, n_octets))
		return error(text, "not subscribed");
	int at = snprintf(text, COMMANDS_TEXT, "%u g sent as ", raw * 5);
	for (size_t i = 0; i < n_octets; i++)
		at += snprintf(text + at, (size_t)(COMMANDS_TEXT - at), "%02x", octets[i]);
	return COMMAND_DONE;
}
