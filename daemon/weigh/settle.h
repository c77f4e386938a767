// SPDX-License-Identifier: MIT
#pragma once
/*
 * The mass of a squirming pup in a stream of samples: finds onset, plateau and removal, and estimates the plateau.
 * Above: the desk, one struct settle a scale. Below: plateau. Pure: time and samples come in as arguments, all memory
 * is the struct. It knows no net: whether the load is a pup or a container is told by idle_mg.
 *
 * Life of a load: the scale is idle (within WEIGH_EMPTY_MG of idle_mg) -> onset -> plateau, told once as soon as it is
 * good enough (settled), or when SETTLE_RESTLESS_US have gone by (restless), or at removal -> idle again, which is told
 * with the container's own reading. A load that is exchanged for another without the scale having been idle is a new one.
 */
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define SETTLE_SAMPLES 256 /* of one plateau that are held; then every other one is left out */

/*
 * Good enough: SETTLE_MIN_US of plateau, known to SETTLE_GOOD_STEPS of a step (or SETTLE_GOOD_MG where that is more, or
 * SETTLE_GOOD_SHARE of the load), or lying still: within one step either way, which legal metrology takes for stable
 * when it lasts 0.4 s (Canada, C.R.C., c. 1605, p. 37; facts, 10.1); we ask for SETTLE_STILL_US. Our choice otherwise.
 */
#define SETTLE_MIN_US UINT64_C(1500000)
#define SETTLE_STILL_US UINT64_C(1500000)
#define SETTLE_GOOD_STEPS 0.20
#define SETTLE_GOOD_MG 300.0
#define SETTLE_GOOD_SHARE 0.0015
/* A pup that hasn't lain still until then is told as it is. */
#define SETTLE_RESTLESS_US UINT64_C(6000000)
/* Without a sample for so long, and for three of the usual intervals, the scale has said its last word. */
#define SETTLE_QUIET_US UINT64_C(1500000)
#define SETTLE_QUIET_INTERVALS 3
/* The empty container is read when it has lain still for so long. */
#define SETTLE_IDLE_US UINT64_C(1000000)
/* Another mass, for so long, is another load. */
#define SETTLE_CHANGE_US UINT64_C(1000000)
#define SETTLE_CHANGE_MG 15000.0

enum settle_mark { SETTLE_UNSAID, SETTLE_STEADY, SETTLE_MOVING }; /* what the scale says of a sample itself */

struct settle_sample {
	int64_t gross_mg;
	uint64_t at_us; /* monotonic; one before the sample before counts as of its time */
	enum settle_mark mark;
};

enum settle_event {
	SETTLE_NOTHING, /* goes on */
	SETTLE_ONSET,   /* something was put on the scale */
	SETTLE_LOADED,  /* *ret: the plateau's mass; once a load */
	SETTLE_IDLE,    /* *ret: a settled reading of the container alone, or of nothing; once after each removal */
};

struct settle_result {
	int64_t gross_mg;
	int64_t u_mg;      /* standard uncertainty, of motion, step and everything else in the samples */
	bool restless;     /* it never lay still; u_mg says how well it is known all the same */
	unsigned n;        /* samples in it */
	uint64_t from_us, to_us;
};

enum settle_state {
	SETTLE_IS_IDLE,    /* and told, or never loaded */
	SETTLE_IS_EMPTIED, /* idle; its reading is still to be told */
	SETTLE_IS_LOADED,  /* its mass is still to be told */
	SETTLE_IS_TOLD,
};

/* Memory of one scale's stream. Members are for settle.c alone. */
struct settle {
	int64_t step_mg, idle_mg;
	enum settle_state state;
	size_t n;
	double samples[SETTLE_SAMPLES]; /* less base_mg, in mg */
	uint64_t times[SETTLE_SAMPLES];
	int64_t base_mg;
	unsigned every, skipped;        /* one of `every` samples is kept */
	uint64_t last_us, interval_us;  /* of the newest sample; the usual distance */
	uint64_t began_us;              /* of the load, or of being idle */
	int64_t last_mg;
	int64_t told_mg;                /* SETTLE_IS_TOLD */
	double told_spread;
};

/* step_mg: the wire's or scale's step, 0 not known. idle_mg: the remembered container on the scale, 0 for none. */
void settle_init(struct settle *settle, int64_t step_mg, int64_t idle_mg);
/* The container was changed or weighed again; what is under way goes on. */
void settle_set_idle(struct settle *settle, int64_t idle_mg);
/* Takes one sample. *ret is set for SETTLE_LOADED and SETTLE_IDLE only. */
enum settle_event settle_take(struct settle *settle, const struct settle_sample *sample, struct settle_result *ret);
/* Time has gone by without a sample: many scales fall silent when their mass no longer changes. */
enum settle_event settle_wake(struct settle *settle, uint64_t now_us, struct settle_result *ret);
/* When settle_wake() is wanted, monotonic; UINT64_MAX: not at all. */
uint64_t settle_wake_us(const struct settle *settle);
/* The link ended: a load that wasn't told yet is, if its samples carry it (SETTLE_LOADED), and all is forgotten. */
enum settle_event settle_end(struct settle *settle, struct settle_result *ret);
