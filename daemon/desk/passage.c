// SPDX-License-Identifier: MIT
#include "daemon/desk/passage.h"
#include "daemon/desk/room.h"
#include "daemon/log.h"
#include "daemon/weigh/quantity.h"
#include <errno.h>
#include <string.h>

#define LIVE_EVERY_MS 100 /* contract: at most 10 a second */

/* One that is being judged. */
struct judged {
	const struct passage *of;
	struct roster_scale *scale;
	struct roster_container *container; /* on the scale, with a tare; or NULL */
	struct roster_container *awaited;   /* whose tare this result may become; or NULL */
	struct weigh_result result;
	struct weigh_memory memory; /* the scale's, as it will be once the ledger has it */
	enum weigh_outcome outcome;
	struct weighing weighing;
	char why[192];
};

static struct roster_container *awaited_tare(struct desk *desk, const struct roster_scale *scale)
{
	if (!desk->tare.waiting || (desk->tare.scale_id[0] && strcmp(desk->tare.scale_id, scale->id) != 0))
		return NULL;
	return roster_container_by_id(&desk->roster, desk->tare.container_id);
}

/* What becomes a tare stands on the scale now: neither nothing, nor what the scale had kept, nor a repeat. */
static bool can_be_tare(const struct judged *p)
{
	return p->outcome == WEIGH_DONE && p->weighing.origin == WEIGH_RADIO && !p->of->restless;
}

static struct roster_container *known_container(struct desk *desk, const struct roster_scale *scale, bool tared)
{
	struct roster_container *on = tared ? NULL : roster_container_by_id(&desk->roster, scale->container_id);

	return on && on->has_tare ? on : NULL;
}

int64_t passage_idle_mg(struct desk *desk, const struct roster_scale *scale, bool tared)
{
	const struct roster_container *on = known_container(desk, scale, tared);

	return on && !awaited_tare(desk, scale) ? on->tare.mass_mg : 0;
}

static void judge(struct desk *desk, struct judged *p)
{
	const struct tare *tare;

	p->container = known_container(desk, p->scale, p->of->tared);
	tare = p->container ? &p->container->tare : NULL;
	p->awaited = awaited_tare(desk, p->scale);
	p->memory = p->scale->memory;
	p->outcome = weigh_take(&p->memory, &p->result, p->awaited ? NULL : tare, &p->weighing);
	if (!p->awaited || can_be_tare(p))
		return;
	/* the wait goes on, and this result is judged as at any other time */
	p->awaited = NULL;
	p->memory = p->scale->memory;
	p->outcome = weigh_take(&p->memory, &p->result, tare, &p->weighing);
}

static void say_why(struct judged *p)
{
	char gross[32], tare[32];

	(void)quantity_format(gross, sizeof gross, p->weighing.gross_mg, p->result.step_mg, QUANTITY_GRAMS);
	(void)quantity_format(tare, sizeof tare, p->weighing.tare_mg, 0, QUANTITY_GRAMS);
	switch (p->outcome) {
	case WEIGH_DONE:
		(void)snprintf(p->why, sizeof p->why, "%s",
			       p->weighing.stamp_refused ? "the scale's time stamp can't be true; dated by arrival" :
			       p->of->why                ? p->of->why :
							   "");
		break;
	case WEIGH_REPEAT:
		(void)snprintf(p->why, sizeof p->why, "the result before, again");
		break;
	case WEIGH_EMPTY:
		(void)snprintf(p->why, sizeof p->why, p->container ? "the empty container" : "nothing on the scale");
		break;
	case WEIGH_BELOW:
		(void)snprintf(p->why, sizeof p->why,
			       "%s is less than the container alone (%s): is it off, or was the scale zeroed with it?", gross,
			       tare);
		break;
	}
}

static int64_t gross_u_mg(const struct weigh_result *result)
{
	return result->u_mg ? result->u_mg : weigh_step_u_mg(result->step_mg);
}

static struct store_frame frame_row(const struct radio_frame *frame, const struct roster_scale *scale)
{
	return (struct store_frame){
		.scale_id = scale->id,
		.uuid = frame->uuid,
		.octets = frame->octets,
		.n = frame->n,
		.received_ms = frame->received_ms,
		.link = frame->link,
		.fate = STORE_USED,
	};
}

static struct store_frame result_row(const struct judged *p)
{
	struct store_frame row = frame_row(p->of->frame, p->scale);

	row.fate = p->outcome == WEIGH_REPEAT ? STORE_REPEAT :
		   p->outcome == WEIGH_BELOW || (p->outcome == WEIGH_EMPTY && !p->container) ? STORE_REFUSED : STORE_USED;
	if (p->awaited)
		row.fate = STORE_USED;
	row.why = p->awaited ? "became the container's tare" : p->why;
	row.has_mass = true;
	row.mass_mg = p->of->frame_mg;
	row.step_mg = p->result.step_mg;
	row.has_stamp = p->result.has_stamp;
	row.stamp_ms = p->result.stamp_ms;
	return row;
}

