// SPDX-License-Identifier: MIT
#include "contrib/keypad/pad.h"
#include "contrib/client/aloud.h"
#include "contrib/client/peer.h"
#include "contrib/client/words.h"
#include "contrib/keypad/act.h"
#include "contrib/keypad/stroke.h"
#include "contrib/keypad/tag.h"
#include "daemon/ctl/ctl.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/request.h"
#include "daemon/log.h"
#include <errno.h>
#include <stdarg.h>
#include <unistd.h>

#define NAME_SIZE 96

struct pad {
	sd_event *event;
	struct pad_setup setup;
	struct peer *peer;
	struct input *input;
	sd_event_source *settle; /* stroke_elapse() is due */
	struct questions *questions;
	struct stroke stroke;
	struct tag tag;
	int aloud;
	int64_t skew_ms;             /* of a recording's clock against ours */
	bool skewed;                 /* it is known */
	int64_t shown_ms, marked_ms; /* since when, on our clock with the skew */
	struct act_mark mark;
	bool busy;
	enum act_kind doing;          /* what is under way */
	char asked[QUESTION_ID_SIZE]; /* of which question */
	char last[QUESTION_ID_SIZE];  /* the answer that can be taken back; "": none */
	char last_name[NAME_SIZE];
};

/* ---- time ---- */

static int64_t clock_ms(const struct pad *pad)
{
	uint64_t now_usec = 0;

	(void)sd_event_now(pad->event, CLOCK_MONOTONIC, &now_usec); /* the loop exists, and so does the clock */
	return (int64_t)(now_usec / 1000);
}

static int64_t now_ms(const struct pad *pad)
{
	return clock_ms(pad) + pad->skew_ms;
}

/* A recording's first event is now; the others keep their distance from it, however fast they are read. */
static void follow_recording(struct pad *pad, int64_t at_ms)
{
	static const int64_t far = INT64_C(1) << 52; /* so that no sum overflows, whatever is recorded */

	if (!pad->setup.input.replay || at_ms > far || at_ms < -far)
		return;
	pad->skew_ms = at_ms - clock_ms(pad);
	if (!pad->skewed) { /* what is on show has been so for the same time */
		pad->shown_ms += pad->skew_ms;
		pad->skewed = true;
	}
}

/* ---- telling ---- */

__attribute__((format(printf, 2, 3))) static void say(const struct pad *pad, const char *format, ...)
{
	char sentence[WORDS_SIZE];
	va_list args;

	va_start(args, format);
	(void)vsnprintf(sentence, sizeof sentence, format, args);
	va_end(args);
	(void)aloud_send(pad->aloud, pad->setup.aloud, sentence); /* without a voice the journal has it */
}

static void changed(struct pad *pad, bool so)
{
	const struct question *question = questions_current(pad->questions);

	if (!so)
		return;
	log_debug("question %s, %zu suggestions", question ? question->id : "none",
		  question ? question->n_suggestions : 0);
	pad->shown_ms = now_ms(pad);
	pad->mark = (struct act_mark){ ACT_UNMARKED, 0 };
}

/* ---- what comes back of a request ---- */

static void remember(struct pad *pad, const char *id, const char *name)
{
	(void)snprintf(pad->last, sizeof pad->last, "%s", id);
	(void)snprintf(pad->last_name, sizeof pad->last_name, "%s", name);
}

static void done(struct pad *pad, const json_t *result)
{
	const char *name = field_text(result, "name");
	char quoted[2 * NAME_SIZE], mass[64];
	int64_t net_mg = 0;

	log_quote(name, quoted, sizeof quoted);
	if (!field_mg(result, "net_g", &net_mg))
		(void)field_mg(result, "birth_g", &net_mg);
	words_mass(net_mg, pad->setup.unit, mass, sizeof mass);
	switch (pad->doing) {
	case ACT_ANSWER:
	case ACT_CODE:
		log_info("recorded: %s, %s", quoted, mass);
		remember(pad, field_text(result, "reading"), name);
		break;
	case ACT_ASIDE:
		log_info("set aside");
		remember(pad, pad->asked, "what was set aside");
		say(pad, "Set aside.");
		break;
	case ACT_NEW:
		log_info("a new pup: %s, %s", quoted, mass);
		remember(pad, "", ""); /* it is on the list: not for a key to undo */
		say(pad, "A new pup: %s, %s.", name, mass);
		break;
	case ACT_BACK:
		log_info("taken back");
		remember(pad, "", "");
		say(pad, "Taken back.");
		return; /* and its question is open again */
	case ACT_NONE:
	case ACT_AGAIN:
	case ACT_MARK:
		break;
	}
	changed(pad, questions_drop(pad->questions, pad->asked));
}

