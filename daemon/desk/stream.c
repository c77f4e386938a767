// SPDX-License-Identifier: MIT
#include "daemon/desk/stream.h"
#include "daemon/desk/frames.h"
#include "daemon/desk/room.h"
#include "daemon/log.h"
#include "daemon/weigh/settle.h"
#include "daemon/weigh/weigh.h"
#include <systemd/sd-event.h>

enum stream_kind {
	STREAM_UNKNOWN, /* nothing is known of how it reports */
	STREAM_HOLDS,   /* one value waits for what follows it */
	STREAM_RESULTS, /* its values are results, until one differs soon after another */
	STREAM_SAMPLES,
};

/* So many equal values within STREAM_DOUBT_US are a stream's: a scale that repeats its result is slower. Ours. */
#define DOUBT_EQUAL 6
#define KEPT_MAX (LIMIT_STREAM_FRAMES + 1) /* the last, and those beside it */
#define BEFORE_ONSET_MS 1000 /* what came longer before a load tells nothing of it */

struct stream {
	struct stream *next;
	struct desk *desk;
	char scale_id[UUID7_SIZE];
	enum stream_kind kind;
	sd_event_source *timer;
	struct payload held; /* with STREAM_HOLDS: of each kept frame, that is, their masses are equal */
	uint64_t held_us;    /* when the first of them came */
	uint64_t equal_us;   /* since when the equal ones are counted */
	unsigned n_equal;
	struct settle settle;
	bool begun;          /* settle was */
	int64_t step_mg;
	/* the newest frames of the load, oldest first from `first` */
	struct frame_copy *kept[KEPT_MAX];
	size_t first, n;
	int64_t newest_mg;
	bool tared;
	int user;
};

static uint64_t now_us(struct desk *desk)
{
	uint64_t us = 0;

	(void)sd_event_now(desk->event, CLOCK_MONOTONIC, &us); /* fails only for clocks that don't exist */
	return us;
}

/* ---- the frames that go into the ledger with the result ---- */

static void drop_oldest(struct stream *stream)
{
	free(stream->kept[stream->first]);
	stream->first = (stream->first + 1) % KEPT_MAX;
	stream->n--;
}

static void keep(struct stream *stream, const struct radio_frame *frame)
{
	struct frame_copy *copy = frame_copy(frame);

	if (!copy)
		return; /* the sample counts all the same */
	if (stream->n == KEPT_MAX)
		drop_oldest(stream);
	stream->kept[(stream->first + stream->n++) % KEPT_MAX] = copy;
}

/* i: 0 for the oldest */
static struct frame_copy *kept(const struct stream *stream, size_t i)
{
	return stream->kept[(stream->first + i) % KEPT_MAX];
}

static struct frame_copy *newest(const struct stream *stream)
{
	return stream->n ? kept(stream, stream->n - 1) : NULL;
}

static void drop_all(struct stream *stream)
{
	while (stream->n)
		drop_oldest(stream);
}

/* A load begins: of what came before it only the last moments are worth keeping. */
static void drop_old(struct stream *stream)
{
	int64_t now_ms = stream->n ? newest(stream)->frame.received_ms : 0;

	while (stream->n > 1 && kept(stream, 0)->frame.received_ms < now_ms - BEFORE_ONSET_MS)
		drop_oldest(stream);
}

/* ---- what came of it ---- */

static void deliver(struct stream *stream, struct roster_scale *scale, const struct settle_result *settled, bool all)
{
	struct radio_frame before[LIMIT_STREAM_FRAMES];
	struct frame_copy *last = newest(stream);
	struct passage passage = {
		.kind = PASSAGE_RESULT,
		.scale = scale,
		.before = before,
		.result = {
			.gross_mg = settled->gross_mg,
			.step_mg = stream->step_mg,
			.u_mg = settled->u_mg,
			.fresh = true,
		},
		.frame_mg = stream->newest_mg,
		.restless = settled->restless,
		.tared = stream->tared,
		.user = stream->user,
	};

	if (!last) {
		log_error("no memory to keep a result of scale %s", scale->name);
		return;
	}
	passage.frame = &last->frame;
	passage.result.received_ms = last->frame.received_ms;
	passage.result.link = last->frame.link;
	for (size_t i = 0; all && i + 1 < stream->n; i++)
		before[passage.n_before++] = kept(stream, i)->frame;
	(void)passage_take(stream->desk, &passage);
}

