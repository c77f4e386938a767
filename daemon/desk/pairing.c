// SPDX-License-Identifier: MIT
/*
 * Requests about what stands between us and one scale: a bond, a user's consent, and what it offers at all. The radio does
 * them; what comes of it is told on the topics `pairing` and `offer`.
 */
#include "daemon/desk/room.h"
#include "daemon/log.h"
#include "daemon/radio/consent.h"
#include "protocols/bytes.h"
#include "protocols/formats.h"
#include "protocols/presentation.h"
#include <errno.h>

#define PAIR_S 60
#define PROBE_S 30
#define PASSKEY_DIGITS 6

/* ---- what the radio tells ---- */

static const char *pairing_word(enum radio_pairing what)
{
	switch (what) {
	case RADIO_PAIRING_NEEDED:
		return "needed";
	case RADIO_PAIRING_PASSKEY:
		return "passkey";
	case RADIO_PAIRING_SHOW:
		return "show";
	case RADIO_PAIRING_CONFIRM:
		return "confirm";
	case RADIO_PAIRING_DONE:
		return "done";
	case RADIO_PAIRING_FAILED:
		return "failed";
	}
	return "?";
}

static void say_pairing(char *say, size_t size, const char *name, enum radio_pairing what, const char *digits,
			const char *text)
{
	switch (what) {
	case RADIO_PAIRING_NEEDED:
		(void)snprintf(say, size, "%s must be paired, because %s: bismar scale pair %s", name, text, name);
		break;
	case RADIO_PAIRING_PASSKEY:
		(void)snprintf(say, size, "%s shows six digits; which?", name);
		break;
	case RADIO_PAIRING_SHOW:
		(void)snprintf(say, size, "type %s on %s", digits, name);
		break;
	case RADIO_PAIRING_CONFIRM:
		(void)snprintf(say, size, "does %s show %s?", name, digits);
		break;
	case RADIO_PAIRING_DONE:
		(void)snprintf(say, size, "%s is paired", name);
		break;
	case RADIO_PAIRING_FAILED:
		(void)snprintf(say, size, "%s is not paired: %s", name, text);
		break;
	}
}

void desk_on_pairing(void *userdata, const char *address, enum radio_pairing what, uint32_t passkey, const char *text)
{
	struct desk *desk = userdata;
	const struct roster_scale *scale = roster_scale(&desk->roster, address);
	bool digits = what == RADIO_PAIRING_SHOW || what == RADIO_PAIRING_CONFIRM;
	char shown[16], say[512], line[540];

	desk->pairing_wants_digits = what == RADIO_PAIRING_PASSKEY;
	if (!scale)
		return;
	(void)snprintf(shown, sizeof shown, "%06u", (unsigned)passkey);
	if (digits && *text)
		(void)snprintf(shown, sizeof shown, "%s", text); /* as many digits as there are */
	say_pairing(say, sizeof say, scale->name, what, shown, text);
	if (what == RADIO_PAIRING_NEEDED) /* the radio has warned; it knows no name */
		log_info("to pair scale %s: bismar scale pair %s", address, scale->name);
	(void)snprintf(line, sizeof line, "pairing: %s", say);
	desk_tell(desk, PROMPT_PAIRING,
		  json_pack("{s:s, s:s, s:s, s:o, s:s}", "scale", scale->name, "address", scale->address, "what",
			    pairing_word(what), "passkey", digits ? json_string(shown) : json_null(), "say", say),
		  line);
}