static void refused(struct pad *pad, const json_t *error)
{
	const char *code = field_text(json_object_get(error, "data"), "code");
	char reason[512];

	request_refusal(error, reason, sizeof reason);
	log_warning("refused: %s", reason); /* request_refusal() has made it safe */
	tag_forget(&pad->tag);
	if (pad->doing == ACT_CODE && strcmp(code, "not-found") == 0)
		say(pad, "Nobody has that tag.");
	else
		say(pad, "Not recorded. %s", field_text(error, "message"));
}

static void on_reply(void *user, enum peer_outcome outcome, const json_t *body)
{
	struct pad *pad = user;

	pad->busy = false;
	switch (outcome) {
	case PEER_RESULT:
		done(pad, body);
		break;
	case PEER_REFUSED:
		refused(pad, body);
		break;
	case PEER_LOST:
		log_warning("whether that was recorded isn't known: look at `bismar reading list`");
		remember(pad, "", "");
		tag_forget(&pad->tag);
		break;
	}
}

static void request(struct pad *pad, enum act_kind doing, const char *method, json_t *params)
{
	const struct question *question = questions_current(pad->questions);
	int r;

	pad->doing = doing;
	(void)snprintf(pad->asked, sizeof pad->asked, "%s", question ? question->id : "");
	r = params ? peer_request(pad->peer, method, params, on_reply, pad) : -ENOMEM;
	if (r == 0) {
		pad->busy = true;
		return;
	}
	log_warning("not sent to bismard: %s, ignoring", r == -ENOTCONN ? "it doesn't answer" : strerror(-r));
	tag_forget(&pad->tag);
	say(pad, "Not recorded.");
}

/* ---- doing ---- */

static struct act_moment moment_of(const struct pad *pad)
{
	const struct question *question = questions_current(pad->questions);

	return (struct act_moment){
		.question = question,
		.n_open = pad->questions->n,
		.shown_ms = now_ms(pad) - pad->shown_ms,
		.age_ms = question ? ctl_now_ms() - question->at_ms : 0,
		.busy = pad->busy,
		.can_go_back = *pad->last,
		.mark = pad->mark,
		.marked_ms = now_ms(pad) - pad->marked_ms,
	};
}

static void mark(struct pad *pad, struct act_mark to, const char *key)
{
	const struct question *question = questions_current(pad->questions);
	char words[WORDS_SIZE], quoted[2 * WORDS_SIZE];

	pad->mark = to;
	pad->marked_ms = now_ms(pad);
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
		(void)snprintf(words, sizeof words, "Take back %s?", pad->last_name);
		break;
	case ACT_UNMARKED:
		return;
	}
	log_info("%s: marked: %s", key, log_quote(words, quoted, sizeof quoted));
	say(pad, ALOUD_NOW "%s", words);
}

static void answer(struct pad *pad, size_t n, const char *key)
{
	const struct question *question = questions_current(pad->questions);
	const struct question_suggestion *suggestion = &question->suggestions[n];
	char quoted[2 * QUESTION_NAME_SIZE];

	log_info("%s: %s", key, log_quote(suggestion->name, quoted, sizeof quoted));
	request(pad, ACT_ANSWER, "answer",
		json_pack("{s:s, s:s, s:s}", "ask", question->id, "animal", suggestion->animal, "by", "keypad"));
}

