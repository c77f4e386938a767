// SPDX-License-Identifier: MIT
#include "consent.h"
#include "gatt.h"
#include "wake.h"
#include "daemon/log.h"

/* User Control Point op codes and response values (facts, 5.5). */
enum {
	OP_CONSENT = 0x02,
	OP_RESPONSE = 0x20,
	RESPONSE_SUCCESS = 1,
};

const char *consent_outcome(struct bytes value, bool *ret_accepted)
{
	static const char *const outcomes[] = {
		[RESPONSE_SUCCESS] = "it accepts the consent code",
		[2] = "it knows no consent codes",
		[3] = "it has no user of that index",
		[4] = "it could not do it",
		[5] = "the consent code is wrong, or the user was blocked for too many wrong ones",
	};
	uint8_t op, request, outcome;

	if (!bytes_u8(&value, &op) || !bytes_u8(&value, &request) || !bytes_u8(&value, &outcome) || op != OP_RESPONSE ||
	    request != OP_CONSENT)
		return NULL;
	*ret_accepted = outcome == RESPONSE_SUCCESS;
	if (outcome >= sizeof outcomes / sizeof *outcomes || !outcomes[outcome])
		return "it refuses for a reason that the standard doesn't know";
	return outcomes[outcome];
}

static struct mirror_attribute *control_point(const struct scale *scale)
{
	for (struct mirror_attribute *at = scale->device->attributes; at; at = at->next)
		if (!at->descriptor && at->number == CONSENT_USER_CONTROL_POINT)
			return at;
	return NULL;
}

static void finish(struct scale *scale, int level, const char *text)
{
	scale->consent.step = CONSENT_OVER;
	wake_at(scale->consent.timer, UINT64_MAX);
	log_line(level, "scale %s, user %u: %s", scale->address, scale->consent.index, text);
}

static void refused(struct scale *scale, const char *member, DBusMessage *reply)
{
	const char *name = "", *text = "";
	char quoted[128];

	(void)bus_failed(reply, &name, &text);
	log_debug("scale %s: %s of the User Control Point: %s: %s", scale->address, member, name,
		  log_quote(text, quoted, sizeof quoted));
	if (gatt_is_unpaired(name, text))
		scale_needs_pairing(scale);
	finish(scale, LOG_WARNING, "the consent code can't be given, ignoring");
}

static void on_written(void *userdata, DBusMessage *reply)
{
	struct mirror_attribute *attribute = userdata;
	struct scale *scale = attribute->device->scale;
	const char *name, *text;

	/* the indication can have come before, or is due */
	if (bus_failed(reply, &name, &text) && scale->consent.step == CONSENT_WRITING)
		refused(scale, "WriteValue", reply);
}

static void on_notify(void *userdata, DBusMessage *reply)
{
	struct mirror_attribute *attribute = userdata;
	struct scale *scale = attribute->device->scale;
	uint8_t octets[] = { OP_CONSENT, scale->consent.index, (uint8_t)(scale->consent.code & 0xff),
			     (uint8_t)(scale->consent.code >> 8) };
	struct bus *bus = scale->host->bus;
	const char *name, *text;

	if (bus_failed(reply, &name, &text)) {
		refused(scale, "StartNotify", reply);
		return;
	}
	scale->consent.step = CONSENT_WRITING;
	wake_in(scale->consent.timer, CONSENT_LIMIT_US);
	if (bus_call(bus, gatt_write(bus, attribute->path, octets, sizeof octets), -1, on_written, attribute,
		     &attribute->call) < 0)
		finish(scale, LOG_WARNING, "the consent code can't be given, ignoring");
}

void consent_look(struct scale *scale)
{
	struct bus *bus = scale->host->bus;
	struct mirror_attribute *attribute;

	if (scale->consent.step != CONSENT_DUE || scale->link.state != LINK_SUBSCRIBED || !scale->device)
		return;
	attribute = control_point(scale);
	if (!attribute || attribute->call)
		return; /* it has none, or not yet */
	scale->consent.step = CONSENT_ASKING;
	if (bus_call(bus, bus_method(bus, attribute->path, MIRROR_CHARACTERISTIC, "StartNotify"), -1, on_notify, attribute,
		     &attribute->call) < 0)
		finish(scale, LOG_WARNING, "the consent code can't be given, ignoring");
}

void consent_value(struct scale *scale, struct bytes value)
{
	bool accepted = false;
	const char *outcome = consent_outcome(value, &accepted);

	if (scale->consent.step != CONSENT_WRITING || !outcome) {
		log_debug("scale %s: an indication of the User Control Point that nobody asked for, ignoring", scale->address);
		return;
	}
	finish(scale, accepted ? LOG_INFO : LOG_WARNING, outcome);
}

static int on_timer(sd_event_source *source, uint64_t at_us, void *userdata)
{
	(void)source, (void)at_us;
	finish(userdata, LOG_WARNING, "it didn't answer to the consent code within 30 seconds, ignoring");
	return 0;
}

int consent_init(struct scale *scale)
{
	scale->consent.index = CONSENT_NO_USER;
	return wake_new(scale->host->event, on_timer, scale, &scale->consent.timer);
}

void consent_done(struct scale *scale)
{
	scale->consent.timer = sd_event_source_disable_unref(scale->consent.timer);
}

void consent_give(struct scale *scale, uint8_t index, unsigned code)
{
	bool over = scale->consent.step == CONSENT_NONE || scale->consent.step == CONSENT_OVER;

	scale->consent.index = index;
	scale->consent.code = code;
	if (index == CONSENT_NO_USER)
		scale->consent.step = over ? CONSENT_NONE : scale->consent.step;
	else if (over)
		scale->consent.step = CONSENT_DUE;
	/* one under way is finished first; the new one comes with the next link */
}

void consent_end(struct scale *scale)
{
	wake_at(scale->consent.timer, UINT64_MAX);
	scale->consent.step = scale->consent.index == CONSENT_NO_USER ? CONSENT_NONE : CONSENT_DUE;
}
