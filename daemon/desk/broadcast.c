// SPDX-License-Identifier: MIT
#include "daemon/desk/broadcast.h"
#include "daemon/desk/buttons.h"
#include "daemon/desk/frames.h"
#include "daemon/desk/keys.h"
#include "daemon/desk/room.h"
#include "daemon/desk/seal.h"
#include "daemon/log.h"
#include "protocols/bthome.h"
#include <string.h>

#define NOISE_MS (60 * 1000)

static void remember(struct roster_scale *scale, const uint8_t *octets, size_t n)
{
	scale->air.n_last = n <= sizeof scale->air.last ? n : 0;
	if (scale->air.n_last)
		memcpy(scale->air.last, octets, n);
}

static bool is_last(const struct roster_scale *scale, const struct radio_frame *frame)
{
	return frame->n && scale->air.n_last == frame->n && memcmp(scale->air.last, frame->octets, frame->n) == 0;
}

/* What the ledger knows of a scale after a restart: BlueZ may show the last broadcast again. */
static int recall(void *userdata, const uint8_t *octets, size_t n)
{
	struct roster_scale *scale = userdata;
	struct bytes b = { .at = octets, .left = n };
	struct bthome plain;
	uint8_t device_info;

	remember(scale, octets, n);
	if (bthome_read(b, NULL, &plain) == PAYLOAD_OK) {
		scale->air.has_packet = plain.has_packet_id;
		scale->air.packet = plain.packet_id;
		return 0;
	}
	/* the counter of an encrypted broadcast stands before its MIC (facts, 6) */
	if (n < 1 + 4 + BTHOME_MIC_SIZE || !bytes_u8(&b, &device_info) || !(device_info & 1) ||
	    !bytes_skip(&b, n - 1 - 4 - BTHOME_MIC_SIZE) || !bytes_u32(&b, &scale->air.counter))
		return 0;
	scale->air.has_counter = true;
	return 0;
}

/* Upper-case hexadecimal with colons, as BlueZ writes it and the roster keeps it. */
static void read_address(const char *text, uint8_t ret[BTHOME_ADDRESS_SIZE])
{
	for (size_t i = 0; i < BTHOME_ADDRESS_SIZE; i++) {
		unsigned octet = 0;
		for (size_t j = 0; j < 2; j++) {
			char c = text[i * 3 + j];
			octet = octet << 4 | (unsigned)(c >= 'A' ? c - 'A' + 10 : c - '0');
		}
		ret[i] = (uint8_t)octet;
	}
}

static enum payload_refusal unseal(struct desk *desk, struct roster_scale *scale, const struct radio_frame *frame,
				   struct bthome *ret)
{
	struct bytes value = { .at = frame->octets, .left = frame->n };
	uint8_t key[BTHOME_KEY_SIZE];
	struct bthome_lock lock = {
		.key = desk->keys && keys_load(desk->keys, scale->id, key) == 0 ? key : NULL,
		.decrypt = seal_decrypt,
	};
	enum payload_refusal refusal;

	if (!scale->air.known)
		scale->air.known = store_last_bthome(desk->store, scale->id, recall, scale) == 0;
	lock.has_counter = scale->air.has_counter;
	lock.counter = scale->air.counter;
	read_address(scale->address, lock.address);
	refusal = bthome_read(value, &lock, ret);
	explicit_bzero(key, sizeof key);
	return refusal;
}

/* Whether the ledger should note one more frame without effect; a stranger with the scale's address, or two devices
 * that share it, must not fill the disk. */
static bool noteworthy(struct roster_scale *scale, int64_t now_ms)
{
	if (now_ms - scale->air.noise_ms > NOISE_MS || now_ms < scale->air.noise_ms) {
		scale->air.noise_ms = now_ms;
		scale->air.noise = 0;
	}
	return scale->air.noise++ < BROADCAST_NOISE;
}

static void note(struct desk *desk, struct roster_scale *scale, const struct radio_frame *frame, enum passage_kind kind,
		 const char *why)
{
	if (noteworthy(scale, frame->received_ms))
		(void)passage_take(desk, &(struct passage){ .kind = kind, .scale = scale, .frame = frame, .why = why });
}

