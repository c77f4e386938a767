// SPDX-License-Identifier: MIT
#pragma once
/*
 * The mass of a squirming pup in a stream of samples: finds onset, plateau and removal, and estimates the plateau.
 * Above: the desk, one struct settle a scale. Below: nothing. Pure: time and samples come in as arguments, all memory
 * is the struct. It knows no net: whether the load is a pup or a container is told by idle_mg.
 *
 * Life of a load: the scale is idle (within WEIGH_EMPTY_MG of idle_mg) -> onset -> plateau, told once as soon as it is
 * good enough (settled), or when SETTLE_RESTLESS_US have gone by (restless), or at removal -> idle again, which is told
 * with the container's own reading.
 */
#include <stdbool.h>
#include <stdint.h>

#define SETTLE_SAMPLES 256 /* of one plateau that are held */

enum settle_mark { SETTLE_UNSAID, SETTLE_STEADY, SETTLE_MOVING }; /* what the scale says of a sample itself */

struct settle_sample {
	int64_t gross_mg;
	uint64_t at_us; /* monotonic, not before the sample before */
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

/* Memory of one scale's stream. Members are for settle.c alone. */
struct settle {
	int64_t step_mg, idle_mg;
	/* (more to come with the body) */
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