/* The smallest difference that values of this characteristic can tell; 0: they are no mass. A value of zero tells it. */
static int64_t step_mg(const struct radio_offer *offer)
{
	/* Body Composition: flags with weight present (bit 10), body fat, weight; others: zeros (facts, 1.3, 2.2) */
	static const uint8_t body[] = { 0x00, 0x04, 0, 0, 0, 0 }, zeros[8];
	const struct format *format = format_for(offer->uuid, offer->description);
	struct presentation_number number = { .octets = format && format->uuid16 == 0x2a98 ? 2 : 3 };
	struct bytes value;
	struct payload payload;

	if (!format)
		return 0;
	if (format->uuid16 == 0 && offer->description)
		(void)presentation_number(offer->description->format, &number); /* a format of masses has one */
	value = format->uuid16 == 0x2a9c ? (struct bytes){ body, sizeof body } : (struct bytes){ zeros, number.octets };
	return format->decode(value, offer->description, &payload) == PAYLOAD_OK ? payload.step_mg : 0;
}

/* The same of a format that the settings declare. */
static int64_t declared_step_mg(const struct declared *declared)
{
	static const uint8_t zeros[DECLARED_OFFSET_MAX + DECLARED_WIDTH_MAX];
	struct payload payload;

	return declared_decode(declared, (struct bytes){ zeros, sizeof zeros }, &payload) == PAYLOAD_OK ?
		       payload.step_mg : 0;
}

static const char *offer_name(const char *uuid)
{
	/* Assigned Numbers, 3.8 */
	static const struct {
		uint16_t number;
		const char *name;
	} names[] = {
		{ 0x2a9d, "Weight Measurement" },  { 0x2a9e, "Weight Scale Feature" },
		{ 0x2a9c, "Body Composition Measurement" }, { 0x2a9b, "Body Composition Feature" },
		{ 0x2a98, "Weight" },              { 0x2a19, "Battery Level" },
		{ 0x2a2b, "Current Time" },        { 0x2a9f, "User Control Point" },
		{ 0x2a9a, "User Index" },          { 0x2a99, "Database Change Increment" },
		{ 0x2a29, "Manufacturer Name" },   { 0x2a24, "Model Number" },
		{ 0x2a25, "Serial Number" },       { 0x2a26, "Firmware Revision" },
		{ 0x2a00, "Device Name" },         { 0x2a01, "Appearance" },
		{ 0x2a05, "Service Changed" },
	};
	uint16_t number = format_assigned_number(uuid);

	for (size_t i = 0; number && i < sizeof names / sizeof *names; i++)
		if (names[i].number == number)
			return names[i].name;
	return uuid;
}

static json_t *properties(const struct radio_offer *offer)
{
	const struct {
		bool has;
		const char *word;
	} words[] = { { offer->reads, "read" }, { offer->writes, "write" }, { offer->notifies, "notify" },
		      { offer->indicates, "indicate" } };
	json_t *list = json_array();

	for (size_t i = 0; i < sizeof words / sizeof *words; i++)
		if (words[i].has)
			(void)json_array_append_new(list, json_string(words[i].word)); /* no list, no notification */
	return list;
}

static json_t *description(const struct presentation *of)
{
	return of ? json_pack("{s:i, s:i, s:i, s:i, s:i}", "format", of->format, "exponent", of->exponent, "unit", of->unit,
			      "namespace", of->name_space, "description", of->description)
		  : json_null();
}

static void tell_end(struct desk *desk, const char *address, bool ok)
{
	char text[128], say[96];

	(void)snprintf(say, sizeof say, ok ? "that is all" : "%s can't be reached; bring it near, wake it, and try again",
		       address);
	(void)snprintf(text, sizeof text, "offer: %s", say);
	desk_tell(desk, PROMPT_OFFER,
		  json_pack("{s:s, s:b, s:b, s:s}", "address", address, "done", true, "ok", ok, "say", say), text);
}