static void follow(struct stream *stream, struct roster_scale *scale, enum settle_event event,
		   const struct settle_result *settled)
{
	switch (event) {
	case SETTLE_NOTHING:
		break;
	case SETTLE_ONSET:
		drop_old(stream);
		break;
	case SETTLE_LOADED:
		deliver(stream, scale, settled, true);
		drop_all(stream);
		break;
	case SETTLE_IDLE: /* one frame shows what an empty container weighs */
		deliver(stream, scale, settled, false);
		drop_all(stream);
		break;
	}
}

/* The container on the scale may have been changed or weighed since the last sample. */
static void follow_idle(struct stream *stream, struct roster_scale *scale)
{
	int64_t idle_mg = passage_idle_mg(stream->desk, scale, stream->tared);

	if (!stream->begun) {
		settle_init(&stream->settle, stream->step_mg, idle_mg);
		stream->begun = true;
	} else {
		settle_set_step(&stream->settle, stream->step_mg);
		settle_set_idle(&stream->settle, idle_mg);
	}
}

static void sleep_until(struct stream *stream, uint64_t at_us)
{
	if (at_us == UINT64_MAX) {
		(void)sd_event_source_set_enabled(stream->timer, SD_EVENT_OFF);
		return;
	}
	(void)sd_event_source_set_time(stream->timer, at_us);
	(void)sd_event_source_set_enabled(stream->timer, SD_EVENT_ONESHOT);
}

static void sample(struct stream *stream, struct roster_scale *scale, const struct payload *payload, uint64_t at_us)
{
	struct settle_sample one = {
		.gross_mg = payload->mass_mg,
		.at_us = at_us,
		.mark = payload->steady == PAYLOAD_STEADY_YES ? SETTLE_STEADY :
			payload->steady == PAYLOAD_STEADY_NO  ? SETTLE_MOVING :
								SETTLE_UNSAID,
	};
	struct settle_result settled;
	enum settle_event event;

	stream->newest_mg = payload->mass_mg;
	follow_idle(stream, scale);
	passage_tell_live(stream->desk, scale, payload->mass_mg, stream->step_mg, payload->tared,
			  one.mark == SETTLE_STEADY);
	event = settle_take(&stream->settle, &one, &settled);
	follow(stream, scale, event, &settled);
	sleep_until(stream, settle_wake_us(&stream->settle));
}

/* ---- results or samples? ---- */

static void held_were_results(struct stream *stream, struct roster_scale *scale)
{
	stream->kind = STREAM_RESULTS;
	for (size_t i = 0; i < stream->n; i++) {
		struct passage passage = frames_passage(scale, &kept(stream, i)->frame, &stream->held);
		(void)passage_take(stream->desk, &passage);
	}
	drop_all(stream);
}

/* Begins to wait for what follows. */
static void hold(struct stream *stream, const struct radio_frame *frame, const struct payload *payload, uint64_t at_us)
{
	stream->kind = STREAM_HOLDS;
	stream->held = *payload;
	stream->held_us = stream->equal_us = at_us;
	stream->n_equal = 1;
	keep(stream, frame);
	sleep_until(stream, at_us + STREAM_DOUBT_US);
}

/* The same mass again. True: too often for a result. */
static bool count_equal(struct stream *stream, uint64_t at_us)
{
	if (at_us - stream->equal_us >= STREAM_DOUBT_US) {
		stream->equal_us = at_us;
		stream->n_equal = 0;
	}
	return ++stream->n_equal >= DOUBT_EQUAL;
}

static bool is_idle(struct stream *stream, const struct roster_scale *scale, const struct payload *payload)
{
	int64_t off_mg = payload->mass_mg - passage_idle_mg(stream->desk, scale, payload->tared);

	return off_mg <= WEIGH_EMPTY_MG && off_mg >= -WEIGH_EMPTY_MG;
}

/* True when the sample is for settle; else it was dealt with. */
static bool is_sample(struct stream *stream, struct roster_scale *scale, const struct radio_frame *frame,
		      const struct payload *payload, uint64_t at_us)
{
	switch (stream->kind) {
	case STREAM_SAMPLES:
		return true;
	case STREAM_UNKNOWN:
	case STREAM_RESULTS:
		hold(stream, frame, payload, at_us);
		return false;
	case STREAM_HOLDS:
		if (payload->mass_mg != stream->held.mass_mg || count_equal(stream, at_us)) {
			stream->kind = STREAM_SAMPLES;
			sample(stream, scale, &stream->held, stream->held_us);
			return true;
		}
		if (!is_idle(stream, scale, payload)) {
			keep(stream, frame);
			return false;
		}
		/* an empty scale that says so through the night must not fill the ledger: once it ends, or changes */
		stream->held_us = at_us;
		sleep_until(stream, at_us + STREAM_DOUBT_US);
		return false;
	}
	return true;
}

