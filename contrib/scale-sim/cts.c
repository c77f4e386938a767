// SPDX-License-Identifier: MIT
#include "cts.h"
#include "model.h"
#include "words.h"
#include <time.h>

static bool is(const struct attr *attr, const char *number)
{
	return attr->kind == ATTR_CHR && !strncmp(attr->uuid, "0000", 4) && !strncmp(attr->uuid + 4, number, 4);
}

enum command_outcome cts_command(struct sim *sim, int n, char **words, char *text)
{
	char address[SIM_ADDRESS];
	struct peer *peer = words_address(words[1], address) ? model_peer(sim, address) : NULL;

	if (!peer || !words_number(words[2], -INT64_C(4000000000), INT64_C(4000000000), &peer->clock.ahead_s) ||
	    (n == 4 && strcmp(words[3], "ignores"))) {
		words_copy(text, COMMANDS_TEXT, "usage: clock ADDR SECONDS [ignores]");
		return COMMAND_ERROR;
	}
	peer->clock.runs = true;
	peer->clock.ignores = n == 4;
	return COMMAND_DONE;
}

/* Date Time, day of week (1: Monday), fractions, reason: GATT characteristic current_time. */
void cts_refresh(const struct peer *peer, struct attr *attr)
{
	time_t at = time(NULL) + (time_t)peer->clock.ahead_s;
	struct tm tm;

	if (!peer->clock.runs || !is(attr, "2a2b") || !localtime_r(&at, &tm))
		return;
	unsigned year = (unsigned)tm.tm_year + 1900;
	const uint8_t octets[] = { (uint8_t)year,       (uint8_t)(year >> 8), (uint8_t)(tm.tm_mon + 1),
				   (uint8_t)tm.tm_mday, (uint8_t)tm.tm_hour,  (uint8_t)tm.tm_min,
				   (uint8_t)tm.tm_sec,  (uint8_t)(tm.tm_wday ? tm.tm_wday : 7), 0, 0 };
	memcpy(attr->octets, octets, sizeof(octets));
	attr->n = sizeof(octets);
}

static void set_clock(struct peer *peer, const struct attr *attr)
{
	const uint8_t *o = attr->octets;
	struct tm tm = { .tm_year = (o[0] | o[1] << 8) - 1900, .tm_mon = o[2] - 1, .tm_mday = o[3], .tm_hour = o[4],
			 .tm_min = o[5], .tm_sec = o[6], .tm_isdst = -1 };

	if (attr->n == 10)
		peer->clock.ahead_s = mktime(&tm) - time(NULL);
}

enum cts_outcome cts_written(struct peer *peer, const struct attr *attr, bool live, uint8_t *ret)
{
	const uint8_t *o = attr->octets;

	if (is(attr, "2a2b") && peer->clock.runs) {
		set_clock(peer, attr);
		return peer->clock.ignores ? CTS_IGNORED : CTS_TAKEN;
	}
	if (!is(attr, "2a9f"))
		return CTS_TAKEN;
	if (!live)
		return CTS_UNREADY;
	ret[0] = 0x20; /* response code, the request, and how it went: 1 success, 2 not supported, 5 not authorized */
	ret[1] = attr->n ? o[0] : 0;
	ret[2] = ret[1] != 0x02			      ? 2
		 : attr->n == 4 && o[1] == peer->user.index && (o[2] | o[3] << 8) == peer->user.code ? 1
												      : 5;
	return CTS_INDICATE;
}