void desk_on_offer(void *userdata, const char *address, const struct radio_offer *offer, bool ok)
{
	struct desk *desk = userdata;
	const struct declared *declared;
	char text[192], say[160];
	int64_t mg;

	if (!offer) {
		tell_end(desk, address, ok);
		return;
	}
	declared = desk_declared(desk, RADIO_VALUE, offer->uuid);
	mg = !offer->notifies && !offer->indicates ? 0 : declared ? declared_step_mg(declared) : step_mg(offer);
	if (mg > 0)
		(void)snprintf(say, sizeof say, "%s, steps of %.10g g", offer_name(offer->uuid), (double)mg / 1000);
	else
		(void)snprintf(say, sizeof say, "%s", offer_name(offer->uuid));
	(void)snprintf(text, sizeof text, "offer: %s", say);
	desk_tell(desk, PROMPT_OFFER,
		  json_pack("{s:s, s:s, s:o, s:o, s:o, s:s}", "address", address, "uuid", offer->uuid, "properties",
			    properties(offer), "description", description(offer->description), "step_g",
			    mg > 0 ? json_real((double)mg / 1000) : json_null(), "say", say),
		  text);
}

/* ---- users of scales ---- */


static int consent_row(void *userdata, const struct store_scale_row *row)
{
	struct radio *radio = userdata;

	if (row->user != STORE_NO_USER)
		(void)radio_consent(radio, row->address, (uint8_t)row->user, row->code); /* adopted, and checked when kept */
	return 0;
}

void desk_give_consents(struct desk *desk)
{
	if (desk->radio && store_each_scale(desk->store, consent_row, desk->radio) != 0)
		log_warning("the consent codes of scales can't be read, ignoring");
}

/* ---- the requests ---- */

static int find_scale(struct desk *desk, const char *name, struct roster_scale **ret, struct rpc_refusal *refusal)
{
	*ret = roster_scale(&desk->roster, name);
	if (*ret)
		return 0;
	return rpc_refuse(refusal, "not-found", "`bismar scale list` shows the adopted ones.", "no scale is called \"%s\"", name);
}

/* r: what a radio_*() returned, < 0. */
static int refuse_radio(struct desk *desk, int r, const char *what, struct rpc_refusal *refusal)
{
	enum radio_trouble trouble = desk->radio ? radio_trouble(desk->radio) : RADIO_NO_BUS;

	if (r == -EBUSY)
		return rpc_refuse(refusal, "busy", "Wait a minute, and try again.", "another %s is under way", what);
	if (r == -ENODEV || r == -ENOENT)
		return rpc_refuse(refusal, "radio", "`bismar status` shows the radio's state.", "%s",
				  trouble == RADIO_FINE ? "the scale isn't listened to" : radio_trouble_text(trouble));
	return r;
}

DESK_METHOD(desk_scale_pair) /* scale, by? */
{
	struct desk *desk = userdata;
	struct roster_scale *scale;
	int r = find_scale(desk, values[0].text, &scale, refusal);

	if (r != 0)
		return r;
	r = desk->radio ? radio_pair(desk->radio, scale->address) : -ENODEV;
	if (r < 0)
		return refuse_radio(desk, r, "pairing", refusal);
	log_info("scale %s: pairing, asked for by %s", scale->address, caller->peer);
	*ret_result = json_pack("{s:s, s:s, s:i}", "scale", scale->name, "address", scale->address, "seconds", PAIR_S);
	return *ret_result ? 0 : -ENOMEM;
}

/* One to six digits. */
static bool read_passkey(const char *text, uint32_t *ret)
{
	size_t n = strlen(text);
	uint32_t passkey = 0;

	if (n == 0 || n > PASSKEY_DIGITS || strspn(text, "0123456789") != n)
		return false;
	for (size_t i = 0; i < n; i++)
		passkey = passkey * 10 + (uint32_t)(text[i] - '0');
	*ret = passkey;
	return true;
}

