// SPDX-License-Identifier: MIT
#include "contrib/speak/talk.h"
#include "contrib/client/aloud.h"
#include "contrib/client/peer.h"
#include "contrib/speak/said.h"
#include "contrib/speak/turn.h"
#include "daemon/ctl/ctl.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/level.h"
#include "daemon/log.h"
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/epoll.h>
#include <time.h>
#include <unistd.h>

/* Local time may jump meanwhile, so its end is looked for again after so long at the most. */
#define LOOK_AGAIN_MIN 10

struct talk {
	sd_event *event;
	struct talk_setup setup;
	struct peer *peer;
	struct voice *voice;
	struct questions *questions;
	struct turn turn;
	struct said said;      /* of concerns */
	enum turn_kind saying; /* while the voice is busy */
	sd_event_source *hears;
	sd_event_source *quiet_ends; /* on while concerns wait for it */
	int aloud;
	bool was_up;
};

/* ---- saying ---- */

static int minute_of(int64_t at_ms)
{
	time_t seconds = (time_t)(at_ms / 1000);
	struct tm local;

	if (!localtime_r(&seconds, &local))
		return 0; /* beyond any calendar */
	return local.tm_hour * 60 + local.tm_min;
}

/* -1: this isn't said now. */
static int volume_of(const struct talk *talk, enum turn_kind kind)
{
	if (!quiet_at(&talk->setup.quiet, minute_of(ctl_now_ms())))
		return talk->setup.volume;
	if (kind == TURN_VET && talk->setup.quiet_volume == 0)
		return talk->setup.volume;
	return talk->setup.quiet_volume > 0 ? talk->setup.quiet_volume : -1;
}

/* What a concern says holds until morning; a question doesn't. */
static void hold(struct talk *talk)
{
	int left = quiet_left_min(&talk->setup.quiet, minute_of(ctl_now_ms()));

	if (left == 0)
		return;
	if (left > LOOK_AGAIN_MIN)
		left = LOOK_AGAIN_MIN;
	(void)sd_event_source_set_time_relative(talk->quiet_ends, (uint64_t)left * 60 * 1000000);
	(void)sd_event_source_set_enabled(talk->quiet_ends, SD_EVENT_ONESHOT);
}

static void go_on(struct talk *talk)
{
	enum turn_kind held = volume_of(talk, TURN_CONCERN) < 0 ? TURN_CONCERN : TURN_KINDS;
	char quoted[2 * WORDS_SIZE];
	struct turn_line line;

	while (!voice_is_busy(talk->voice) && turn_next(&talk->turn, held, &line)) {
		int volume = volume_of(talk, line.kind), r;
		log_quote(line.text, quoted, sizeof quoted);
		if (volume < 0) {
			log_debug("quiet hours: %s", quoted);
			continue;
		}
		log_info("%s", quoted);
		talk->saying = line.kind;
		r = voice_say(talk->voice, line.text, volume);
		if (r < 0)
			log_warning("can't be said: %s; is espeak-ng or speech-dispatcher installed?", strerror(-r));
	}
	if (!voice_is_busy(talk->voice) && talk->turn.n > 0)
		hold(talk);
}

static int on_quiet_ends(sd_event_source *source, uint64_t usec, void *user)
{
	(void)source, (void)usec;
	go_on(user);
	return 0;
}

static void on_done(void *user, bool well)
{
	(void)well;
	go_on(user);
}

static void say_of(struct talk *talk, enum turn_kind kind, const char *id, const char *text)
{
	if (turn_add(&talk->turn, kind, id, text))
		log_debug("more than can be said: the least urgent was left out");
	go_on(talk);
}

static void say(struct talk *talk, enum turn_kind kind, const char *text)
{
	say_of(talk, kind, "", text);
}

static void break_off(struct talk *talk, enum turn_kind kind)
{
	if (voice_is_busy(talk->voice) && talk->saying == kind)
		voice_stop(talk->voice);
}

