// SPDX-License-Identifier: MIT
#pragma once
/* POST /pair: a code becomes a cookie. */
#include "contrib/page/phones.h"
#include "contrib/page/request.h"

#define PAIR_BURST 10.0          /* attempts, of all phones together */
#define PAIR_PER_S (10.0 / 60.0) /* and so many again in a second; a code has five tries anyway */

/* Sets request->answer. secure: the cookie goes over TLS alone. */
void pair_run(struct request *request, struct phones *phones, struct rate *rate, uint64_t now_usec, bool secure);