DESK_METHOD(desk_scale_passkey) /* passkey?, yes? */
{
	struct desk *desk = userdata;
	bool no = values[1].text && strcmp(values[1].text, "no") == 0;
	bool yes = values[1].text && strcmp(values[1].text, "yes") == 0;
	uint32_t passkey = 0;
	int r;

	(void)caller;
	if (values[1].text && !yes && !no)
		return rpc_refuse(refusal, "bad-value", "Say yes or no.", "\"%s\" is neither yes nor no", values[1].text);
	if (values[0].text && !read_passkey(values[0].text, &passkey))
		return rpc_refuse(refusal, "bad-value", "Give the six digits that the scale shows.", "\"%s\" is no passkey",
				  values[0].text);
	if (!no && !values[0].text && (!yes || desk->pairing_wants_digits))
		return rpc_refuse(refusal, "bad-value", "Give the six digits that the scale shows; or yes or no.",
				  "a passkey, or yes or no, is missing");
	r = desk->radio ? radio_pair_answer(desk->radio, !no, passkey) : -ENOENT;
	if (r == -ENOENT)
		return rpc_refuse(refusal, "not-found", "`scale.pair` (`bismar scale pair`) begins it.",
				  "no pairing waits for an answer");
	desk->pairing_wants_digits = false;
	*ret_result = json_pack("{s:b}", "yes", !no);
	return *ret_result ? 0 : -ENOMEM;
}

static int check_consent(const struct rpc_value *user, const struct rpc_value *code, struct rpc_refusal *refusal)
{
	if (!user->given && !code->given)
		return 0;
	if (!user->given || !code->given)
		return rpc_refuse(refusal, "bad-value", "Give both; or neither, to use none any more.",
				  "a user needs an index and a consent code");
	if (user->whole < 0 || user->whole >= STORE_NO_USER)
		return rpc_refuse(refusal, "bad-value", "The scale told it when the user was registered there.",
				  "a user's index is 0 to 254");
	if (code->whole < 0 || code->whole > CONSENT_CODE_MAX)
		return rpc_refuse(refusal, "bad-value", "It was set when the user was registered on the scale.",
				  "a consent code is 0 to %d", CONSENT_CODE_MAX);
	return 0;
}

DESK_METHOD(desk_scale_consent) /* scale, user?, code?, by? */
{
	struct desk *desk = userdata;
	struct store_stamp stamp = desk_stamp(caller->peer, values[3].text);
	unsigned user = values[1].given ? (unsigned)values[1].whole : STORE_NO_USER;
	unsigned code = values[2].given ? (unsigned)values[2].whole : 0;
	struct roster_scale *scale;
	int r = find_scale(desk, values[0].text, &scale, refusal);

	if (r == 0)
		r = check_consent(&values[1], &values[2], refusal);
	if (r != 0)
		return r;
	r = store_set_consent(desk->store, &stamp, scale->id, user, code);
	if (r == 0)
		r = roster_load_scales(&desk->roster, desk->store);
	if (r != 0)
		return desk_refuse_ledger(r, refusal);
	scale = roster_scale(&desk->roster, values[0].text);
	if (!scale)
		return -ENOENT; /* can't be: it was there a moment ago */
	if (desk->radio && radio_consent(desk->radio, scale->address, (uint8_t)user, code) < 0)
		log_warning("scale %s: the consent code is kept, and used after a restart, ignoring", scale->address);
	*ret_result = json_pack("{s:s, s:o}", "scale", scale->name, "user",
				user == STORE_NO_USER ? json_null() : json_integer(user));
	return *ret_result ? 0 : -ENOMEM;
}

DESK_METHOD(desk_scale_offers) /* address */
{
	struct desk *desk = userdata;
	const struct roster_scale *scale = roster_scale(&desk->roster, values[0].text);
	const char *address = scale ? scale->address : values[0].text;
	int r = desk->radio ? radio_probe(desk->radio, address) : -ENODEV;

	(void)caller;
	if (r == -EINVAL)
		return rpc_refuse(refusal, "bad-value",
				  "An address looks like AA:BB:CC:DD:EE:FF; `bismar scale find` lists those in reach.",
				  "\"%.40s\" is no Bluetooth address, and no adopted scale", address);
	if (r < 0)
		return refuse_radio(desk, r, "look at what a scale offers", refusal);
	*ret_result = json_pack("{s:s, s:i}", "address", address, "seconds", PROBE_S);
	return *ret_result ? 0 : -ENOMEM;
}
