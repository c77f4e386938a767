// SPDX-License-Identifier: MIT
#include "broadcast.h"
#include "daemon/limits.h"
#include <ctype.h>
#include <stdio.h>
#include <string.h>

#define SECOND_US UINT64_C(1000000)

bool broadcast_enter(const char *key, DBusMessageIter *value, struct broadcast_walk *ret)
{
	bool service = strcmp(key, "ServiceData") == 0;
	struct broadcast_walk walk = { .kind = service ? RADIO_SERVICE_DATA : RADIO_MANUFACTURER };

	if ((!service && strcmp(key, "ManufacturerData") != 0) || !dict_enter(value, &walk.at))
		return false;
	*ret = walk;
	return true;
}

/* The key of an entry: a UUID, or the number of a company. */
static bool read_key(DBusMessageIter *key, struct broadcast_part *part)
{
	uint16_t company;
	const char *text;

	if (part->kind == RADIO_MANUFACTURER) {
		if (!dict_u16(key, &company))
			return false;
		(void)snprintf(part->uuid, sizeof part->uuid, "0x%04x", company);
		return true;
	}
	if (!dict_text(key, &text) || strlen(text) != BROADCAST_UUID_SIZE - 1)
		return false;
	for (size_t i = 0; i < BROADCAST_UUID_SIZE; i++)
		part->uuid[i] = (char)tolower((unsigned char)text[i]);
	return true;
}

bool broadcast_next(struct broadcast_walk *walk, struct broadcast_part *ret)
{
	while (dbus_message_iter_get_arg_type(&walk->at) == DBUS_TYPE_DICT_ENTRY) {
		struct broadcast_part part = { .kind = walk->kind };
		DBusMessageIter entry, value;

		dbus_message_iter_recurse(&walk->at, &entry);
		dbus_message_iter_next(&walk->at);
		if (!read_key(&entry, &part) || !dbus_message_iter_next(&entry) ||
		    dbus_message_iter_get_arg_type(&entry) != DBUS_TYPE_VARIANT)
			continue;
		dbus_message_iter_recurse(&entry, &value);
		if (!dict_octets(&value, &part.octets, &part.n) || part.n > LIMIT_FRAME_BYTES)
			continue;
		*ret = part;
		return true;
	}
	return false;
}

bool broadcast_wanted(const struct radio_ops *ops, void *userdata, const struct broadcast_part *part)
{
	if (part->kind == RADIO_SERVICE_DATA && strcmp(part->uuid, BROADCAST_BTHOME) == 0)
		return true;
	return ops->wanted && ops->wanted(userdata, part->kind, part->uuid);
}

static bool same_source(const struct broadcast_part *a, const struct broadcast_part *b)
{
	return a->kind == b->kind && strcmp(a->uuid, b->uuid) == 0;
}

void broadcast_meet(struct broadcast_memory *memory, uint64_t heard_us, uint64_t now_us)
{
	if (now_us - heard_us >= BROADCAST_AGAIN_US)
		*memory = (struct broadcast_memory){ 0 };
}

bool broadcast_known(const struct broadcast_memory *memory, const struct broadcast_part *part)
{
	for (unsigned i = 0; i < memory->n; i++)
		if (same_source(&memory->kept[i].part, part))
			return memory->kept[i].part.n == part->n &&
			       (part->n == 0 || memcmp(memory->kept[i].octets, part->octets, part->n) == 0);
	return false;
}

void broadcast_keep(struct broadcast_memory *memory, const struct broadcast_part *part)
{
	unsigned i = 0;

	if (part->n > BROADCAST_KEPT_BYTES)
		return; /* no advertisement has as much: told anew each time */
	while (i < memory->n && !same_source(&memory->kept[i].part, part))
		i++;
	if (i == BROADCAST_KEPT) {
		i = memory->oldest;
		memory->oldest = (i + 1) % BROADCAST_KEPT;
	} else if (i == memory->n) {
		memory->n++;
	}
	memory->kept[i].part = *part;
	memory->kept[i].part.octets = NULL;
	if (part->n > 0)
		memcpy(memory->kept[i].octets, part->octets, part->n);
}

enum broadcast_outcome broadcast_count(struct broadcast_rate *rate, uint64_t now_us)
{
	bool was_crowded = rate->crowded;

	if (rate->n == 0 || now_us - rate->second_us >= SECOND_US) {
		bool kept_up = rate->n <= LIMIT_BROADCASTS_PER_S || now_us - rate->second_us >= 2 * SECOND_US;

		rate->second_us = now_us;
		rate->n = 1;
		rate->crowded = was_crowded && !kept_up;
		return was_crowded && kept_up ? BROADCAST_TAKE_AGAIN : BROADCAST_TAKE;
	}
	if (rate->n <= LIMIT_BROADCASTS_PER_S)
		rate->n++; /* one more than the limit says that some were dropped */
	if (rate->n <= LIMIT_BROADCASTS_PER_S)
		return BROADCAST_TAKE;
	rate->crowded = true;
	return was_crowded ? BROADCAST_DROP : BROADCAST_DROP_FIRST;
}
