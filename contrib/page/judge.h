// SPDX-License-Identifier: MIT
#pragma once
/*
 * Whether a request may be answered: its host, whose it is, whether another site had a hand in it, its path and method.
 * HTTP.md has the refusals. Above: server.c. Below: host, route, phones, guests.
 */
#include "contrib/page/guests.h"
#include "contrib/page/phones.h"
#include "contrib/page/request.h"
#include "contrib/page/server.h"

struct judge {
	const struct server_options *options;
	struct phones *phones;
	struct guests *guests;
	uint64_t now_usec; /* monotonic */
};

/* Decides by the headers alone; what is wrong is in request->refusal, whose it is and which route in request. */
void judge_request(const struct judge *judge, struct request *request, const char *path, const char *method);
/* Refuses it for the length of its body, which may show only as it comes. */
void judge_too_large(struct request *request);
