// SPDX-License-Identifier: MIT
/*
 * From a scale's octets to a result: finds the format, decodes, and hands on what came of it.
 */
#include "daemon/desk/broadcast.h"
#include "daemon/desk/frames.h"
#include "daemon/desk/room.h"
#include "daemon/desk/undated.h"
#include "daemon/log.h"
#include "protocols/bthome.h"
#include "protocols/feature.h"
#include "protocols/formats.h"
#include <errno.h>

/* ---- the settings' formats ---- */

void desk_set_formats(struct desk *desk, const struct declared *list, size_t n)
{
	desk->formats = list;
	desk->n_formats = n;
	if (desk->radio)
		radio_look_again(desk->radio);
}

const struct declared *desk_declared(const struct desk *desk, enum radio_kind kind, const char *uuid)
{
	enum declared_source source = DECLARED_CHARACTERISTIC;

	switch (kind) {
	case RADIO_VALUE:
		source = DECLARED_CHARACTERISTIC;
		break;
	case RADIO_SERVICE_DATA:
		source = DECLARED_SERVICE_DATA;
		break;
	case RADIO_MANUFACTURER:
		source = DECLARED_MANUFACTURER;
		break;
	}
	return declared_for(desk->formats, desk->n_formats, source, uuid);
}

bool desk_wanted(void *userdata, enum radio_kind kind, const char *uuid)
{
	return desk_declared(userdata, kind, uuid) != NULL;
}

/* ---- a decoded mass ---- */

int64_t frames_step_mg(const struct roster_scale *scale, const struct payload *payload)
{
	int64_t resolution = payload->unit == MASS_POUND ? scale->resolution_lb_mg : scale->resolution_kg_mg;

	/* a scale may measure more coarsely than the wire can tell, never more finely */
	return payload->step_mg > resolution ? payload->step_mg : resolution;
}

static void date(struct roster_scale *scale, const struct payload *payload, struct weigh_result *result)
{
	if (!payload->has_stamp || payload->notes & PAYLOAD_NOTE_BAD_STAMP)
		return;
	result->has_stamp = true;
	result->stamp_ms = clock_local_to_utc_ms(&payload->stamp);
	result->ahead_ms =
		stamp_ahead_ms(&scale->clock, result->link, result->stamp_ms, result->received_ms, &result->live);
}

struct passage frames_passage(struct roster_scale *scale, const struct radio_frame *frame,
			      const struct payload *payload)
{
	struct passage passage = {
		.kind = PASSAGE_RESULT,
		.scale = scale,
		.frame = frame,
		.result = {
			.gross_mg = payload->mass_mg,
			.step_mg = frames_step_mg(scale, payload),
			.received_ms = frame->received_ms,
			.link = frame->link,
		},
		.frame_mg = payload->mass_mg,
		.tared = payload->tared,
		.user = payload->has_user && payload->user != 0xff ? payload->user : -1,
	};

	date(scale, payload, &passage.result);
	return passage;
}

/* ---- values ---- */

/* Half of a measurement, or one that failed: in a day's work, and nobody's to look into. */
static bool is_usual(enum payload_refusal refusal)
{
	return refusal == PAYLOAD_NO_MASS || refusal == PAYLOAD_UNSUCCESSFUL;
}

static void refuse(struct desk *desk, struct roster_scale *scale, const struct radio_frame *frame,
		   enum payload_refusal refusal)
{
	if (refusal != scale->refused && !is_usual(refusal)) /* one line a change */
		log_event(LOG_EVENT_FRAME_REFUSED, LOG_WARNING, "BISMAR_SCALE", scale->address,
			  "scale %s: what it sends is refused: %s, ignoring", scale->name, payload_refusal_text(refusal));
	scale->refused = is_usual(refusal) ? PAYLOAD_OK : refusal;
	(void)passage_take(desk, &(struct passage){ .kind = PASSAGE_REFUSED,
						     .scale = scale,
						     .frame = frame,
						     .why = payload_refusal_text(refusal) });
}

