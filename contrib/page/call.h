// SPDX-License-Identifier: MIT
#pragma once
/* POST /call: a request of the phone's, passed on to the daemon. The connection sleeps until the daemon has answered.
 */
#include "contrib/client/peer.h"
#include "contrib/page/request.h"

#define CALL_MAX 64 /* under way at once */

struct calls {
	struct peer *peer; /* borrowed */
	size_t n;
	void (*run)(void *user); /* called when the library has something to do */
	void *user;
};

/* Sets request->answer, or request->call. */
void call_begin(struct calls *calls, struct request *request);
/* The request goes away: what the daemon will answer is dropped. */
void call_forget(struct request *request);
