// SPDX-License-Identifier: MIT
#include "contrib/keypad/answering.h"
#include "contrib/client/aloud.h"
#include "contrib/client/words.h"
#include "contrib/keypad/tag.h"
#include "daemon/ctl/ctl.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/request.h"
#include "daemon/log.h"
#include <errno.h>
#include <stdarg.h>
#include <unistd.h>

/* ---- time ---- */

static int64_t clock_ms(const struct answering *it)
{
	uint64_t now_usec = 0;

	(void)sd_event_now(it->event, CLOCK_MONOTONIC, &now_usec); /* the loop exists, and so does the clock */
	return (int64_t)(now_usec / 1000);
}

int64_t answering_now_ms(const struct answering *it)
{
	return clock_ms(it) + it->skew_ms;
}

void answering_follow(struct answering *it, int64_t at_ms)
{
	static const int64_t far = INT64_C(1) << 52; /* so that no sum overflows, whatever is recorded */

	if (at_ms > far || at_ms < -far)
		return;
	it->skew_ms = at_ms - clock_ms(it);
	if (!it->skewed) { /* what is on show has been so for the same time */
		it->shown_ms += it->skew_ms;
		it->skewed = true;
	}
}

/* ---- telling ---- */

__attribute__((format(printf, 2, 3))) static void say(const struct answering *it, const char *format, ...)
{
	char sentence[WORDS_SIZE];
	va_list args;

	va_start(args, format);
	(void)vsnprintf(sentence, sizeof sentence, format, args);
	va_end(args);
	(void)aloud_send(it->aloud, it->setup->aloud, sentence); /* without a voice the journal has it */
}

static void changed(struct answering *it, bool so)
{
	const struct question *question = questions_current(&it->questions);

	if (!so)
		return;
	log_debug("question %s, %zu suggestions", question ? question->id : "none",
		  question ? question->n_suggestions : 0);
	it->shown_ms = answering_now_ms(it);
	it->mark = (struct act_mark){ ACT_UNMARKED, 0 };
}

/* ---- what comes back of a request ---- */

static void remember(struct answering *it, const char *id, const char *name)
{
	(void)snprintf(it->last, sizeof it->last, "%s", id);
	(void)snprintf(it->last_name, sizeof it->last_name, "%s", name);
}

static void done(struct answering *it, const json_t *result)
{
	const char *name = field_text(result, "name");
	char quoted[2 * ANSWERING_NAME_SIZE], mass[64];
	int64_t net_mg = 0;

	log_quote(name, quoted, sizeof quoted);
	if (!field_mg(result, "net_g", &net_mg))
		(void)field_mg(result, "birth_g", &net_mg);
	words_mass(net_mg, it->setup->unit, mass, sizeof mass);
	switch (it->doing) {
	case ACT_ANSWER:
	case ACT_CODE:
		log_info("recorded: %s, %s", quoted, mass);
		remember(it, field_text(result, "reading"), name);
		break;
	case ACT_ASIDE:
		log_info("set aside");
		remember(it, it->asked, "what was set aside");
		say(it, "Set aside.");
		break;
	case ACT_NEW:
		log_info("a new pup: %s, %s", quoted, mass);
		remember(it, "", ""); /* it is on the list: not for a key to undo */
		say(it, "A new pup: %s, %s.", name, mass);
		break;
	case ACT_BACK:
		log_info("taken back");
		remember(it, "", "");
		say(it, "Taken back.");
		return; /* and its question is open again */
	case ACT_NONE:
	case ACT_AGAIN:
	case ACT_MARK:
		break;
	}
	changed(it, questions_drop(&it->questions, it->asked));
}

static void refused(struct answering *it, const json_t *error)
{
	const char *code = field_text(json_object_get(error, "data"), "code");
	char reason[512];

	request_refusal(error, reason, sizeof reason);
	log_warning("refused: %s", reason); /* request_refusal() has made it safe */
	it->calls->undone(it->user);
	if (it->doing == ACT_CODE && strcmp(code, "not-found") == 0)
		say(it, "Nobody has that tag.");
	else
		say(it, "Not recorded. %s", field_text(error, "message"));
}

static void on_reply(void *user, enum peer_outcome outcome, const json_t *body)
{
	struct answering *it = user;

	it->busy = false;
	switch (outcome) {
	case PEER_RESULT:
		done(it, body);
		break;
	case PEER_REFUSED:
		refused(it, body);
		break;
	case PEER_LOST:
		log_warning("whether that was recorded isn't known: look at `bismar reading list`");
		remember(it, "", "");
		it->calls->undone(it->user);
		break;
	}
}

static void request(struct answering *it, enum act_kind doing, const char *method, json_t *params)
{
	const struct question *question = questions_current(&it->questions);
	int r;

	it->doing = doing;
	(void)snprintf(it->asked, sizeof it->asked, "%s", question ? question->id : "");
	r = params ? peer_request(it->peer, method, params, on_reply, it) : -ENOMEM;
	if (r == 0) {
		it->busy = true;
		return;
	}
	log_warning("not sent to bismard: %s, ignoring", r == -ENOTCONN ? "it doesn't answer" : strerror(-r));
	it->calls->undone(it->user);
	say(it, "Not recorded.");
}

/* ---- doing ---- */

struct act_moment answering_moment(const struct answering *it)
{
	const struct question *question = questions_current(&it->questions);

	return (struct act_moment){
		.question = question,
		.n_open = it->questions.n,
		.shown_ms = answering_now_ms(it) - it->shown_ms,
		.age_ms = question ? ctl_now_ms() - question->at_ms : 0,
		.busy = it->busy,
		.can_go_back = *it->last,
		.mark = it->mark,
		.marked_ms = answering_now_ms(it) - it->marked_ms,
	};
}