/* ---- the question ---- */

static void ask(struct talk *talk)
{
	const struct question *question = questions_current(talk->questions);
	char words[WORDS_SIZE];
	bool old;

	if (!question)
		return;
	old = ctl_now_ms() - question->at_ms > QUESTION_FRESH_MS;
	words_question(question, old ? minute_of(question->at_ms) : -1, talk->setup.unit, words);
	say(talk, TURN_QUESTION, words);
}

/* What is asked now is another question: the one before isn't said to its end, since a key would answer this one. */
static void changed(struct talk *talk, bool so)
{
	if (!so)
		return;
	break_off(talk, TURN_QUESTION);
	turn_drop(&talk->turn, TURN_QUESTION);
	ask(talk);
	go_on(talk);
}

/* ---- the daemon ---- */

static void on_asks(void *user, enum peer_outcome outcome, const json_t *body)
{
	struct talk *talk = user;

	if (outcome == PEER_RESULT)
		changed(talk, questions_set(talk->questions, json_object_get(body, "asks"), ctl_now_ms()));
}

static void on_down(void *user, const char *why)
{
	struct talk *talk = user;

	log_warning("%s", why);
	changed(talk, questions_set(talk->questions, NULL, 0));
	if (talk->was_up) /* silence would be taken for nothing to say */
		say(talk, TURN_WORD, "bismar does not answer any more.");
	talk->was_up = false;
}

static void on_recorded(struct talk *talk, const json_t *params)
{
	char words[WORDS_SIZE];
	int64_t net_mg = 0;

	(void)field_mg(params, "net_g", &net_mg); /* always there */
	words_recorded(field_text(params, "name"), net_mg, field_true(params, "corrected"), talk->setup.unit, words);
	say(talk, TURN_RECORDED, words);
	changed(talk, questions_drop(talk->questions, field_text(params, "ask")));
}

static void tell_concern(struct talk *talk, const json_t *concern)
{
	const char *level = field_text(concern, "level"), *id = field_text(concern, "concern");
	bool waited = turn_forget(&talk->turn, id); /* it is told as it is now, or not at all */
	unsigned rank = level_rank(level);
	char words[WORDS_SIZE], quoted[2 * WORDS_SIZE];

	if ((!said_is_news(&talk->said, id, rank) && !waited) || rank > 1)
		return; /* to look at is for the eyes */
	words_concern(level, field_text(concern, "name"), field_text(concern, "text"), words);
	if (rank > 0 && volume_of(talk, TURN_CONCERN) < 0)
		log_debug("quiet hours, to be said after them: %s", log_quote(words, quoted, sizeof quoted));
	say_of(talk, rank == 0 ? TURN_VET : TURN_CONCERN, id, words);
}

static void on_concern(struct talk *talk, const json_t *params)
{
	if (field_true(params, "open"))
		tell_concern(talk, params);
	else if (turn_forget(&talk->turn, field_text(params, "concern")))
		log_debug("a concern that waited to be said holds no longer");
}

/* Of those that opened before the voice did, the gravest are said. */
static void on_concerns(void *user, enum peer_outcome outcome, const json_t *body)
{
	struct talk *talk = user;
	const json_t *concern;
	size_t i;

	if (outcome != PEER_RESULT)
		return;
	json_array_foreach (json_object_get(body, "concerns"), i, concern)
		if (level_rank(field_text(concern, "level")) == 0)
			tell_concern(talk, concern);
}

static void on_up(void *user)
{
	struct talk *talk = user;

	log_info("bismard answers");
	talk->was_up = true;
	/* if one fails, the connection is ended */
	(void)peer_request(talk->peer, "asks", NULL, on_asks, talk);
	(void)peer_request(talk->peer, "concerns", NULL, on_concerns, talk);
}

