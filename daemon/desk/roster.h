// SPDX-License-Identifier: MIT
#pragma once
/*
 * Who and what there is: scales, containers, litters, animals, as the ledger has them, held in memory so that a
 * weighing needs no query. The ledger is the truth; this is read from it at start and after each change.
 * Above: the desk's other files. Below: the store's walks.
 */
#include "daemon/limits.h"
#include "daemon/litter/concern.h"
#include "daemon/store/store.h"
#include "daemon/weigh/stamp.h"
#include "daemon/weigh/weigh.h"
#include "protocols/payload.h"
#include <stdbool.h>

#define ROSTER_TEXT (LIMIT_NAME_BYTES + 1)

struct roster_container {
	char id[UUID7_SIZE];
	char name[ROSTER_TEXT];
	bool has_tare;
	struct tare tare;
};

struct roster_scale {
	char id[UUID7_SIZE];
	char address[18];
	char name[ROSTER_TEXT];
	char container_id[UUID7_SIZE]; /* "": none */
	/* not from the ledger: */
	struct weigh_memory memory;
	int battery;           /* per cent, -1 not known */
	int64_t resolution_kg_mg, resolution_lb_mg; /* of its feature; 0 not specified */
	enum payload_refusal refused; /* why its last value was; PAYLOAD_OK: it wasn't */
	int64_t live_told_ms;  /* when `live` was last sent */
	unsigned user, code;   /* of the ledger: for a scale with several users; STORE_NO_USER: none */
	struct stamp_clock clock;
	struct { /* of a scale that broadcasts; broadcast.c's */
		bool known;        /* counter was read from the ledger */
		bool has_counter;
		uint32_t counter;  /* the highest that had an effect or was seen since */
		bool has_packet;
		uint8_t packet;    /* the last packet's number */
		uint8_t last[32];  /* its octets, as far as they fit */
		size_t n_last;     /* 0: they don't, or nothing came yet */
		bool weighs;       /* it has sent a mass */
		bool battery_low;
		int64_t pressed_ms; /* when a button of its was last pressed */
		enum payload_refusal refused; /* why the last one was; PAYLOAD_OK: it wasn't */
		int64_t noise_ms;  /* since when noise is counted */
		unsigned noise;    /* frames without effect that the ledger took since */
	} air;
};

struct roster_litter {
	char id[UUID7_SIZE];
	char name[ROSTER_TEXT];
	bool closed;
	int64_t adult_mg;             /* expected adult mass; 0: not told */
	struct concern_limits limits; /* of its own; 0: the published ones */
};

struct roster_animal {
	char id[UUID7_SIZE];
	char name[ROSTER_TEXT];
	char litter_id[UUID7_SIZE];
	char collar[ROSTER_TEXT]; /* "": none */
	char aliases[LIMIT_ALIASES][ROSTER_TEXT];
	size_t n_aliases;
	int64_t birth_mg, born_ms;
	int64_t newest_mg, newest_u_mg, newest_at_ms; /* newest_mg 0: no reading */
};

struct roster {
	struct roster_scale *scales;
	size_t n_scales;
	struct roster_container *containers;
	size_t n_containers;
	struct roster_litter *litters;
	size_t n_litters;
	struct roster_animal *animals; /* not gone, of open litters */
	size_t n_animals;
};

/* Each reads one kind anew; what isn't from the ledger is kept for the scales that stay. 0, -ENOMEM, or the
 * store's outcome; on failure the old list stands. */
int roster_load_scales(struct roster *roster, struct store *store);
int roster_load_containers(struct roster *roster, struct store *store);
int roster_load_litters(struct roster *roster, struct store *store);
int roster_load_animals(struct roster *roster, struct store *store);
int roster_load(struct roster *roster, struct store *store); /* all four */
void roster_done(struct roster *roster);

/* NULL when there is none. Names compare without regard to ASCII case. */
struct roster_scale *roster_scale(struct roster *roster, const char *name_or_address);
struct roster_scale *roster_scale_by_id(struct roster *roster, const char *id);
struct roster_container *roster_container(struct roster *roster, const char *name);
struct roster_container *roster_container_by_id(struct roster *roster, const char *id);
struct roster_litter *roster_litter(struct roster *roster, const char *name); /* open ones */
const struct roster_litter *roster_litter_by_id(const struct roster *roster, const char *id);
struct roster_animal *roster_animal_by_id(struct roster *roster, const char *id);

enum roster_match { ROSTER_ONE, ROSTER_NOBODY, ROSTER_SEVERAL };
/* An animal by id, name, collar or alias, or litter/word. A name goes before a collar, a collar before an alias.
 * ROSTER_SEVERAL: *ret and *ret_other are two that the word fits. */
enum roster_match roster_animal(struct roster *roster, const char *word, struct roster_animal **ret,
				struct roster_animal **ret_other);
/* The animal of this litter that the word already means, or NULL. */
struct roster_animal *roster_taken(struct roster *roster, const char *litter_id, const char *word);
