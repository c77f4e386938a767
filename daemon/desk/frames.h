// SPDX-License-Identifier: MIT
#pragma once
/* What stream.c and broadcast.c share with frames.c: from a decoded mass to a result. */
#include "daemon/desk/passage.h"
#include "protocols/payload.h"

/* The step of this mass: the wire's, or the scale's own where that is coarser. */
int64_t frames_step_mg(const struct roster_scale *scale, const struct payload *payload);
/* The result that the mass is, dated by its stamp where it has one. scale and frame are borrowed. */
struct passage frames_passage(struct roster_scale *scale, const struct radio_frame *frame,
			      const struct payload *payload);
