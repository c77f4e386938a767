// SPDX-License-Identifier: MIT
#include "daemon/desk/broadcast.h"
#include "daemon/desk/buttons.h"
#include "daemon/desk/frames.h"
#include "daemon/desk/keys.h"
#include "daemon/desk/room.h"
#include "daemon/desk/seal.h"
#include "daemon/log.h"
#include "protocols/bthome.h"
#include <errno.h>
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

/* What the ledger knows of a scale after a restart: BlueZ may show the last broadcast again. A counter of another key than
 * today's says nothing. */
struct recall {
	struct roster_scale *scale;
	const struct bthome_lock *lock;
};

static int recall(void *userdata, const uint8_t *octets, size_t n)
{
	const struct recall *recall = userdata;
	struct roster_scale *scale = recall->scale;
	struct bthome last;

	remember(scale, octets, n);
	if (bthome_read((struct bytes){ .at = octets, .left = n }, recall->lock, &last) != PAYLOAD_OK)
		return 0;
	scale->air.has_packet = last.has_packet_id;
	scale->air.packet = last.packet_id;
	scale->air.has_counter = last.encrypted;
	scale->air.counter = last.counter;
	return 0;
}

/* The key, or that there is none (*ret_has false). False: it can't be read, so nothing is to be believed. */
static bool load_key(struct desk *desk, const struct roster_scale *scale, uint8_t key[BTHOME_KEY_SIZE], bool *ret_has)
{
	int r = desk->keys ? keys_load(desk->keys, scale->id, key) : -ENOENT;

	if (r < 0 && r != -ENOENT) {
		log_debug("scale %s: its key can't be read: %s", scale->name, strerror(-r));
		return false;
	}
	*ret_has = r == 0;
	return true;
}

static enum payload_refusal unseal(struct desk *desk, struct roster_scale *scale, const struct radio_frame *frame,
				   struct bthome *ret)
{
	uint8_t key[BTHOME_KEY_SIZE];
	struct bthome_lock lock = { .decrypt = seal_decrypt };
	enum payload_refusal refusal = PAYLOAD_KEYLESS;
	bool has_key;

	if (load_key(desk, scale, key, &has_key)) {
		lock.key = has_key ? key : NULL;
		read_address(scale->address, lock.address);
		if (!scale->air.known)
			scale->air.known = store_last_bthome(desk->store, scale->id, recall,
							     &(struct recall){ scale, &lock }) == 0;
		lock.has_counter = scale->air.has_counter;
		lock.counter = scale->air.counter;
		refusal = bthome_read((struct bytes){ .at = frame->octets, .left = frame->n }, &lock, ret);
	}
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

static void keep(struct desk *desk, struct roster_scale *scale, const struct radio_frame *frame, enum passage_kind kind,
		 const char *why)
{
	(void)passage_take(desk, &(struct passage){ .kind = kind, .scale = scale, .frame = frame, .why = why });
}

static void note(struct desk *desk, struct roster_scale *scale, const struct radio_frame *frame, enum passage_kind kind,
		 const char *why)
{
	if (noteworthy(scale, frame->received_ms))
		keep(desk, scale, frame, kind, why);
}

static enum log_event refusal_event(enum payload_refusal refusal)
{
	switch (refusal) {
	case PAYLOAD_REPLAYED:
		return LOG_EVENT_BROADCAST_REPLAYED;
	case PAYLOAD_ENCRYPTED:
	case PAYLOAD_FORGED:
	case PAYLOAD_PLAIN:
	case PAYLOAD_KEYLESS:
		return LOG_EVENT_KEY_WRONG;
	case PAYLOAD_OK:
	case PAYLOAD_TRUNCATED:
	case PAYLOAD_RESERVED:
	case PAYLOAD_UNSUCCESSFUL:
	case PAYLOAD_OUT_OF_RANGE:
	case PAYLOAD_NO_MASS:
	case PAYLOAD_UNSUPPORTED:
		break;
	}
	return LOG_EVENT_FRAME_REFUSED;
}

static void refuse(struct desk *desk, struct roster_scale *scale, const struct radio_frame *frame,
		   enum payload_refusal refusal)
{
	if (refusal == PAYLOAD_REPLAYED && is_last(scale, frame)) { /* shown again by BlueZ, for instance as we start */
		note(desk, scale, frame, PASSAGE_REPEAT, "the packet before, again");
		return;
	}
	if (!noteworthy(scale, frame->received_ms)) /* nor the journal */
		return;
	if (refusal != scale->air.refused) /* one line a change */
		log_event(refusal_event(refusal), LOG_WARNING, "BISMAR_SCALE", scale->address,
			  "scale %s: its broadcasts are refused: %s", scale->name, payload_refusal_text(refusal));
	scale->air.refused = refusal;
	keep(desk, scale, frame, PASSAGE_REFUSED, payload_refusal_text(refusal));
}

static void take_battery(struct desk *desk, struct roster_scale *scale, const struct bthome *broadcast)
{
	bool news = broadcast->has_battery && scale->battery != broadcast->battery;

	if (broadcast->has_battery)
		scale->battery = broadcast->battery;
	if (broadcast->has_battery_low && broadcast->battery_low != scale->air.battery_low) {
		if (broadcast->battery_low)
			log_event(LOG_EVENT_BATTERY_LOW, LOG_WARNING, "BISMAR_SCALE", scale->address,
				  "scale %s: its battery is low", scale->name);
		scale->air.battery_low = broadcast->battery_low;
		news = true;
	}
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
	passage.result.fresh = broadcast->has_packet_id; /* a counter may rise with each repeat */
	passage.why = broadcast->n_masses > 1 ? "it holds several masses; the first counts" : NULL;
	return passage_take(desk, &passage);
}

/* A press without a number of its own may be sent several times. */
static bool is_again(struct roster_scale *scale, const struct radio_frame *frame, const struct bthome *broadcast)
{
	int64_t apart_ms = frame->received_ms - scale->air.pressed_ms;

	scale->air.pressed_ms = frame->received_ms;
	return !broadcast->has_packet_id && apart_ms >= 0 && apart_ms < BUTTONS_AGAIN_MS;
}

static void take_buttons(struct desk *desk, struct roster_scale *scale, const struct radio_frame *frame,
			 const struct bthome *broadcast, bool asked)
{
	enum buttons_meaning meaning = buttons_read(broadcast);
	const struct ask *ask;

	/* a press that sends a new mass is how that scale weighs, not what anyone says to it; and while the ledger can't be
	 * written that mass may still wait for its question */
	if (meaning == BUTTONS_NOTHING || asked || desk->pending.n > 0 || is_again(scale, frame, broadcast))
		return;
	ask = buttons_ask(desk, scale);
	if (broadcast->n_masses == 0 || !broadcast->trigger) { /* else it is in the ledger already */
		/* after a restart it must be known, or it would answer a later question */
		if (ask)
			keep(desk, scale, frame, PASSAGE_KEPT, "its button answered a question");
		else
			note(desk, scale, frame, PASSAGE_KEPT, "its button was pressed, and no question was open");
	}
	if (ask)
		buttons_answer(desk, scale, meaning, ask);
	else
		log_debug("scale %s: its button was pressed and no question is open", scale->name);
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
	if (broadcast.has_packet_id) { /* else it says nothing of the numbered ones */
		scale->air.has_packet = true;
		scale->air.packet = broadcast.packet_id;
	}
	remember(scale, frame->octets, frame->n);
	take_battery(desk, scale, &broadcast);
	asked = take_mass(desk, scale, frame, &broadcast);
	take_buttons(desk, scale, frame, &broadcast, asked);
}