static void take_declared(struct desk *desk, struct roster_scale *scale, const struct radio_frame *frame,
			  const struct declared *declared)
{
	struct bytes value = { .at = frame->octets, .left = frame->n };
	struct passage passage;
	struct payload payload;
	enum payload_refusal refusal = declared_decode(declared, value, &payload);

	if (refusal != PAYLOAD_OK) {
		refuse(desk, scale, frame, refusal);
		return;
	}
	scale->refused = PAYLOAD_OK;
	if (declared->reports == DECLARED_STREAM) {
		stream_take(desk, scale, frame, &payload, false);
		return;
	}
	/* what the scale itself calls unsteady is shown, and is no result */
	if (payload.steady == PAYLOAD_STEADY_NO) {
		passage_tell_live(desk, scale, payload.mass_mg, frames_step_mg(scale, &payload), payload.tared, false);
		return;
	}
	passage = frames_passage(scale, frame, &payload);
	(void)passage_take(desk, &passage);
}

static void take_value(struct desk *desk, struct roster_scale *scale, const struct radio_frame *frame)
{
	const struct format *format = format_for(frame->uuid, frame->description);
	struct bytes value = { .at = frame->octets, .left = frame->n };
	struct passage passage;
	struct payload payload;
	enum payload_refusal refusal;

	if (!format)
		return;
	refusal = format->decode(value, frame->description, &payload);
	if (refusal != PAYLOAD_OK) {
		refuse(desk, scale, frame, refusal);
		return;
	}
	scale->refused = PAYLOAD_OK;
	if (format->uuid16 == 0) { /* a mass that only its description tells of may be a stream's */
		stream_take(desk, scale, frame, &payload, true);
		return;
	}
	passage = frames_passage(scale, frame, &payload);
	if (!undated_hold(desk, &passage))
		(void)passage_take(desk, &passage);
}

void desk_take_frame(struct desk *desk, const struct radio_frame *frame)
{
	struct roster_scale *scale = roster_scale(&desk->roster, frame->address);
	const struct declared *declared = desk_declared(desk, frame->kind, frame->uuid);

	desk_follow_clock(desk);
	if (!scale)
		return; /* forgotten meanwhile: only adopted scales are listened to */
	if (declared) /* who declares a format for what a standard knows means it */
		take_declared(desk, scale, frame, declared);
	else if (frame->kind == RADIO_VALUE)
		take_value(desk, scale, frame);
	else if (frame->kind == RADIO_SERVICE_DATA && format_assigned_number(frame->uuid) == BTHOME_UUID16)
		broadcast_take(desk, scale, frame);
}

/* ---- what else a scale tells ---- */

#define CLOCK_TOLD_MS (60 * 1000) /* a scale's clock that is off by more is worth a word */

void desk_on_clock(void *userdata, const char *address, const uint8_t *octets, size_t n, int64_t received_ms, uint32_t link,
		   bool set)
{
	struct desk *desk = userdata;
	struct roster_scale *scale = roster_scale(&desk->roster, address);
	struct bytes value = { .at = octets, .left = n };
	struct store_stamp stamp = desk_stamp("bismard", NULL);
	struct date_time time;
	int64_t ahead_ms;

	desk_follow_clock(desk);
	if (!scale)
		return;
	if (!date_time_read(&value, &time) || !date_time_valid(&time)) {
		log_debug("scale %s: its clock shows no date", address);
		undated_release(desk, scale->id);
		return;
	}
	ahead_ms = clock_local_to_utc_ms(&time) - received_ms;
	stamp_read(&scale->clock, link, received_ms + ahead_ms, received_ms, set);
	undated_release(desk, scale->id);
	if (!set && ahead_ms <= CLOCK_TOLD_MS && ahead_ms >= -CLOCK_TOLD_MS)
		return;
	log_event(LOG_EVENT_CLOCK_SET, LOG_INFO, "BISMAR_SCALE", scale->address, "scale %s: its clock is %lld s %s%s", scale->name,
		  (long long)(ahead_ms < 0 ? -ahead_ms : ahead_ms) / 1000, ahead_ms < 0 ? "late" : "ahead",
		  set ? "; it has been set" : "; its results are dated by ours");
	if (store_add_clock(desk->store, &stamp, scale->id, ahead_ms, set) != 0)
		log_debug("scale %s: can't note its clock in the ledger", address);
}

void desk_on_feature(void *userdata, const char *address, uint16_t uuid16, const uint8_t *octets, size_t n)
{
	struct desk *desk = userdata;
	struct roster_scale *scale = roster_scale(&desk->roster, address);
	struct bytes value = { .at = octets, .left = n };
	struct feature feature = { 0 };

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
