// SPDX-License-Identifier: MIT
#include "contrib/broker/again.h"
#include <errno.h>
#include <jansson.h>

static const char *const names[LOG_KINDS] = { "reading", "concern" };

int again_read(const void *octets, size_t n, int64_t ret_from[LOG_KINDS])
{
	int64_t from[LOG_KINDS] = { 0 };
	json_t *wish;
	bool some = false, fine;

	if (n > AGAIN_BYTES)
		return -EINVAL;
	wish = json_loadb(octets, n, JSON_REJECT_DUPLICATES, NULL);
	fine = json_is_object(wish);
	for (size_t i = 0; fine && i < LOG_KINDS; i++) {
		const json_t *seq = json_object_get(wish, names[i]);
		if (!seq)
			continue;
		from[i] = json_integer_value(seq); /* 0 for what is no integer */
		fine = from[i] >= 1;
		some = true;
	}
	json_decref(wish);
	if (!fine || !some)
		return -EINVAL;
	for (size_t i = 0; i < LOG_KINDS; i++)
		ret_from[i] = from[i];
	return 0;
}

void again_wish(struct again *again, const int64_t from[LOG_KINDS], const struct lane lanes[LOG_KINDS])
{
	for (size_t i = 0; i < LOG_KINDS; i++)
		if (from[i] && from[i] <= lanes[i].cursor && (!again->from[i] || from[i] < again->from[i]))
			again->from[i] = from[i];
}

size_t again_refuse(struct again *again, int64_t now_ms)
{
	size_t n = ++again->refused;

	if (now_ms < again->tell_ms)
		return 0;
	again->tell_ms = now_ms + AGAIN_EVERY_MS;
	again->refused = 0;
	return n;
}

bool again_waits(const struct again *again)
{
	return again->from[LOG_READING] || again->from[LOG_CONCERN];
}

bool again_follow(struct again *again, int64_t now_ms, struct lane lanes[LOG_KINDS])
{
	if (!again_waits(again) || now_ms < again->not_before_ms)
		return false;
	for (size_t i = 0; i < LOG_KINDS; i++)
		if (lane_repeats(&lanes[i]))
			return false; /* or the newest would never be reached */
	again->not_before_ms = now_ms + AGAIN_EVERY_MS;
	for (size_t i = 0; i < LOG_KINDS; i++) {
		if (again->from[i])
			lane_back(&lanes[i], again->from[i]);
		again->from[i] = 0;
	}
	return true;
}
