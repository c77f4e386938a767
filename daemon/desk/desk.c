// SPDX-License-Identifier: MIT
#include "daemon/desk/desk.h"
#include "daemon/desk/import.h"
#include "daemon/desk/keys.h"
#include "daemon/desk/models.h"
#include "daemon/desk/room.h"
#include "daemon/desk/rounds.h"
#include "daemon/desk/undated.h"
#include "daemon/desk/whelping.h"
#include "daemon/desk/worries.h"
#include "daemon/log.h"
#include <errno.h>
#include <systemd/sd-event.h>

#define RETRY_US (5 * 1000 * 1000)
#define RETRY_AT_ONCE 32
#define RETRY_ACCURACY_US 1000 /* the default, 250 ms, would lie between any two turns */

struct store_stamp desk_stamp(const char *peer, const char *said)
{
	int64_t now_ms = clock_now_ms();

	return (struct store_stamp){
		.at_ms = now_ms, .offset_min = clock_offset_min(now_ms), .peer = peer, .said = said };
}

#define CLOCK_SET_MS 1000 /* two clocks can't be read at once, and we may be held up in between */
#define CLOCK_TOLD_MS (60 * 1000)

void desk_follow_clock(struct desk *desk)
{
	int64_t ahead_ms = clock_now_ms() - clock_boot_ms(), step_ms = ahead_ms - desk->wall_ahead_ms;
	int64_t size_ms = step_ms < 0 ? -step_ms : step_ms;

	if (size_ms < CLOCK_SET_MS)
		return;
	desk->wall_ahead_ms = ahead_ms;
	for (size_t i = 0; i < desk->roster.n_scales; i++) {
		struct roster_scale *scale = &desk->roster.scales[i];
		weigh_clock_set(&scale->memory, step_ms);
		stamp_clock_set(&scale->clock, step_ms);
		scale->air.pressed_ms += step_ms;
	}
	log_event(LOG_EVENT_CLOCK_MOVED, size_ms > CLOCK_TOLD_MS ? LOG_WARNING : LOG_INFO, NULL, NULL,
		  "the clock of this machine was set, %lld s %s; what was weighed before is dated by the old one",
		  (long long)size_ms / 1000, step_ms < 0 ? "back" : "ahead");
}

void desk_tell(struct desk *desk, enum prompt_topic topic, json_t *params, const char *text)
{
	struct prompt_notice notice = { .topic = topic, .params = params, .text = text };

	if (desk->prompt)
		prompt_tell(desk->prompt, &notice);
	json_decref(params);
}

void desk_refresh_animal(struct desk *desk, const char *animal_id)
{
	struct roster_animal *animal = animal_id ? roster_animal_by_id(&desk->roster, animal_id) : NULL;
	int r;

	if (!animal)
		return;
	r = store_newest(desk->store, animal_id, &animal->newest_mg, &animal->newest_u_mg, &animal->newest_at_ms);
	if (r != 0)
		log_warning("can't read the newest mass of an animal, suggestions may be off, ignoring");
}

static void close_ask(struct desk *desk, const char *id, const char *why)
{
	char text[128];

	(void)snprintf(text, sizeof text, "ask %s is closed: %s", id + strlen(id) - 4, why);
	desk_tell(desk, PROMPT_WITHDRAW, json_pack("{s:s, s:s}", "ask", id, "why", why), text);
	asks_remove(&desk->asks, id);
}

void desk_prune_asks(struct desk *desk)
{
	int64_t oldest_ms = clock_boot_ms() - ASKS_OPEN_MS;
	char id[UUID7_SIZE];

	while (desk->asks.n) {
		const struct ask *first = &desk->asks.list[0];
		bool late = first->opened_ms < oldest_ms;
		if (!late && desk->asks.n <= LIMIT_OPEN_ASKS)
			return;
		(void)snprintf(id, sizeof id, "%s", first->id);
		close_ask(desk, id, late ? "open for 12 hours; it waits among the unanswered" :
					   "too many questions are open; it waits among the unanswered");
	}
}

void desk_open_ask(struct desk *desk, const struct ask *ask)
{
	char *text = NULL;
	json_t *params;

	if (asks_add(&desk->asks, ask) < 0) {
		log_warning("no memory to ask about a weighing; it waits among the unanswered, ignoring");
		return;
	}
	params = ask_params(ask, desk, &text);
	desk_tell(desk, PROMPT_ASK, params, text);
	free(text);
	desk_prune_asks(desk);
}

