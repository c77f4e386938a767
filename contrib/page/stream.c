// SPDX-License-Identifier: MIT
#include "contrib/page/stream.h"
#include "contrib/page/answer.h"
#include <errno.h>
#include <sys/queue.h>

#define BLOCK 4096 /* the library asks for so many octets at a time */
#define SLACK_USEC (100 * UINT64_C(1000))
#define PHONE_SIZE 16

struct stream {
	TAILQ_ENTRY(stream) at;
	struct streams *streams;
	struct MHD_Connection *connection;
	char phone[PHONE_SIZE];
	char *text; /* what waits */
	size_t size, n, from;
	char *newest; /* or NULL; goes when nothing else waits */
	bool asleep;  /* the library doesn't look at the connection */
	bool ending;  /* after what waits */
};

struct streams {
	sd_event_source *heartbeat;
	uint64_t heartbeat_usec;
	void (*run)(void *user);
	void *user;
	TAILQ_HEAD(, stream) open; /* the oldest first */
	size_t n;
};

/* ---- what waits ---- */

static void wake(struct stream *stream)
{
	if (!stream->asleep)
		return;
	stream->asleep = false;
	MHD_resume_connection(stream->connection);
	stream->streams->run(stream->streams->user);
}

static void end(struct stream *stream)
{
	stream->ending = true;
	wake(stream);
}

/* More than fits: nothing of it is of use, since the phone comes back and is told all anew. */
static void give_up(struct stream *stream)
{
	free(stream->text);
	stream->text = NULL;
	stream->size = stream->n = stream->from = 0;
	end(stream);
}

static bool make_room(struct stream *stream, size_t n)
{
	size_t size = stream->size ? stream->size : BLOCK;
	char *text;

	if (stream->from) {
		stream->n -= stream->from;
		memmove(stream->text, stream->text + stream->from, stream->n);
		stream->from = 0;
	}
	if (stream->n + n > STREAM_QUEUE)
		return false;
	while (size < stream->n + n)
		size *= 2;
	if (size == stream->size)
		return true;
	text = realloc(stream->text, size);
	if (!text)
		return false;
	stream->text = text;
	stream->size = size;
	return true;
}

static void put(struct stream *stream, const char *text, size_t n)
{
	if (stream->ending)
		return;
	if (!make_room(stream, n)) {
		give_up(stream);
		return;
	}
	memcpy(stream->text + stream->n, text, n);
	stream->n += n;
	wake(stream);
}

/* An event as it goes on the wire; NULL without memory. */
static char *event_of(const char *topic, const char *data)
{
	char *text;

	return asprintf(&text, "event: %s\ndata: %s\n\n", topic, data) < 0 ? NULL : text;
}

void stream_tell(struct stream *stream, const char *topic, const char *data)
{
	char *text = event_of(topic, data);

	if (text)
		put(stream, text, strlen(text));
	else
		give_up(stream); /* it would miss something */
	free(text);
}

static void put_newest(struct stream *stream, const char *text)
{
	if (stream->ending)
		return;
	free(stream->newest);
	stream->newest = strdup(text); /* without memory this one is missed; the next comes in a tenth of a second */
	wake(stream);
}

void streams_tell(struct streams *streams, const char *topic, const char *data, bool newest)
{
	char *text = streams->n ? event_of(topic, data) : NULL;
	struct stream *stream;

	TAILQ_FOREACH(stream, &streams->open, at)
	if (!text)
		give_up(stream);
	else if (newest)
		put_newest(stream, text);
	else
		put(stream, text, strlen(text));
	free(text);
}

void streams_keep(struct streams *streams, bool (*kept)(const char *phone, void *user), void *user)
{
	struct stream *stream;

	TAILQ_FOREACH(stream, &streams->open, at)
	if (!stream->ending && !kept(stream->phone, user)) {
		stream_tell(stream, "revoked", "{}");
		end(stream);
	}
}

void streams_end(struct streams *streams)
{
	struct stream *stream;

	TAILQ_FOREACH(stream, &streams->open, at)
	end(stream);
}

/* ---- the library's side ---- */