static int on_timer(sd_event_source *source, uint64_t at_us, void *userdata)
{
	struct stream *stream = userdata;
	struct roster_scale *scale = roster_scale_by_id(&stream->desk->roster, stream->scale_id);
	struct settle_result settled;
	enum settle_event event;

	(void)source;
	(void)at_us;
	if (!scale)
		return 0;
	if (stream->kind == STREAM_HOLDS) {
		held_were_results(stream, scale);
		return 0;
	}
	follow_idle(stream, scale);
	event = settle_wake(&stream->settle, now_us(stream->desk), &settled);
	follow(stream, scale, event, &settled);
	sleep_until(stream, settle_wake_us(&stream->settle));
	return 0;
}

/* ---- life ---- */

static struct stream *find(struct desk *desk, const char *scale_id)
{
	struct stream *stream = desk->streams;

	while (stream && strcmp(stream->scale_id, scale_id) != 0)
		stream = stream->next;
	return stream;
}

static struct stream *stream_free(struct stream *stream)
{
	drop_all(stream);
	sd_event_source_disable_unref(stream->timer);
	free(stream);
	return NULL;
}

static struct stream *begin(struct desk *desk, const struct roster_scale *scale)
{
	struct stream *stream = calloc(1, sizeof *stream);

	if (!stream)
		return NULL;
	stream->desk = desk;
	(void)snprintf(stream->scale_id, sizeof stream->scale_id, "%s", scale->id);
	if (sd_event_add_time(desk->event, &stream->timer, CLOCK_MONOTONIC, 0, 1000, on_timer, stream) < 0 ||
	    sd_event_source_set_enabled(stream->timer, SD_EVENT_OFF) < 0)
		return stream_free(stream);
	stream->next = desk->streams;
	desk->streams = stream;
	return stream;
}

void stream_take(struct desk *desk, struct roster_scale *scale, const struct radio_frame *frame,
		 const struct payload *payload, bool doubtful)
{
	struct stream *stream = find(desk, scale->id);
	uint64_t at_us = now_us(desk);

	if (!stream)
		stream = begin(desk, scale);
	if (!stream) {
		log_error("no memory for the samples of scale %s", scale->name);
		return;
	}
	if (!doubtful)
		stream->kind = STREAM_SAMPLES;
	if (stream->kind == STREAM_HOLDS && at_us >= stream->held_us + STREAM_DOUBT_US)
		held_were_results(stream, scale); /* its timer is late */
	stream->step_mg = frames_step_mg(scale, payload);
	stream->tared = payload->tared;
	stream->user = payload->has_user && payload->user != 0xff ? payload->user : -1;
	if (!is_sample(stream, scale, frame, payload, at_us))
		return;
	keep(stream, frame);
	sample(stream, scale, payload, at_us);
}

void stream_end(struct desk *desk, struct roster_scale *scale)
{
	struct stream *stream = find(desk, scale->id);
	struct settle_result settled;

	if (!stream)
		return;
	if (stream->kind == STREAM_HOLDS)
		held_were_results(stream, scale);
	if (stream->begun)
		follow(stream, scale, settle_end(&stream->settle, &settled), &settled);
	stream->begun = false;
	drop_all(stream);
	sleep_until(stream, UINT64_MAX);
}

void streams_begin_anew(struct desk *desk, const char *scale_id)
{
	for (struct stream *stream = desk->streams; stream; stream = stream->next)
		if (!*scale_id || strcmp(stream->scale_id, scale_id) == 0)
			stream->begun = false;
}

void stream_forget(struct desk *desk, const char *scale_id)
{
	for (struct stream **at = &desk->streams; *at; at = &(*at)->next) {
		struct stream *stream = *at;
		if (strcmp(stream->scale_id, scale_id) != 0)
			continue;
		*at = stream->next;
		stream_free(stream);
		return;
	}
}

void streams_done(struct desk *desk)
{
	while (desk->streams) {
		struct stream *stream = desk->streams;
		struct roster_scale *scale = roster_scale_by_id(&desk->roster, stream->scale_id);
		desk->streams = stream->next;
		if (scale && stream->kind == STREAM_HOLDS)
			held_were_results(stream, scale);
		stream_free(stream);
	}
}