void desk_tell_scale(struct desk *desk, const struct roster_scale *scale, enum link_state state)
{
	const char *word = link_state_text(state);
	const char *low = scale->air.battery_low ? ", battery low" : "";
	char text[256];

	if (scale->battery >= 0)
		(void)snprintf(text, sizeof text, "scale %s: %s, battery %d %%%s", scale->name, word, scale->battery, low);
	else
		(void)snprintf(text, sizeof text, "scale %s: %s%s", scale->name, word, low);
	desk_tell(desk, PROMPT_SCALE,
		  json_pack("{s:s, s:s, s:s, s:o, s:b}", "scale", scale->name, "address", scale->address, "state", word, "battery",
			    scale->battery >= 0 ? json_integer(scale->battery) : json_null(), "battery_low",
			    scale->air.battery_low),
		  text);
}

/* ---- what the radio tells ---- */

/* The first of those that wait. 0: it isn't there any more; else as passage_try(). */
static int try_first(struct desk *desk)
{
	struct pending_passage *first = desk->pending.first;
	int r;

	first->passage.scale = roster_scale_by_id(&desk->roster, first->scale_id);
	r = first->passage.scale ? passage_try(desk, &first->passage, NULL) : 0; /* forgotten meanwhile */
	if (r == 0)
		pending_drop(&desk->pending);
	return r;
}

/* Some at a time, so that answers don't wait behind thousands of held results. */
static int retry(sd_event_source *source, uint64_t usec, void *userdata)
{
	struct desk *desk = userdata;
	uint64_t next_us = 0;

	(void)usec;
	for (unsigned i = 0; i < RETRY_AT_ONCE && desk->pending.first && next_us == 0; i++)
		if (try_first(desk) != 0)
			next_us = RETRY_US;
	if (desk->pending.first) {
		(void)sd_event_source_set_time_relative(source, next_us);
		return sd_event_source_set_enabled(source, SD_EVENT_ONESHOT);
	}
	if (desk->pending.lost)
		log_event(LOG_EVENT_RESULTS_LOST, LOG_ERR, NULL, NULL,
			  "the database can be written again; %zu results that came meanwhile are lost", desk->pending.lost);
	else
		log_event(LOG_EVENT_DATABASE_WRITABLE, LOG_INFO, NULL, NULL,
			  "the database can be written again; all that was received meanwhile is in it");
	desk->pending.lost = 0;
	desk->pending.timer = sd_event_source_disable_unref(desk->pending.timer);
	return 0;
}

void desk_hold(struct desk *desk, const struct passage *passage)
{
	int r = pending_add(&desk->pending, passage);

	if (r < 0 && desk->pending.lost++ == 0) /* once: a scale that streams must not fill the journal too */
		log_event(LOG_EVENT_RESULTS_LOST, LOG_ERR, "BISMAR_SCALE", passage->scale->address,
			  "a result of scale %s is lost: %s; further ones are counted", passage->scale->address,
			  r == -ENOSPC ? "too many wait for the database" : "no memory");
	if (!desk->pending.timer)
		(void)sd_event_add_time_relative(desk->event, &desk->pending.timer, CLOCK_MONOTONIC, RETRY_US, RETRY_ACCURACY_US, retry,
						 desk);
}

static void on_frame(void *userdata, const struct radio_frame *frame)
{
	desk_take_frame(userdata, frame);
}

static void on_link(void *userdata, const char *address, enum link_state state)
{
	struct desk *desk = userdata;
	struct roster_scale *scale = roster_scale(&desk->roster, address);

	if (!scale)
		return;
	desk_follow_clock(desk);
	if (state != LINK_SUBSCRIBED && state != LINK_RESOLVING && state != LINK_LISTENING) {
		undated_release(desk, scale->id);
		stream_end(desk, scale);
	}
	if (state == LINK_SUBSCRIBED && desk->radio) /* from now on what it had kept comes, in one go */
		stamp_link(&scale->clock, radio_link_number(desk->radio, address), clock_now_ms());
	desk_tell_scale(desk, scale, state);
}

static void on_battery(void *userdata, const char *address, unsigned percent)
{
	struct desk *desk = userdata;
	struct roster_scale *scale = roster_scale(&desk->roster, address);

	if (!scale || scale->battery == (int)percent)
		return;
	scale->battery = (int)percent;
	desk_tell_scale(desk, scale, desk->radio ? radio_link(desk->radio, address) : LINK_AWAY);
}

