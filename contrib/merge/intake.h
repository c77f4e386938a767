// SPDX-License-Identifier: MIT
#pragma once
/*
 * What has come and isn't stored yet, within bounds: messages become rows of a batch, or are counted as refused. Above:
 * gather. Below: record, keep's batch, the log.
 */
#include "contrib/merge/keep.h"
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define INTAKE_ROWS 1000             /* then it is full */
#define INTAKE_OCTETS (4U * 1048576) /* of payloads; then it is full too */
#define INTAKE_LINES 20              /* refusals that are told a minute; the rest is counted */

struct intake {
	const char *base; /* borrowed */
	struct keep_batch batch;
	size_t rows, octets;
	int64_t minute_ms; /* when the newest minute of refusals began */
	size_t lines;      /* told in it */
	uint64_t refused;  /* in all */
	uint64_t untold;
};

/* 0 or -ENOMEM. */
int intake_init(struct intake *intake, const char *base);
void intake_done(struct intake *intake); /* takes a zeroed one */

/* now_ms: monotonic. Whatever is wrong with it is told and counted, and nothing else. */
void intake_put(struct intake *intake, const char *topic, const void *octets, size_t n, int64_t now_ms);
bool intake_full(const struct intake *intake);
bool intake_empty(const struct intake *intake);
/* It is stored. 0 or -ENOMEM. */
int intake_clear(struct intake *intake);