static int commit(struct desk *desk, struct judged *p, char ret_id[UUID7_SIZE])
{
	bool tares = p->awaited != NULL;
	struct store_stamp stamp = desk_stamp(tares ? desk->tare.peer : "bismard", tares ? desk->tare.said : NULL);
	struct roster_container *container = tares ? p->awaited : p->container;
	struct store_frame rows[LIMIT_STREAM_FRAMES + 1];
	size_t n = 0;
	struct store_weighing weighing = {
		.scale_id = p->scale->id,
		.container_id = container ? container->id : NULL,
		.weighing = &p->weighing,
		.restless = p->of->restless,
		.user = p->of->user,
		.step_mg = p->result.step_mg,
	};
	struct store_check check = {
		.container_id = container ? container->id : NULL,
		.gross_mg = p->result.gross_mg,
		.u_mg = gross_u_mg(&p->result),
		.drift_mg = tares ? 0 : p->weighing.drift_mg,
		.drifted = !tares && p->weighing.drifted,
		.becomes_tare = tares,
	};
	bool is_weighing = p->outcome == WEIGH_DONE && !tares;
	bool is_check = tares || (p->outcome == WEIGH_EMPTY && container);

	for (size_t i = 0; i < p->of->n_before && n < LIMIT_STREAM_FRAMES; i++) {
		rows[n] = frame_row(&p->of->before[i], p->scale);
		rows[n++].why = "a sample of the next result";
	}
	rows[n++] = result_row(p);
	return store_add_frames(desk->store, &stamp, rows, n, is_weighing ? &weighing : NULL, is_check ? &check : NULL,
				ret_id);
}

/* ---- after the commit ---- */

static void tell_container(struct desk *desk, const struct judged *p, const struct roster_container *container,
			   const char *what, const char *say)
{
	char text[256];

	(void)snprintf(text, sizeof text, "container: %s", say);
	desk_tell(desk, PROMPT_CONTAINER,
		  json_pack("{s:o, s:s, s:f, s:f, s:f, s:f, s:s, s:s}", "container",
			    container ? json_string(container->name) : json_null(), "scale", p->scale->name, "gross_g",
			    (double)p->result.gross_mg / 1000, "tare_g",
			    container ? (double)container->tare.mass_mg / 1000 : 0.0, "drift_g",
			    (double)p->weighing.drift_mg / 1000, "u_g", (double)gross_u_mg(&p->result) / 1000,
			    "what", what, "say", say),
		  text);
}

static void tared(struct desk *desk, struct judged *p)
{
	char say[256], mass[32], name[ROSTER_TEXT], container_id[UUID7_SIZE];
	struct roster_container *container;

	(void)snprintf(name, sizeof name, "%s", p->awaited->name);
	(void)snprintf(container_id, sizeof container_id, "%s", p->awaited->id);
	desk_end_tare(desk);
	p->weighing.drift_mg = 0;
	/* it stands there: whoever weighs a container on a scale goes on with it */
	if (strcmp(p->scale->container_id, container_id) != 0) {
		struct store_stamp stamp = desk_stamp(desk->tare.peer, desk->tare.said);
		if (store_put_container(desk->store, &stamp, p->scale->id, container_id) == 0)
			(void)snprintf(p->scale->container_id, sizeof p->scale->container_id, "%s", container_id);
		else
			log_warning("can't note that the container stands on the scale; use `container on`, ignoring");
	}
	if (roster_load_containers(&desk->roster, desk->store) != 0)
		log_warning("can't read the containers back, ignoring");
	container = roster_container_by_id(&desk->roster, container_id);
	(void)quantity_format(mass, sizeof mass, p->result.gross_mg, p->result.step_mg, QUANTITY_GRAMS);
	(void)snprintf(say, sizeof say, "%s weighs %s and stands on %s", name, mass, p->scale->name);
	tell_container(desk, p, container, "tared", say);
}

static void checked(struct desk *desk, const struct judged *p)
{
	int64_t drift = p->weighing.drift_mg;
	char say[256], mass[32];

	if (!p->container) {
		tell_container(desk, p, NULL, "empty", "nothing on the scale");
		return;
	}
	if (!p->weighing.drifted) {
		if (p->result.received_ms > p->container->tare.checked_ms)
			p->container->tare.checked_ms = p->result.received_ms;
		(void)snprintf(say, sizeof say, "%s is as heavy as it was", p->container->name);
		tell_container(desk, p, p->container, "checked", say);
		return;
	}
	(void)quantity_format(mass, sizeof mass, drift < 0 ? -drift : drift, p->result.step_mg, QUANTITY_GRAMS);
	(void)snprintf(say, sizeof say, "%s is %s %s than when it was weighed: weigh it again (container tare %s)",
		       p->container->name, mass, drift < 0 ? "lighter" : "heavier", p->container->name);
	log_event(LOG_EVENT_CONTAINER_DRIFTED, LOG_INFO, "BISMAR_CONTAINER", p->container->name, "container %s", say);
	tell_container(desk, p, p->container, "drifted", say);
}

