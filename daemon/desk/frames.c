// SPDX-License-Identifier: MIT
/*
 * From a scale's octets to a question: decode, make a weighing of it, commit, ask. The commit comes before anything
 * that a person or program could see.
 */
#include "daemon/desk/room.h"
#include "daemon/log.h"
#include "daemon/weigh/quantity.h"
#include "protocols/feature.h"
#include "protocols/formats.h"
#include <errno.h>

#define LIVE_EVERY_MS 100 /* contract: at most 10 a second */

/* One result on its way through. */
struct passage {
	struct roster_scale *scale;
	struct roster_container *container; /* on the scale, with a tare; or NULL */
	struct roster_container *awaited;   /* whose tare this result may become; or NULL */
	struct weigh_result result;
	struct weigh_memory memory; /* the scale's, as it will be once the ledger has it */
	enum weigh_outcome outcome;
	struct weighing weighing;
	int user;
	char why[192];
};

static void decoded(struct passage *p, const struct radio_frame *frame, const struct payload *payload)
{
	int64_t resolution = payload->unit == MASS_POUND ? p->scale->resolution_lb_mg : p->scale->resolution_kg_mg;

	p->result = (struct weigh_result){
		.gross_mg = payload->mass_mg,
		/* a scale may measure more coarsely than the wire can tell, never more finely */
		.step_mg = payload->step_mg > resolution ? payload->step_mg : resolution,
		.received_ms = frame->received_ms,
		.link = frame->link,
	};
	if (payload->has_stamp && !(payload->notes & PAYLOAD_NOTE_BAD_STAMP)) {
		p->result.has_stamp = true;
		p->result.stamp_ms = clock_local_to_utc_ms(&payload->stamp);
	}
	p->user = payload->has_user && payload->user != 0xff ? payload->user : -1;
}

static struct roster_container *awaited_tare(struct desk *desk, const struct roster_scale *scale)
{
	if (!desk->tare.waiting || (desk->tare.scale_id[0] && strcmp(desk->tare.scale_id, scale->id) != 0))
		return NULL;
	return roster_container_by_id(&desk->roster, desk->tare.container_id);
}

/* What becomes a tare stands on the scale now: neither nothing, nor what the scale had kept, nor a repeat. */
static bool can_be_tare(const struct passage *p)
{
	return p->outcome == WEIGH_DONE && p->weighing.origin == WEIGH_RADIO;
}

