// SPDX-License-Identifier: MIT
#pragma once
/*
 * What a broadcast holds: the parts of Device1's ServiceData and ManufacturerData, which of them are news, and how many
 * a second are taken. Above: mirror_read.c, listen.c, find.c. Below: dict.c. It has no bus, no clock and no log, and
 * decodes nothing.
 */
#include "dict.h"
#include "radio.h"

#define BROADCAST_UUID_SIZE 37
/* BTHome (facts, 6): always of interest; everything else is asked for by radio_ops.wanted. */
#define BROADCAST_BTHOME "0000fcd2-0000-1000-8000-00805f9b34fb"

struct broadcast_part {
	enum radio_kind kind;
	char uuid[BROADCAST_UUID_SIZE]; /* as in struct radio_frame */
	const uint8_t *octets;          /* borrowed from the message */
	size_t n;                       /* up to LIMIT_FRAME_BYTES */
};

struct broadcast_walk {
	enum radio_kind kind;
	DBusMessageIter at;
};

/* Whether key and value are one of the two properties; then walk stands before its first part. */
bool broadcast_enter(const char *key, DBusMessageIter *value, struct broadcast_walk *ret);
/* The next part; one that is too long, or of another type, is passed over. false: no more. */
bool broadcast_next(struct broadcast_walk *walk, struct broadcast_part *ret);
/* Whether the part is or may be a mass. */
bool broadcast_wanted(const struct radio_ops *ops, void *userdata, const struct broadcast_part *part);

#define BROADCAST_KEPT 4         /* kinds and UUIDs of one scale that are told from what they were before */
#define BROADCAST_KEPT_BYTES 254 /* the length of an AD structure is one octet (Core, Vol 3, Part C, 11) */

/* The last of each kind and UUID. All zero is empty. */
struct broadcast_memory {
	struct {
		struct broadcast_part part; /* octets is of no use here */
		uint8_t octets[BROADCAST_KEPT_BYTES];
	} kept[BROADCAST_KEPT];
	unsigned n, oldest;
};

/* An object that comes back within this time with the same octets says nothing new: BlueZ drops those of random
 * addresses whenever discovery rests (facts, 7.4), and all of them when it is started again. */
#define BROADCAST_AGAIN_US UINT64_C(20000000)

/* Another object of the scale's is dealt with; heard_us: when it was last known to be there; both monotonic. */
void broadcast_meet(struct broadcast_memory *memory, uint64_t heard_us, uint64_t now_us);
/* Whether it is what it was. */
bool broadcast_known(const struct broadcast_memory *memory, const struct broadcast_part *part);
void broadcast_keep(struct broadcast_memory *memory, const struct broadcast_part *part);

/* All zero: none taken yet. */
struct broadcast_rate {
	uint64_t second_us; /* the one counted in began */
	unsigned n;
	bool crowded;       /* some of that second, or of the one before, were dropped */
};

enum broadcast_outcome {
	BROADCAST_TAKE = 0,
	BROADCAST_TAKE_AGAIN, /* the first after a second in which none had to be dropped, though some had before */
	BROADCAST_DROP,       /* as the one before it */
	BROADCAST_DROP_FIRST, /* LIMIT_BROADCASTS_PER_S have been taken in this second; those before were all taken */
};

/* One more has come; now_us: monotonic. */
enum broadcast_outcome broadcast_count(struct broadcast_rate *rate, uint64_t now_us);