static void on_notice(void *user, const char *topic, const json_t *params)
{
	struct talk *talk = user;

	if (strcmp(topic, "ask") == 0)
		changed(talk, questions_put(talk->questions, params, ctl_now_ms()));
	else if (strcmp(topic, "withdraw") == 0)
		changed(talk, questions_drop(talk->questions, field_text(params, "ask")));
	else if (strcmp(topic, "recorded") == 0)
		on_recorded(talk, params);
	else if (strcmp(topic, "concern") == 0)
		on_concern(talk, params);
}

/* ---- what others have said ---- */

static void hear(struct talk *talk, const char *sentence)
{
	bool now = strncmp(sentence, ALOUD_NOW, strlen(ALOUD_NOW)) == 0;
	char words[WORDS_SIZE];

	if (strcmp(sentence, ALOUD_AGAIN) == 0) {
		break_off(talk, TURN_QUESTION);
		ask(talk);
		return;
	}
	if (now) { /* and so in place of what was said before for the same hand */
		break_off(talk, TURN_QUESTION);
		break_off(talk, TURN_WORD);
		turn_drop(&talk->turn, TURN_QUESTION);
		turn_drop(&talk->turn, TURN_WORD);
	}
	words_clean(sentence + (now ? strlen(ALOUD_NOW) : 0), words, sizeof words);
	if (*words)
		say(talk, TURN_WORD, words);
}

static int on_heard(sd_event_source *source, int fd, uint32_t events, void *user)
{
	char sentence[ALOUD_BYTES + 1];
	int n = aloud_receive(fd, sentence, sizeof sentence);

	(void)source, (void)events;
	if (n > 0)
		hear(user, sentence);
	else if (n < 0 && n != -EAGAIN)
		log_warning("what is to be said can't be heard: %s", strerror(-n));
	return 0;
}

static int listen_aloud(struct talk *talk)
{
	if (!talk->setup.aloud)
		return 0;
	talk->aloud = aloud_listen(talk->setup.aloud);
	if (talk->aloud < 0) {
		log_error("%s can't be made: %s", talk->setup.aloud, strerror(-talk->aloud));
		return talk->aloud;
	}
	return sd_event_add_io(talk->event, &talk->hears, talk->aloud, EPOLLIN, on_heard, talk);
}

/* ---- from outside ---- */

int talk_new(struct talk **ret, sd_event *event, const struct talk_setup *setup)
{
	static const char *const topics[] = { "ask", "withdraw", "recorded", "concern", NULL };
	static const struct peer_calls calls = { on_up, on_down, on_notice };
	struct talk *talk = calloc(1, sizeof *talk);
	int r;

	if (!talk)
		return -ENOMEM;
	*talk = (struct talk){ .event = sd_event_ref(event), .setup = *setup, .aloud = -1 };
	talk->questions = calloc(1, sizeof *talk->questions);
	r = talk->questions ? voice_new(&talk->voice, event, &setup->voice, on_done, talk) : -ENOMEM;
	if (r >= 0)
		r = sd_event_add_time(event, &talk->quiet_ends, CLOCK_BOOTTIME, 0, 0, on_quiet_ends, talk);
	if (r >= 0)
		r = sd_event_source_set_enabled(talk->quiet_ends, SD_EVENT_OFF);
	if (r >= 0)
		r = listen_aloud(talk);
	if (r >= 0)
		r = peer_new(&talk->peer, event, setup->socket, topics, &calls, talk);
	if (r < 0) {
		talk_free(talk);
		return r;
	}
	*ret = talk;
	return 0;
}

struct talk *talk_free(struct talk *talk)
{
	if (!talk)
		return NULL;
	peer_free(talk->peer);
	sd_event_source_disable_unref(talk->hears);
	sd_event_source_disable_unref(talk->quiet_ends);
	if (talk->aloud >= 0) {
		(void)close(talk->aloud); /* only read */
		(void)unlink(talk->setup.aloud);
	}
	voice_free(talk->voice);
	free(talk->questions);
	sd_event_unref(talk->event);
	free(talk);
	return NULL;
}