static void carry_out(struct pad *pad, const struct act *act, const char *key)
{
	const struct question *question = questions_current(pad->questions);

	switch (act->kind) {
	case ACT_NONE:
		log_info("%s: %s", key, act->why ? act->why : "means nothing here");
		if (act->why)
			say(pad, "%s", act->why);
		break;
	case ACT_ANSWER:
		answer(pad, act->n, key);
		break;
	case ACT_ASIDE:
		log_info("%s: to be set aside", key);
		request(pad, ACT_ASIDE, "aside", json_pack("{s:s, s:s}", "ask", question->id, "by", "keypad"));
		break;
	case ACT_NEW:
		log_info("%s: a new pup", key);
		request(pad, ACT_NEW, "whelping.pup", json_pack("{s:s, s:s}", "ask", question->id, "by", "keypad"));
		break;
	case ACT_BACK:
		log_info("%s: the last answer is taken back", key);
		request(pad, ACT_BACK, "reopen", json_pack("{s:s, s:s}", "ask", pad->last, "by", "keypad"));
		break;
	case ACT_AGAIN:
		log_info("%s: once more", key);
		say(pad, ALOUD_AGAIN);
		break;
	case ACT_MARK:
		mark(pad, act->mark, key);
		break;
	case ACT_CODE: /* take_code() does that */
		break;
	}
}

/* ---- keys ---- */

static void take_key(struct pad *pad, unsigned code)
{
	struct act_moment moment = moment_of(pad);
	struct act act = pad->setup.kind == PAD_TURNER ? act_turner(&moment, code) : act_pad(&moment, code);
	char key[32];

	carry_out(pad, &act, act_key(code, key, sizeof key));
}

static void elapse(struct pad *pad, int64_t at_ms)
{
	unsigned code = 0;
	struct act none = { .why = NULL };

	switch (stroke_elapse(&pad->stroke, at_ms, &code)) {
	case STROKE_NONE:
		return;
	case STROKE_KEY:
		take_key(pad, code);
		return;
	case STROKE_SEVERAL:
		none.why = "Several keys at once: press one.";
		break;
	case STROKE_LONG:
		none.why = "A key was held too long: press it shortly.";
		break;
	}
	carry_out(pad, &none, "keys");
}

static void arm(struct pad *pad)
{
	int64_t due_ms = stroke_due_ms(&pad->stroke);
	uint64_t left_ms = 0;

	if (due_ms == INT64_MAX) {
		(void)sd_event_source_set_enabled(pad->settle, SD_EVENT_OFF);
		return;
	}
	if (due_ms > now_ms(pad))
		left_ms = (uint64_t)(due_ms - now_ms(pad));
	(void)sd_event_source_set_time_relative(pad->settle, left_ms * 1000); /* its clock runs since pad_new() */
	(void)sd_event_source_set_enabled(pad->settle, SD_EVENT_ONESHOT);
}

static int on_settled(sd_event_source *source, uint64_t usec, void *user)
{
	struct pad *pad = user;
	int64_t due_ms = stroke_due_ms(&pad->stroke);

	(void)source, (void)usec;
	if (due_ms != INT64_MAX)
		elapse(pad, due_ms);
	return 0;
}

static void take_code(struct pad *pad)
{
	struct act_moment moment = moment_of(pad);
	struct act act = act_tag(&moment);
	char quoted[4 * TAG_SIZE];

	log_quote(pad->tag.code, quoted, sizeof quoted);
	if (act.kind != ACT_CODE) {
		tag_forget(&pad->tag);
		carry_out(pad, &act, quoted);
		return;
	}
	log_info("tag %s", quoted);
	request(pad, ACT_CODE, "answer",
		json_pack("{s:s, s:s, s:s}", "ask", moment.question->id, "animal", pad->tag.code, "by", "tag"));
}

static void on_key(void *user, unsigned code, int value, int64_t at_ms)
{
	struct pad *pad = user;

	follow_recording(pad, at_ms);
	if (pad->setup.kind == PAD_TAG) {
		switch (tag_event(&pad->tag, code, value, at_ms)) {
		case TAG_NONE:
			break;
		case TAG_CODE:
			take_code(pad);
			break;
		case TAG_AGAIN:
			log_info("the same tag again, ignoring");
			break;
		case TAG_UNFIT:
			log_warning("what was read is no tag's code, ignoring");
			break;
		}
		return;
	}
	if (act_is_lock(code))
		return;
	elapse(pad, at_ms);
	stroke_event(&pad->stroke, code, value, at_ms);
	arm(pad);
}