static void mark(struct answering *it, struct act_mark to, const char *key)
{
	const struct question *question = questions_current(&it->questions);
	char words[WORDS_SIZE], quoted[2 * WORDS_SIZE];

	it->mark = to;
	it->marked_ms = answering_now_ms(it);
	switch (to.place) {
	case ACT_ON_SUGGESTION:
		words_suggestion(question, to.n, words, sizeof words);
		break;
	case ACT_ON_NEW:
		(void)snprintf(words, sizeof words, "A new pup?");
		break;
	case ACT_ON_ASIDE:
		(void)snprintf(words, sizeof words, "Set aside?");
		break;
	case ACT_ON_BACK:
		(void)snprintf(words, sizeof words, "Take back %s?", it->last_name);
		break;
	case ACT_UNMARKED:
		return;
	}
	log_info("%s: marked: %s", key, log_quote(words, quoted, sizeof quoted));
	say(it, ALOUD_NOW "%s", words);
}

static void answer(struct answering *it, size_t n, const char *key)
{
	const struct question *question = questions_current(&it->questions);
	const struct question_suggestion *suggestion = &question->suggestions[n];
	char quoted[2 * QUESTION_NAME_SIZE];

	log_info("%s: %s", key, log_quote(suggestion->name, quoted, sizeof quoted));
	request(it, ACT_ANSWER, "answer",
		json_pack("{s:s, s:s, s:s}", "ask", question->id, "animal", suggestion->animal, "by", "keypad"));
}

void answering_carry_out(struct answering *it, const struct act *act, const char *key)
{
	const struct question *question = questions_current(&it->questions);

	switch (act->kind) {
	case ACT_NONE:
		log_info("%s: %s", key, act->why ? act->why : "means nothing here");
		if (act->why)
			say(it, "%s", act->why);
		break;
	case ACT_ANSWER:
		answer(it, act->n, key);
		break;
	case ACT_ASIDE:
		log_info("%s: to be set aside", key);
		request(it, ACT_ASIDE, "aside", json_pack("{s:s, s:s}", "ask", question->id, "by", "keypad"));
		break;
	case ACT_NEW:
		log_info("%s: a new pup", key);
		request(it, ACT_NEW, "whelping.pup", json_pack("{s:s, s:s}", "ask", question->id, "by", "keypad"));
		break;
	case ACT_BACK:
		log_info("%s: the last answer is taken back", key);
		request(it, ACT_BACK, "reopen", json_pack("{s:s, s:s}", "ask", it->last, "by", "keypad"));
		break;
	case ACT_AGAIN:
		log_info("%s: once more", key);
		say(it, ALOUD_AGAIN);
		break;
	case ACT_MARK:
		mark(it, act->mark, key);
		break;
	case ACT_CODE: /* answering_code() does that */
		break;
	}
}

void answering_code(struct answering *it, const char *code)
{
	const struct question *question = questions_current(&it->questions);
	char quoted[4 * TAG_SIZE];

	log_info("tag %s", log_quote(code, quoted, sizeof quoted));
	request(it, ACT_CODE, "answer", json_pack("{s:s, s:s, s:s}", "ask", question->id, "animal", code, "by", "tag"));
}

/* ---- the daemon ---- */

static void on_asks(void *user, enum peer_outcome outcome, const json_t *body)
{
	struct answering *it = user;

	if (outcome == PEER_RESULT)
		changed(it, questions_set(&it->questions, json_object_get(body, "asks"), ctl_now_ms()));
}

static void on_up(void *user)
{
	struct answering *it = user;

	log_info("bismard answers");
	(void)peer_request(it->peer, "asks", NULL, on_asks, it); /* if it fails, the connection is ended */
}

static void on_down(void *user, const char *why)
{
	struct answering *it = user;

	log_warning("%s", why);
	it->busy = false;
	changed(it, questions_set(&it->questions, NULL, 0));
}

static void on_recorded(struct answering *it, const json_t *params)
{
	bool same = strcmp(field_text(params, "reading"), it->last) == 0;

	changed(it, questions_drop(&it->questions, field_text(params, "ask")));
	if (same && field_true(params, "corrected"))
		remember(it, "", ""); /* somebody has put it right: that isn't ours to take back */
}

static void on_notice(void *user, const char *topic, const json_t *params)
{
	struct answering *it = user;

	if (strcmp(topic, "ask") == 0)
		changed(it, questions_put(&it->questions, params, ctl_now_ms()));
	else if (strcmp(topic, "withdraw") == 0)
		changed(it, questions_drop(&it->questions, field_text(params, "ask")));
	else if (strcmp(topic, "recorded") == 0)
		on_recorded(it, params);
}

/* ---- begin and end ---- */

int answering_begin(struct answering *it, sd_event *event, const struct answering_setup *setup,
		    const struct answering_calls *calls, void *user)
{
	static const char *const topics[] = { "ask", "withdraw", "recorded", NULL };
	static const struct peer_calls peer_calls = { on_up, on_down, on_notice };

	*it = (struct answering){ .event = event, .setup = setup, .calls = calls, .user = user };
	it->aloud = aloud_open();
	return it->aloud < 0 ? it->aloud : peer_new(&it->peer, event, setup->socket, topics, &peer_calls, it);
}

void answering_end(struct answering *it)
{
	peer_free(it->peer);
	if (it->aloud >= 0)
		(void)close(it->aloud); /* datagrams are sent whole, or not at all */
}
