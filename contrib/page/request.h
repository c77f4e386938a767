// SPDX-License-Identifier: MIT
#pragma once
/*
 * One HTTP request on its way through server.c, call.c and pair.c.
 */
#include "contrib/page/answer.h"
#include "daemon/ctl/paired.h"

struct server;
struct route;
struct call;

#define REQUEST_BODY_MAX ((size_t)64 * 1024)

struct request {
	struct server *server;
	struct MHD_Connection *connection;
	const struct route *route;
	bool paired;
	struct paired_phone phone; /* when it is */
	struct refusal refusal;    /* status 0: none */
	char *body;
	size_t n;       /* octets of the body */
	size_t ignored; /* those that came after it was refused */
	bool run;
	struct call *call;    /* under way */
	struct answer answer; /* the end of it; response NULL: not yet */
};

/* The header's value, or NULL. */
const char *request_header(const struct request *request, const char *name);
/* Ends it with a refusal. */
void request_refuse(struct request *request, unsigned status, const char *code, const char *message, const char *hint);
/* Its body as a JSON object (a new reference); NULL after refusing it. */
json_t *request_object(struct request *request);
