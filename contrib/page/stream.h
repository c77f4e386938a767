// SPDX-License-Identifier: MIT
#pragma once
/*
 * Server-sent events (WHATWG HTML, section 9.2): the open streams, what waits for each, and a sign of life.
 * A stream that doesn't take what it is sent is ended at STREAM_QUEUE octets: the phone comes back by itself and is
 * told the open asks anew. Of `live` the newest alone waits. Above: server.c, feed.c. Below: libmicrohttpd.
 */
#include <microhttpd.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <systemd/sd-event.h>

#define STREAM_QUEUE ((size_t)256 * 1024)
#define STREAM_MAX 32      /* at once */
#define STREAM_PER_PHONE 4 /* of them; one more, and its oldest ends */

struct streams;
struct stream;

/* run: called when the library has something to do; user is its. 0 or -errno. */
int streams_new(struct streams **ret, sd_event *event, uint64_t heartbeat_usec, void (*run)(void *user), void *user);
/* Takes NULL, returns NULL. All streams were ended, and the library has let go of them. */
struct streams *streams_free(struct streams *streams);

/*
 * A response that never ends by itself, for the phone of that id. *ret_stream is for what it is told first; it belongs
 * to the response. NULL: no memory, or STREAM_MAX are open.
 */
struct MHD_Response *streams_open(struct streams *streams, struct MHD_Connection *connection, const char *phone,
				  struct stream **ret_stream);
/* data: JSON in one line. */
void stream_tell(struct stream *stream, const char *topic, const char *data);
/* The same to all. newest: what waits of the same kind is replaced. */
void streams_tell(struct streams *streams, const char *topic, const char *data, bool newest);
/* Ends those whose phone isn't kept, telling each `revoked` before. */
void streams_keep(struct streams *streams, bool (*kept)(const char *phone, void *user), void *user);
/* Ends all. */
void streams_end(struct streams *streams);