static void judge(struct desk *desk, struct passage *p)
{
	struct roster_container *on = roster_container_by_id(&desk->roster, p->scale->container_id);
	const struct tare *tare;

	p->container = on && on->has_tare ? on : NULL;
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

static void say_why(struct passage *p)
{
	char gross[32], tare[32];

	(void)quantity_format(gross, sizeof gross, p->weighing.gross_mg, p->result.step_mg, QUANTITY_GRAMS);
	(void)quantity_format(tare, sizeof tare, p->weighing.tare_mg, 0, QUANTITY_GRAMS);
	switch (p->outcome) {
	case WEIGH_DONE:
		(void)snprintf(p->why, sizeof p->why, "%s",
			       p->weighing.stamp_refused ? "the scale's time stamp can't be true; dated by arrival" : "");
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

static int commit(struct desk *desk, const struct radio_frame *frame, struct passage *p, char ret_id[UUID7_SIZE])
{
	bool tares = p->awaited != NULL;
	struct store_stamp stamp = desk_stamp(tares ? desk->tare.peer : "bismard", tares ? desk->tare.said : NULL);
	struct roster_container *container = tares ? p->awaited : p->container;
	struct store_frame row = {
		.scale_id = p->scale->id,
		.uuid = frame->uuid,
		.octets = frame->octets,
		.n = frame->n,
		.received_ms = frame->received_ms,
		.link = frame->link,
		.fate = p->outcome == WEIGH_REPEAT ? STORE_REPEAT :
			p->outcome == WEIGH_BELOW || (p->outcome == WEIGH_EMPTY && !container) ? STORE_REFUSED : STORE_USED,
		.why = tares ? "became the container's tare" : p->why,
		.has_mass = true,
		.mass_mg = p->result.gross_mg,
		.step_mg = p->result.step_mg,
		.has_stamp = p->result.has_stamp,
		.stamp_ms = p->result.stamp_ms,
	};
	struct store_weighing weighing = {
		.scale_id = p->scale->id,
		.container_id = container ? container->id : NULL,
		.weighing = &p->weighing,
		.user = p->user,
		.step_mg = p->result.step_mg,
	};
	struct store_check check = {
		.container_id = container ? container->id : NULL,
		.gross_mg = p->result.gross_mg,
		.u_mg = weigh_step_u_mg(p->result.step_mg),
		.drift_mg = tares ? 0 : p->weighing.drift_mg,
		.drifted = !tares && p->weighing.drifted,
		.becomes_tare = tares,
	};
	bool is_weighing = p->outcome == WEIGH_DONE && !tares;
	bool is_check = tares || (p->outcome == WEIGH_EMPTY && container);

	return store_add_frame(desk->store, &stamp, &row, is_weighing ? &weighing : NULL, is_check ? &check : NULL,
			       ret_id);
}

/* ---- after the commit ---- */

static void tell_container(struct desk *desk, const struct passage *p, const struct roster_container *container,
			   const char *what, const char *say)
{
	char text[256];

	(void)snprintf(text, sizeof text, "container: %s", say);
	desk_tell(desk, PROMPT_CONTAINER,
		  json_pack("{s:o, s:s, s:f, s:f, s:f, s:f, s:s, s:s}", "container",
			    container ? json_string(container->name) : json_null(), "scale", p->scale->name, "gross_g",
			    (double)p->result.gross_mg / 1000, "tare_g",
			    container ? (double)container->tare.mass_mg / 1000 : 0.0, "drift_g",
			    (double)p->weighing.drift_mg / 1000, "u_g", (double)weigh_step_u_mg(p->result.step_mg) / 1000,
			    "what", what, "say", say),
		  text);
}

static void tared(struct desk *desk, struct passage *p)
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

static void checked(struct desk *desk, const struct passage *p)
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
	tell_container(desk, p, p->container, "drifted", say);
}

static void tell_live(struct desk *desk, struct passage *p)
{
	char text[128], mass[32];

	if (p->result.received_ms - p->scale->live_told_ms < LIVE_EVERY_MS &&
	    p->result.received_ms >= p->scale->live_told_ms)
		return;
	p->scale->live_told_ms = p->result.received_ms;
	(void)quantity_format(mass, sizeof mass, p->weighing.net_mg, p->result.step_mg, QUANTITY_GRAMS);
	(void)snprintf(text, sizeof text, "live %s: %s", p->scale->name, mass);
	desk_tell(desk, PROMPT_LIVE,
		  json_pack("{s:s, s:f, s:f, s:b}", "scale", p->scale->name, "gross_g",
			    (double)p->result.gross_mg / 1000, "net_g", (double)p->weighing.net_mg / 1000, "steady", true),
		  text);
}

static void ask(struct desk *desk, const struct passage *p, const char *id)
{
	struct ask new = {
		.at_ms = p->weighing.at_ms,
		.received_ms = p->result.received_ms,
		.gross_mg = p->weighing.gross_mg,
		.tare_mg = p->weighing.tare_mg,
		.net_mg = p->weighing.net_mg,
		.u_mg = p->weighing.u_mg,
		.step_mg = p->result.step_mg,
	};

	(void)snprintf(new.id, sizeof new.id, "%s", id);
	(void)snprintf(new.scale_id, sizeof new.scale_id, "%s", p->scale->id);
	(void)snprintf(new.container_id, sizeof new.container_id, "%s", p->container ? p->container->id : "");
	desk_open_ask(desk, &new);
}

static void follow_up(struct desk *desk, struct passage *p, const char *id)
{
	if (p->awaited) {
		tared(desk, p);
		return;
	}
	switch (p->outcome) {
	case WEIGH_DONE:
		tell_live(desk, p);
		ask(desk, p, id);
		return;
	case WEIGH_REPEAT:
		return;
	case WEIGH_EMPTY:
		checked(desk, p);
		return;
	case WEIGH_BELOW:
		tell_container(desk, p, p->container, "below", p->why);
		return;
	}
}

static int refuse(struct desk *desk, const struct radio_frame *frame, const struct roster_scale *scale,
		  const char *why)
{
	struct store_stamp stamp = desk_stamp("bismard", NULL);
	struct store_frame row = {
		.scale_id = scale->id,
		.uuid = frame->uuid,
		.octets = frame->octets,
		.n = frame->n,
		.received_ms = frame->received_ms,
		.link = frame->link,
		.fate = STORE_REFUSED,
		.why = why,
	};

	return store_add_frame(desk->store, &stamp, &row, NULL, NULL, NULL);
}

int desk_take_frame(struct desk *desk, const struct radio_frame *frame)
{
	struct passage p = { .scale = roster_scale(&desk->roster, frame->address) };
	const struct format *format = format_for(frame->uuid, frame->description);
	struct payload payload;
	enum payload_refusal refusal;
	char id[UUID7_SIZE];
	int r;

	if (!p.scale || !format)
		return 0; /* forgotten meanwhile: only adopted scales are listened to */
	refusal = format->decode((struct bytes){ .at = frame->octets, .left = frame->n }, frame->description, &payload);
	if (refusal != PAYLOAD_OK)
		return refuse(desk, frame, p.scale, payload_refusal_text(refusal));
	decoded(&p, frame, &payload);
	judge(desk, &p);
	say_why(&p);
	r = commit(desk, frame, &p, id);
	if (r != 0)
		return r;
	p.scale->memory = p.memory;
	follow_up(desk, &p, id);
	return 0;
}

void desk_on_feature(void *userdata, const char *address, uint16_t uuid16, const uint8_t *octets, size_t n)
{
	struct desk *desk = userdata;
	struct roster_scale *scale = roster_scale(&desk->roster, address);
	struct bytes value = { .at = octets, .left = n };
	struct feature feature;

	if (!scale)
		return;
	if (!(uuid16 == 0x2a9b ? feature_body_composition : feature_weight_scale)(value, &feature)) {
		log_warning("scale %s: its feature characteristic is too short, ignoring", address);
		return;
	}
	/* with both services, the coarser one is the safe one */
	if (feature.resolution_kg_mg > scale->resolution_kg_mg)
		scale->resolution_kg_mg = feature.resolution_kg_mg;
	if (feature.resolution_lb_mg > scale->resolution_lb_mg)
		scale->resolution_lb_mg = feature.resolution_lb_mg;
}
