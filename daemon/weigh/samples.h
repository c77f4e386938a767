// SPDX-License-Identifier: MIT
#pragma once
/*
 * The samples of one load, oldest first. Above: settle. Below: nothing. Pure; all memory is the struct.
 * When it is full every other one is left out, and from then on every other one that comes: they are so close in time
 * then that half of them tell nearly as much.
 */
#include <stddef.h>
#include <stdint.h>

#define SAMPLES_MAX 256

struct samples {
	size_t n;
	double off_mg[SAMPLES_MAX]; /* less base_mg: a double holds that exactly where it may not hold the sum */
	uint64_t at_us[SAMPLES_MAX];
	int64_t base_mg;
	unsigned every, skipped; /* one of `every` is kept */
};

/* None are left. */
void samples_begin(struct samples *samples, int64_t base_mg);
void samples_keep(struct samples *samples, int64_t gross_mg, uint64_t at_us);
/* Leaves out all before sample number `first`, and all from `end` on; first <= end <= n. */
void samples_cut(struct samples *samples, size_t first, size_t end);
/* The first of those within so long before now; n when there is none. */
size_t samples_since(const struct samples *samples, uint64_t now_us, uint64_t us);
/* Largest less smallest from sample number `first` on, first < n. */
double samples_range(const struct samples *samples, size_t first);
/* a - b; one that doesn't fit is as far off as can be: masses come from outside. */
int64_t samples_apart_mg(int64_t a_mg, int64_t b_mg);
/* The mass of an offset, rounded to a milligram, kept inside the type. */
int64_t samples_mg(const struct samples *samples, double off_mg);
