// SPDX-License-Identifier: MIT
#pragma once
/*
 * The mass of a squirming pup in a stream of samples: finds onset, plateau and removal, and estimates the plateau.
 * Above: the desk, one struct settle a scale. Below: plateau, samples. Pure: time and samples come in as arguments, all
 * memory is the struct. It knows no net: whether the load is a pup or a container is told by idle_mg.
 *
 * Life of a load: the scale is idle (within WEIGH_EMPTY_MG of idle_mg) -> onset -> plateau, told once as soon as it is
 * good enough (settled), or when SETTLE_RESTLESS_US have gone by (restless), or at removal -> idle again, which is told
 * with the container's own reading. A load that is exchanged for another without the scale having been idle is a new
 * one; one that is off for an instant is not. The scale without its container reads far below idle: that is told as a
 * load as well, and the caller sees by its figure what it is.
 */
#include "daemon/weigh/samples.h"
#include <stdbool.h>
#include <stdint.h>

/*
 * Good enough: SETTLE_MIN_US of plateau, known to SETTLE_GOOD_STEPS of a step (or SETTLE_GOOD_MG where that is more, or
 * SETTLE_GOOD_SHARE of what was put on); or lying still for SETTLE_STILL_US and as many samples, within one step in
 * all. Legal metrology takes a load for stable that stays within a step either way for 0.4 s (Canada, C.R.C., c. 1605,
 * p. 37; facts, 10.1): a pup that happens to be quiet does that between two kicks. Our choice.
 */
#define SETTLE_MIN_US UINT64_C(1500000)
#define SETTLE_MIN_SAMPLES 6
/* Of fewer than these nothing is said, but of a scale that sends results. */
#define SETTLE_FEW 3
#define SETTLE_GOOD_STEPS 0.20
#define SETTLE_GOOD_MG 300.0
#define SETTLE_GOOD_SHARE 0.003
#define SETTLE_STILL_US UINT64_C(1500000)
#define SETTLE_STILL_SAMPLES 5
/* A pup that hasn't lain still until then is told as it is. */
#define SETTLE_RESTLESS_US UINT64_C(6500000)
/* Taken off earlier it is told as well, when it was there for SETTLE_MIN_US and is known to this share of what was put
 * on: a hand that rests on the scale isn't. */
#define SETTLE_REMOVED_SHARE 0.05
/* ... without the lifting: what lies so many spreads, or steps, off the rest at its end. */
#define SETTLE_LIFTED_SPREADS 3
/* Without a sample for so long, and for three of the usual intervals, the scale has said its last word: a sample alone,
 * or one that agrees with the sample before it (see below), is its result. */
#define SETTLE_QUIET_US UINT64_C(1500000)
#define SETTLE_QUIET_INTERVALS 3
/* A load that is off for less than this was lifted in passing. */
#define SETTLE_PASSING_US UINT64_C(400000)
/* Alone is a sample when there was none before it for so long, and for twice the usual interval: such a scale sends
 * results. A mark "steady" is believed of a sample that is alone, or that agrees with the one before it to so many
 * steps or this share: a scale that streams may still carry the mark of the mass before. */
#define SETTLE_ALONE_US UINT64_C(1000000)
#define SETTLE_AGREE_STEPS 2
#define SETTLE_AGREE_SHARE 0.02
/* The empty container is read when it has lain still, within a step or this, for so long. */
#define SETTLE_IDLE_US UINT64_C(1000000)
#define SETTLE_IDLE_RANGE_MG 1000.0
/* All samples on one side of what was told for so long, and their mean off by SETTLE_CHANGE_MG and more than five
 * standard uncertainties of the difference: another load. */
#define SETTLE_CHANGE_US UINT64_C(2000000)
#define SETTLE_CHANGE_MG 15000.0
#define SETTLE_CHANGE_U 5.0

enum settle_mark { SETTLE_UNSAID, SETTLE_STEADY, SETTLE_MOVING }; /* what the scale says of a sample itself */

struct settle_sample {
	int64_t gross_mg;
	uint64_t at_us; /* monotonic; one before the sample before counts as of its time */
	enum settle_mark mark;
};

enum settle_event {
	SETTLE_NOTHING, /* goes on */
	SETTLE_ONSET,   /* something was put on the scale; left out where the same sample makes SETTLE_LOADED */
	SETTLE_LOADED,  /* *ret: the plateau's mass; once a load */
	SETTLE_IDLE,    /* *ret: a settled reading of the container alone, or of nothing; once after each removal */
};

struct settle_result {
	int64_t gross_mg;
	int64_t u_mg;  /* standard uncertainty, of motion, step and everything else in the samples */
	bool restless; /* it never lay still; u_mg says how well it is known all the same */
	unsigned n;    /* samples in it */
	uint64_t from_us, to_us;
};

enum settle_state {
	SETTLE_IS_IDLE,    /* and told, or not yet loaded */
	SETTLE_IS_EMPTIED, /* idle; its reading is still to be told */
	SETTLE_IS_LOADED,  /* its mass is still to be told */
	SETTLE_IS_TOLD,
};

/* Memory of one scale's stream. Members are for settle.c alone. */
struct settle {
	int64_t step_mg, idle_mg;
	enum settle_state state;
	struct samples samples; /* of the load or of the idle scale; told: of the last SETTLE_CHANGE_US */
	uint64_t began_us;      /* of the load, or of being idle */
	bool lifted;            /* of a load: idle since lifted_us, perhaps in passing */
	uint64_t lifted_us;
	bool heard; /* a sample came; the newest is: */
	struct settle_sample last;
	int64_t before_mg;    /* of the one before it */
	bool alone;           /* the newest was, when it came */
	bool begun_alone;     /* the first of the load was */
	uint64_t interval_us; /* the usual distance */
	bool moved;           /* the scale said so of a sample, last at moved_us */
	uint64_t moved_us;
	bool back;       /* the load under way may be the one told before, come back */
	int64_t told_mg; /* of the load told, as long as it is there */
	double told_u_mg;
};

/* step_mg: the wire's or scale's step, 0 not known. idle_mg: the remembered container on the scale, 0 for none. */
void settle_init(struct settle *settle, int64_t step_mg, int64_t idle_mg);
/* The container was changed or weighed again; what is under way goes on. */
void settle_set_idle(struct settle *settle, int64_t idle_mg);
/* The scale shows another unit; what is under way goes on. */
void settle_set_step(struct settle *settle, int64_t step_mg);
/* Takes one sample. *ret is set for SETTLE_LOADED and SETTLE_IDLE only. */
enum settle_event settle_take(struct settle *settle, const struct settle_sample *sample, struct settle_result *ret);
/* Time has gone by without a sample: many scales fall silent when their mass no longer changes. */
enum settle_event settle_wake(struct settle *settle, uint64_t now_us, struct settle_result *ret);
/* When settle_wake() is wanted, monotonic; UINT64_MAX: not at all. */
uint64_t settle_wake_us(const struct settle *settle);
/* The link ended: a load that wasn't told yet is, if its samples carry it (SETTLE_LOADED), and all is forgotten. */
enum settle_event settle_end(struct settle *settle, struct settle_result *ret);