static void take_newest(struct stream *stream)
{
	char *text = stream->newest;

	stream->newest = NULL;
	if (text && !stream->ending && make_room(stream, strlen(text))) {
		memcpy(stream->text, text, strlen(text)); /* nothing else waits */
		stream->n = strlen(text);
	}
	free(text);
}

static ssize_t on_read(void *cls, uint64_t pos, char *buffer, size_t max)
{
	struct stream *stream = cls;
	size_t n;

	(void)pos;
	if (stream->n == stream->from)
		take_newest(stream);
	n = stream->n - stream->from;
	if (n == 0 && stream->ending)
		return MHD_CONTENT_READER_END_OF_STREAM;
	if (n == 0) {
		/* a night of silence needs no more than a little */
		free(stream->text);
		stream->text = NULL;
		stream->size = stream->n = stream->from = 0;
		stream->asleep = true;
		MHD_suspend_connection(stream->connection);
		return 0;
	}
	n = n < max ? n : max;
	memcpy(buffer, stream->text + stream->from, n);
	stream->from += n;
	return (ssize_t)n;
}

static void on_free(void *cls)
{
	struct stream *stream = cls;

	TAILQ_REMOVE(&stream->streams->open, stream, at);
	stream->streams->n--;
	free(stream->text);
	free(stream->newest);
	free(stream);
}

/* Also how the end of a phone that has gone is noticed: the connection is looked at again, and written to. */
static int on_heartbeat(sd_event_source *source, uint64_t usec, void *user)
{
	struct streams *streams = user;
	struct stream *stream;

	TAILQ_FOREACH(stream, &streams->open, at)
	put(stream, ":\n\n", 3);
	(void)sd_event_source_set_time(source, usec + streams->heartbeat_usec);
	return sd_event_source_set_enabled(source, SD_EVENT_ONESHOT);
}

int streams_new(struct streams **ret, sd_event *event, uint64_t heartbeat_usec, void (*run)(void *user), void *user)
{
	struct streams *streams = calloc(1, sizeof *streams);
	int r;

	if (!streams)
		return -ENOMEM;
	*streams = (struct streams){ .heartbeat_usec = heartbeat_usec, .run = run, .user = user };
	TAILQ_INIT(&streams->open);
	r = sd_event_add_time_relative(event, &streams->heartbeat, CLOCK_MONOTONIC, heartbeat_usec, SLACK_USEC,
				       on_heartbeat, streams);
	if (r < 0) {
		free(streams);
		return r;
	}
	*ret = streams;
	return 0;
}

struct streams *streams_free(struct streams *streams)
{
	if (!streams)
		return NULL;
	sd_event_source_disable_unref(streams->heartbeat);
	free(streams);
	return NULL;
}

/* Its oldest one, if it has as many as it may. */
static struct stream *too_many(struct streams *streams, const char *phone)
{
	struct stream *stream, *oldest = NULL;
	size_t n = 0;

	TAILQ_FOREACH(stream, &streams->open, at)
	if (!stream->ending && strcmp(stream->phone, phone) == 0) {
		oldest = oldest ? oldest : stream;
		n++;
	}
	return n >= STREAM_PER_PHONE ? oldest : NULL;
}

struct MHD_Response *streams_open(struct streams *streams, struct MHD_Connection *connection, const char *phone,
				  struct stream **ret_stream)
{
	struct stream *stream = streams->n < STREAM_MAX ? calloc(1, sizeof *stream) : NULL;
	struct stream *oldest = too_many(streams, phone);
	struct MHD_Response *response;

	if (!stream)
		return NULL;
	response = MHD_create_response_from_callback(MHD_SIZE_UNKNOWN, BLOCK, on_read, stream, on_free);
	if (!response) {
		free(stream);
		return NULL;
	}
	stream->streams = streams;
	stream->connection = connection;
	(void)snprintf(stream->phone, sizeof stream->phone, "%s", phone);
	TAILQ_INSERT_TAIL(&streams->open, stream, at); /* from now on the response frees it */
	streams->n++;
	if (oldest)
		end(oldest);
	if (!answer_headers(response, "text/event-stream", "no-store")) {
		MHD_destroy_response(response);
		return NULL;
	}
	*ret_stream = stream;
	return response;
}
