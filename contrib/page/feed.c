// SPDX-License-Identifier: MIT
#include "contrib/page/feed.h"
#include "daemon/ctl/field.h"
#include <errno.h>

#define LINK_UP "{\"up\":true}"
#define LINK_UP_OUNCES "{\"up\":true,\"units\":\"oz\"}"
#define LINK_DOWN "{\"up\":false,\"say\":\"bismard doesn't answer\"}"

static const char *const topics[] = { "ask",     "withdraw", "recorded", "imported",  "live",
				      "concern", "round",    "scale",    "container", NULL };

static const char *link_up(const struct feed *feed)
{
	return feed->ounces ? LINK_UP_OUNCES : LINK_UP;
}

static void on_up(void *user)
{
	struct feed *feed = user;

	free(feed->link);
	feed->link = NULL;
	streams_tell(feed->streams, "link", link_up(feed), false);
}

static void on_down(void *user, const char *say)
{
	struct feed *feed = user;
	json_t *link = json_pack("{s:b, s:s}", "up", 0, "say", say);

	(void)json_object_clear(feed->asks); /* the daemon tells them anew */
	free(feed->link);
	feed->link = link ? json_dumps(link, JSON_COMPACT) : NULL;
	json_decref(link);
	streams_tell(feed->streams, "link", feed->link ? feed->link : LINK_DOWN, false);
}

static void remember(struct feed *feed, const char *topic, const json_t *params)
{
	const char *ask = field_text(params, "ask");

	if (strcmp(topic, "ask") == 0 && json_object_size(feed->asks) < FEED_ASKS)
		(void)json_object_set(feed->asks, ask,
				      (json_t *)params); /* else new streams miss it until it is told again */
	else if (strcmp(topic, "withdraw") == 0 || strcmp(topic, "recorded") == 0)
		(void)json_object_del(feed->asks, ask); /* it need not be among them */
}

static void on_notice(void *user, const char *topic, const json_t *params)
{
	struct feed *feed = user;
	char *data = json_dumps(params, JSON_COMPACT);

	remember(feed, topic, params);
	if (data)
		streams_tell(feed->streams, topic, data, strcmp(topic, "live") == 0);
	free(data);
}

int feed_init(struct feed *feed, sd_event *event, struct streams *streams, const char *socket, bool ounces)
{
	static const struct peer_calls calls = { on_up, on_down, on_notice };

	*feed = (struct feed){ .streams = streams, .asks = json_object(), .ounces = ounces };
	return feed->asks ? peer_new(&feed->peer, event, socket, topics, &calls, feed) : -ENOMEM;
}

void feed_done(struct feed *feed)
{
	feed->peer = peer_free(feed->peer);
	json_decref(feed->asks);
	feed->asks = NULL;
	free(feed->link);
	feed->link = NULL;
}

void feed_greet(const struct feed *feed, struct stream *stream)
{
	const char *key;
	json_t *ask;

	if (!feed->peer || !peer_is_up(feed->peer)) {
		stream_tell(stream, "link", feed->link ? feed->link : LINK_DOWN);
		return;
	}
	stream_tell(stream, "link", link_up(feed));
	json_object_foreach (feed->asks, key, ask) {
		char *data = json_dumps(ask, JSON_COMPACT);
		if (data)
			stream_tell(stream, "ask", data);
		free(data);
	}
}
