// SPDX-License-Identifier: MIT
#include "contrib/keypad/pad.h"
#include "contrib/keypad/stroke.h"
#include "contrib/keypad/tag.h"
#include "daemon/log.h"
#include <errno.h>
#include <stdlib.h>
#include <string.h>

struct pad {
	sd_event *event;
	struct pad_setup setup;
	struct answering answering;
	struct input *input;
	sd_event_source *settle; /* stroke_elapse() is due */
	struct stroke stroke;
	struct tag tag;
};

static void take_key(struct pad *pad, unsigned code)
{
	struct act_moment moment = answering_moment(&pad->answering);
	struct act act = pad->setup.kind == PAD_TURNER ? act_turner(&moment, code) : act_pad(&moment, code);
	char key[32];

	answering_carry_out(&pad->answering, &act, act_key(code, key, sizeof key));
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
	answering_carry_out(&pad->answering, &none, "keys");
}

static void arm(struct pad *pad)
{
	int64_t due_ms = stroke_due_ms(&pad->stroke);
	uint64_t left_ms = 0;

	if (due_ms == INT64_MAX) {
		(void)sd_event_source_set_enabled(pad->settle, SD_EVENT_OFF);
		return;
	}
	if (due_ms > answering_now_ms(&pad->answering))
		left_ms = (uint64_t)(due_ms - answering_now_ms(&pad->answering));
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
	struct act_moment moment = answering_moment(&pad->answering);
	struct act act = act_tag(&moment);
	char quoted[4 * TAG_SIZE];

	log_quote(pad->tag.code, quoted, sizeof quoted);
	if (act.kind != ACT_CODE) {
		tag_forget(&pad->tag);
		answering_carry_out(&pad->answering, &act, quoted);
		return;
	}
	answering_code(&pad->answering, pad->tag.code);
}

static void on_key(void *user, unsigned code, int value, int64_t at_ms)
{
	struct pad *pad = user;

	if (pad->setup.input.replay)
		answering_follow(&pad->answering, at_ms);
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

/* ---- from outside ---- */

static void on_undone(void *user)
{
	struct pad *pad = user;

	tag_forget(&pad->tag); /* read once more, it is no repeat */
}

static int begin(struct pad *pad)
{
	static const struct answering_calls answering_calls = { on_undone };
	static const struct input_calls input_calls = { on_here, on_key, forget_keys, on_gone };
	int r = answering_begin(&pad->answering, pad->event, &pad->setup.answering, &answering_calls, pad);

	if (r >= 0)
		r = sd_event_add_time_relative(pad->event, &pad->settle, CLOCK_MONOTONIC, 0, 1000, on_settled, pad);
	if (r >= 0)
		r = sd_event_source_set_enabled(pad->settle, SD_EVENT_OFF);
	if (r >= 0)
		r = input_new(&pad->input, pad->event, &pad->setup.input, &input_calls, pad);
	return r;
}

int pad_new(struct pad **ret, sd_event *event, const struct pad_setup *setup)
{
	struct pad *pad = calloc(1, sizeof *pad);
	int r;

	if (!pad)
		return -ENOMEM;
	*pad = (struct pad){ .event = sd_event_ref(event), .setup = *setup };
	tag_clear(&pad->tag);
	r = begin(pad);
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
	answering_end(&pad->answering);
	sd_event_source_disable_unref(pad->settle);
	sd_event_unref(pad->event);
	free(pad);
	return NULL;
}