static void refuse(struct desk *desk, struct roster_scale *scale, const struct radio_frame *frame,
		   enum payload_refusal refusal)
{
	if (refusal != scale->air.refused) /* one line a change */
		log_event(refusal == PAYLOAD_REPLAYED ? LOG_EVENT_BROADCAST_REPLAYED : LOG_EVENT_KEY_WRONG, LOG_WARNING,
			  "BISMAR_SCALE", scale->address, "scale %s: its broadcasts are refused: %s", scale->name, payload_refusal_text(refusal));
	scale->air.refused = refusal;
	note(desk, scale, frame, PASSAGE_REFUSED, payload_refusal_text(refusal));
}

static void take_battery(struct desk *desk, struct roster_scale *scale, const struct bthome *broadcast)
{
	bool news = broadcast->has_battery && scale->battery != broadcast->battery;

	if (broadcast->has_battery)
		scale->battery = broadcast->battery;
	if (broadcast->battery_low && !scale->air.battery_low)
		log_event(LOG_EVENT_BATTERY_LOW, LOG_WARNING, "BISMAR_SCALE", scale->address, "scale %s: its battery is low",
			  scale->name);
	news = news || broadcast->battery_low != scale->air.battery_low;
	scale->air.battery_low = broadcast->battery_low;
	if (news)
		desk_tell_scale(desk, scale, LINK_LISTENING);
}

/* The mass in it, if any. True when it opened a question. */
static bool take_mass(struct desk *desk, struct roster_scale *scale, const struct radio_frame *frame,
		      const struct bthome *broadcast)
{
	struct passage passage;

	if (broadcast->n_masses == 0)
		return false;
	scale->air.weighs = true;
	if (!broadcast->trigger) {
		stream_take(desk, scale, frame, &broadcast->masses[0], false);
		return false;
	}
	passage = frames_passage(scale, frame, &broadcast->masses[0]);
	passage.result.fresh = broadcast->has_packet_id || broadcast->encrypted;
	passage.why = broadcast->n_masses > 1 ? "it holds several masses; the first counts" : NULL;
	return passage_take(desk, &passage);
}

static void take_buttons(struct desk *desk, struct roster_scale *scale, const struct radio_frame *frame,
			 const struct bthome *broadcast, bool asked)
{
	enum buttons_meaning meaning = buttons_read(broadcast);
	const struct ask *ask;

	/* a press that sends a new mass is how that scale weighs, not what anyone says to it */
	if (meaning == BUTTONS_NOTHING || asked)
		return;
	ask = buttons_ask(desk, scale);
	if (!ask) {
		log_debug("scale %s: its button was pressed and no question is open", scale->name);
		return;
	}
	if (broadcast->n_masses == 0) /* else it is in the ledger already */
		(void)passage_take(desk, &(struct passage){ .kind = PASSAGE_KEPT,
							     .scale = scale,
							     .frame = frame,
							     .why = "its button answered a question" });
	buttons_answer(desk, scale, meaning, ask);
}

void broadcast_take(struct desk *desk, struct roster_scale *scale, const struct radio_frame *frame)
{
	struct bthome broadcast;
	enum payload_refusal refusal = unseal(desk, scale, frame, &broadcast);
	bool asked;

	if (refusal != PAYLOAD_OK) {
		refuse(desk, scale, frame, refusal);
		return;
	}
	scale->air.refused = PAYLOAD_OK;
	if (broadcast.encrypted) {
		scale->air.has_counter = true;
		scale->air.counter = broadcast.counter;
	}
	if (broadcast.has_packet_id ? scale->air.has_packet && scale->air.packet == broadcast.packet_id :
				      is_last(scale, frame)) {
		note(desk, scale, frame, PASSAGE_REPEAT, "the packet before, again");
		return;
	}
	scale->air.has_packet = broadcast.has_packet_id;
	scale->air.packet = broadcast.packet_id;
	remember(scale, frame->octets, frame->n);
	take_battery(desk, scale, &broadcast);
	asked = take_mass(desk, scale, frame, &broadcast);
	take_buttons(desk, scale, frame, &broadcast, asked);
}