static void on_found(void *userdata, const struct radio_found *found)
{
	struct desk *desk = userdata;
	const struct roster_scale *scale = roster_scale(&desk->roster, found->address);
	json_t *offers = json_array(), *name;
	char text[256];

	if (found->weight_scale)
		(void)json_array_append_new(offers, json_string("weight-scale"));
	if (found->body_composition)
		(void)json_array_append_new(offers, json_string("body-composition"));
	if (found->broadcast)
		(void)json_array_append_new(offers, json_string("broadcast"));
	name = json_string(found->name); /* NULL when it isn't UTF-8 */
	(void)snprintf(text, sizeof text, "found %s", found->address);
	desk_tell(desk, PROMPT_FOUND,
		  json_pack("{s:s, s:o, s:o, s:o, s:o}", "address", found->address, "name", name ? name : json_string(""),
			    "offers", offers, "rssi_dbm",
			    found->rssi_dbm == INT16_MIN ? json_null() : json_integer(found->rssi_dbm), "adopted",
			    scale ? json_string(scale->name) : json_null()),
		  text);
}

static void on_find_done(void *userdata)
{
	desk_tell(userdata, PROMPT_FOUND, json_pack("{s:b}", "done", true), "found: the search has ended");
}

const struct radio_ops desk_radio_ops = {
	.frame = on_frame,
	.link = on_link,
	.battery = on_battery,
	.feature = desk_on_feature,
	.clock = desk_on_clock,
	.wanted = desk_wanted,
	.pairing = desk_on_pairing,
	.offer = desk_on_offer,
	.found = on_found,
	.find_done = on_find_done,
};

/* ---- what the socket wants ---- */

static void open_asks(void *userdata, void (*tell)(void *, const struct prompt_notice *), void *context)
{
	struct desk *desk = userdata;

	desk_prune_asks(desk);
	for (size_t i = 0; i < desk->asks.n; i++) {
		char *text = NULL;
		json_t *params = ask_params(&desk->asks.list[i], desk, &text);
		tell(context, &(struct prompt_notice){ .topic = PROMPT_ASK, .params = params, .text = text });
		json_decref(params);
		free(text);
	}
}

void desk_prompt_ops(struct desk *desk, struct prompt_ops *ret)
{
	*ret = (struct prompt_ops){
		.service = { .methods = desk_methods, .n_methods = desk_n_methods, .word = desk_word, .userdata = desk },
		.open_asks = open_asks,
		.left = import_left,
	};
}

/* ---- life ---- */

static int unanswered_row(void *userdata, const struct store_weighing_row *row)
{
	struct ask ask = ask_of(row);

	return asks_add(userdata, &ask);
}

int desk_new(struct sd_event *event, struct store *store, struct desk **ret)
{
	struct desk *desk = calloc(1, sizeof *desk);
	int r;

	if (!desk)
		return -ENOMEM;
	desk->event = sd_event_ref(event);
	desk->store = store;
	desk->wall_ahead_ms = clock_now_ms() - clock_boot_ms();
	r = asks_reserve(&desk->asks);
	if (r == 0)
		r = roster_load(&desk->roster, store);
	if (r == 0)
		r = models_load(desk);
	if (r == 0)
		r = rounds_load(desk);
	if (r == 0)
		r = whelping_load(desk);
	if (r == 0)
		r = worries_begin(desk);
	if (r == 0)
		r = store_each_unanswered(store, clock_now_ms() - ASKS_OPEN_MS, unanswered_row, &desk->asks);
	if (r != 0) {
		desk_free(desk);
		return r;
	}
	desk_prune_asks(desk);
	*ret = desk;
	return 0;
}

struct desk *desk_free(struct desk *desk)
{
	if (!desk)
		return NULL;
	/* the last chance: there may be room by now */
	undated_release(desk, NULL);
	streams_done(desk);
	while (desk->pending.first && try_first(desk) == 0)
		continue;
	if (desk->pending.n)
		log_event(LOG_EVENT_RESULTS_LOST, LOG_ERR, NULL, NULL, "%zu results could not be written to the database and are lost",
			  desk->pending.n);
	desk_end_tare(desk);
	desk->import = import_free(desk->import);
	desk->keys = keys_close(desk->keys);
	worries_done(desk);
	whelping_done(desk);
	rounds_done(desk);
	models_done(desk);
	pending_done(&desk->pending);
	asks_done(&desk->asks);
	roster_done(&desk->roster);
	sd_event_unref(desk->event);
	free(desk);
	return NULL;
}

void desk_open_keys(struct desk *desk, const char *state_dir)
{
	int r = keys_open(state_dir, &desk->keys);

	if (r < 0)
		log_warning("can't use %s/keys: %s; scales that encrypt aren't understood, ignoring", state_dir, strerror(-r));
}

int desk_join(struct desk *desk, struct prompt *prompt, struct radio *radio)
{
	bool first = radio && !desk->radio;

	desk->prompt = prompt;
	desk->radio = radio;
	for (size_t i = 0; first && i < desk->roster.n_scales; i++) {
		int r = radio_adopt(radio, desk->roster.scales[i].address);
		if (r < 0)
			return r;
	}
	if (first)
		desk_give_consents(desk);
	return 0;
}