static void forget_keys(void *user)
{
	struct pad *pad = user;

	stroke_clear(&pad->stroke);
	tag_clear(&pad->tag);
	arm(pad);
}

static void on_here(void *user, const char *path, const char *name)
{
	char quoted[256];

	forget_keys(user);
	log_info("%s is there: %s", path, log_quote(name, quoted, sizeof quoted));
}

static void on_gone(void *user, const char *why)
{
	forget_keys(user);
	log_warning("%s", why);
}

/* ---- the daemon ---- */

static void on_asks(void *user, enum peer_outcome outcome, const json_t *body)
{
	struct pad *pad = user;

	if (outcome == PEER_RESULT)
		changed(pad, questions_set(pad->questions, json_object_get(body, "asks"), ctl_now_ms()));
}

static void on_up(void *user)
{
	struct pad *pad = user;

	log_info("bismard answers");
	(void)peer_request(pad->peer, "asks", NULL, on_asks, pad); /* if it fails, the connection is ended */
}

static void on_down(void *user, const char *why)
{
	struct pad *pad = user;

	log_warning("%s", why);
	pad->busy = false;
	changed(pad, questions_set(pad->questions, NULL, 0));
}

static void on_recorded(struct pad *pad, const json_t *params)
{
	bool same = strcmp(field_text(params, "reading"), pad->last) == 0;

	changed(pad, questions_drop(pad->questions, field_text(params, "ask")));
	if (same && field_true(params, "corrected"))
		remember(pad, "", ""); /* somebody has put it right: that isn't ours to take back */
}

static void on_notice(void *user, const char *topic, const json_t *params)
{
	struct pad *pad = user;

	if (strcmp(topic, "ask") == 0)
		changed(pad, questions_put(pad->questions, params, ctl_now_ms()));
	else if (strcmp(topic, "withdraw") == 0)
		changed(pad, questions_drop(pad->questions, field_text(params, "ask")));
	else if (strcmp(topic, "recorded") == 0)
		on_recorded(pad, params);
}

/* ---- from outside ---- */

int pad_new(struct pad **ret, sd_event *event, const struct pad_setup *setup)
{
	static const char *const topics[] = { "ask", "withdraw", "recorded", NULL };
	static const struct peer_calls peer_calls = { on_up, on_down, on_notice };
	static const struct input_calls input_calls = { on_here, on_key, forget_keys, on_gone };
	struct pad *pad = calloc(1, sizeof *pad);
	int r = 0;

	if (!pad)
		return -ENOMEM;
	*pad = (struct pad){ .event = sd_event_ref(event), .setup = *setup };
	tag_clear(&pad->tag);
	pad->aloud = aloud_open();
	pad->questions = calloc(1, sizeof *pad->questions);
	if (pad->aloud < 0)
		r = pad->aloud;
	if (r == 0 && !pad->questions)
		r = -ENOMEM;
	if (r == 0)
		r = sd_event_add_time_relative(event, &pad->settle, CLOCK_MONOTONIC, 0, 1000, on_settled, pad);
	if (r >= 0)
		r = sd_event_source_set_enabled(pad->settle, SD_EVENT_OFF);
	if (r >= 0)
		r = peer_new(&pad->peer, event, setup->socket, topics, &peer_calls, pad);
	if (r >= 0)
		r = input_new(&pad->input, event, &setup->input, &input_calls, pad);
	if (r < 0) {
		pad_free(pad);
		return r;
	}
	*ret = pad;
	return 0;
}

struct pad *pad_free(struct pad *pad)
{
	if (!pad)
		return NULL;
	input_free(pad->input);
	peer_free(pad->peer);
	sd_event_source_disable_unref(pad->settle);
	if (pad->aloud >= 0)
		(void)close(pad->aloud); /* datagrams are sent whole, or not at all */
	free(pad->questions);
	sd_event_unref(pad->event);
	free(pad);
	return NULL;
}
