// SPDX-License-Identifier: MIT
#include "daemon/weigh/samples.h"
#include <math.h>
#include <string.h>

#define FAR_MG 9e15 /* a double counts milligrams one by one up to there */

void samples_begin(struct samples *samples, int64_t base_mg)
{
	samples->n = 0;
	samples->base_mg = base_mg;
	samples->every = 1;
	samples->skipped = 0;
}

static void thin_out(struct samples *samples)
{
	for (size_t i = 0; i < SAMPLES_MAX / 2; i++) {
		samples->off_mg[i] = samples->off_mg[2 * i + 1];
		samples->at_us[i] = samples->at_us[2 * i + 1];
	}
	samples->n = SAMPLES_MAX / 2;
	samples->every *= 2;
}

void samples_keep(struct samples *samples, int64_t gross_mg, uint64_t at_us)
{
	double off_mg = (double)samples_apart_mg(gross_mg, samples->base_mg);

	if (++samples->skipped < samples->every)
		return;
	samples->skipped = 0;
	if (samples->n == SAMPLES_MAX) {
		thin_out(samples);
		samples->skipped = samples->every / 2; /* it is the next to be left out */
		return;
	}
	samples->off_mg[samples->n] = fmax(-FAR_MG, fmin(FAR_MG, off_mg));
	samples->at_us[samples->n++] = at_us;
}

void samples_cut(struct samples *samples, size_t first, size_t end)
{
	samples->n = end - first;
	memmove(samples->off_mg, samples->off_mg + first, samples->n * sizeof *samples->off_mg);
	memmove(samples->at_us, samples->at_us + first, samples->n * sizeof *samples->at_us);
}

size_t samples_since(const struct samples *samples, uint64_t now_us, uint64_t us)
{
	size_t first = samples->n;

	while (first > 0 && now_us - samples->at_us[first - 1] <= us)
		first--;
	return first;
}

double samples_range(const struct samples *samples, size_t first)
{
	double low = INFINITY, high = -INFINITY;

	for (size_t i = first; i < samples->n; i++) {
		low = fmin(low, samples->off_mg[i]);
		high = fmax(high, samples->off_mg[i]);
	}
	return high - low;
}

int64_t samples_apart_mg(int64_t a_mg, int64_t b_mg)
{
	int64_t ret;

	if (__builtin_sub_overflow(a_mg, b_mg, &ret))
		return a_mg > b_mg ? INT64_MAX : INT64_MIN;
	return ret;
}

int64_t samples_mg(const struct samples *samples, double off_mg)
{
	int64_t ret, off = (int64_t)floor(fmax(-FAR_MG, fmin(FAR_MG, off_mg)) + 0.5);

	if (__builtin_add_overflow(samples->base_mg, off, &ret))
		return off > 0 ? INT64_MAX : INT64_MIN;
	return ret;
}
