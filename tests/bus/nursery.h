// SPDX-License-Identifier: MIT
#pragma once
/*
 * The scene of the tests: a scale, a container, a litter of eight; and what its scale sends.
 * Above: the tests. Below: client.h, rig.h. Names and masses are our own invention.
 */
#include "client.h"

#define BENCH "02:00:00:00:0A:01" /* locally administered addresses: nobody's */
#define PORCH "02:00:00:00:0A:02"
#define BOX_G 210

struct pup {
	const char *name, *collar;
	int grams;
};
#define PUPS 8
extern const struct pup nursery_pups[PUPS];

/* Defines a scale that can be heard, adopts it and waits until it is subscribed to. options: of scale-sim's `scale`. */
void nursery_scale(struct rig *rig, struct client *client, const char *address, const char *name, const char *options);
/* Litter `amber` with its eight, nothing else. */
void nursery_litter(struct client *client);
/* All: scale `bench`, container `box` of 210 g on it, the litter. */
void nursery_make(struct rig *rig, struct client *client);

/* Waits until the scale is subscribed to, and lets it indicate this value of 0x2A9D. */
void nursery_send(struct rig *rig, const char *address, const char *hex);
/* A result without time stamp: a multiple of 5 g on the scale. */
void nursery_weigh(struct rig *rig, const char *address, int gross_g);
/* Waits until bismard has read what the scale sent before: SIGTERM goes another way, and may overtake that. */
void nursery_await_read(struct client *client);
/* SIGKILL for bismard while it is subscribed to the bench. Waits until bluetoothd has noticed too: until then it counts
 * as a listener, and what the scale sends is lost. */
void nursery_kill(struct rig *rig);

/*
 * Octets as hexadecimal, to be used before the eighth call after; grams are multiples of 5.
 * Weight Measurement 0x2A9D: flags, weight, time stamp (Weight Scale Service 1.0.1, 3.2; GATT Specification Supplement,
 * Weight Measurement: SI weight in 0.005 kg, flag bit 1 time stamp; Date Time: year, month, day, h, min, s).
 */
const char *nursery_weight(int grams);
/* Stamped with the local time of offset_min minutes east at this second since 1970. */
const char *nursery_weight_at(int grams, int64_t utc_s, int offset_min);
/* Body Composition Measurement 0x2A9C of the same: flags bits 1 (time stamp) and 10 (weight), body fat 20.0 %. */
const char *nursery_body_at(int grams, int64_t utc_s, int offset_min);
/* One half of a Body Composition Measurement that comes in two indications (flag bit 12 in both; the Specification
 * Supplement): stamped; with the weight, or, for 0 g, without it and with muscle mass instead. */
const char *nursery_body_half_at(int grams, int64_t utc_s);
/* A time near now, whole seconds. */
int64_t nursery_now_s(void);