void passage_tell_live(struct desk *desk, struct roster_scale *scale, int64_t gross_mg, int64_t step_mg, bool tared,
		       bool steady)
{
	const struct roster_container *container = known_container(desk, scale, tared);
	int64_t net_mg = gross_mg - (container ? container->tare.mass_mg : 0), now_ms = clock_now_ms();
	char text[128], mass[32];

	if (now_ms - scale->live_told_ms < LIVE_EVERY_MS && now_ms >= scale->live_told_ms)
		return;
	scale->live_told_ms = now_ms;
	(void)quantity_format(mass, sizeof mass, net_mg, step_mg, QUANTITY_GRAMS);
	(void)snprintf(text, sizeof text, "live %s: %s", scale->name, mass);
	desk_tell(desk, PROMPT_LIVE,
		  json_pack("{s:s, s:f, s:f, s:b}", "scale", scale->name, "gross_g", (double)gross_mg / 1000, "net_g",
			    (double)net_mg / 1000, "steady", steady),
		  text);
}

static void ask(struct desk *desk, const struct judged *p, const char *id)
{
	struct ask new = {
		.at_ms = p->weighing.at_ms,
		.received_ms = p->result.received_ms,
		.opened_ms = clock_boot_ms(),
		.gross_mg = p->weighing.gross_mg,
		.tare_mg = p->weighing.tare_mg,
		.net_mg = p->weighing.net_mg,
		.u_mg = p->weighing.u_mg,
		.step_mg = p->result.step_mg,
		.restless = p->of->restless,
	};

	(void)snprintf(new.id, sizeof new.id, "%s", id);
	(void)snprintf(new.scale_id, sizeof new.scale_id, "%s", p->scale->id);
	(void)snprintf(new.container_id, sizeof new.container_id, "%s", p->container ? p->container->id : "");
	desk_open_ask(desk, &new);
}

/* True when a question was opened. */
static bool follow_up(struct desk *desk, struct judged *p, const char *id)
{
	if (p->awaited) {
		tared(desk, p);
		return false;
	}
	switch (p->outcome) {
	case WEIGH_DONE:
		passage_tell_live(desk, p->scale, p->result.gross_mg, p->result.step_mg, p->of->tared, true);
		ask(desk, p, id);
		return true;
	case WEIGH_REPEAT:
		return false;
	case WEIGH_EMPTY:
		checked(desk, p);
		return false;
	case WEIGH_BELOW:
		tell_container(desk, p, p->container, "below", p->why);
		return false;
	}
	return false;
}

static int take_result(struct desk *desk, const struct passage *passage, bool *ret_asked)
{
	struct judged p = { .of = passage, .scale = passage->scale, .result = passage->result };
	char id[UUID7_SIZE];
	int r;

	judge(desk, &p);
	say_why(&p);
	r = commit(desk, &p, id);
	if (r != 0)
		return r;
	p.scale->memory = p.memory;
	if (p.outcome == WEIGH_DONE && p.weighing.stamp_refused)
		log_event(LOG_EVENT_STAMP_REFUSED, LOG_WARNING, "BISMAR_SCALE", p.scale->address, "scale %s: %s", p.scale->name, p.why);
	*ret_asked = follow_up(desk, &p, id);
	return 0;
}

static int take_frame(struct desk *desk, const struct passage *passage, enum store_fate fate)
{
	struct store_stamp stamp = desk_stamp("bismard", NULL);
	struct store_frame row = frame_row(passage->frame, passage->scale);

	row.fate = fate;
	row.why = passage->why;
	return store_add_frame(desk->store, &stamp, &row, NULL, NULL, NULL);
}

int passage_try(struct desk *desk, const struct passage *passage, bool *ret_asked)
{
	bool asked = false;
	int r = 0;

	switch (passage->kind) {
	case PASSAGE_RESULT:
		r = take_result(desk, passage, &asked);
		break;
	case PASSAGE_REFUSED:
		r = take_frame(desk, passage, STORE_REFUSED);
		break;
	case PASSAGE_KEPT:
		r = take_frame(desk, passage, STORE_USED);
		break;
	case PASSAGE_REPEAT:
		r = take_frame(desk, passage, STORE_REPEAT);
		break;
	}
	if (r == 0 && ret_asked)
		*ret_asked = asked;
	return r;
}

bool passage_take(struct desk *desk, const struct passage *passage)
{
	bool asked = false;

	if (desk->pending.n == 0) { /* else it waits its turn */
		int r = passage_try(desk, passage, &asked);
		if (r == 0)
			return asked;
		log_event(LOG_EVENT_DATABASE_BLOCKED, LOG_ERR, NULL, NULL, "%s Results are held in memory and tried again every 5 s; %s%s",
			  r > 0 ? store_outcome_text(r) : "A result can't be recorded.", r > 0 ? "SQLite says: " : "",
			  r > 0 ? store_detail(desk->store) : strerror(-r));
	}
	desk_hold(desk, passage);
	return false;
}
