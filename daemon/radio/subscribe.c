// SPDX-License-Identifier: MIT
#include "scale.h"
#include "consent.h"
#include "current_time.h"
#include "gatt.h"
#include "wake.h"
#include "daemon/limits.h"
#include "daemon/log.h"
#include "protocols/bytes.h"
#include "protocols/formats.h"

#define PASS_US UINT64_C(1000000)
#define PASSES_COMPLETE 3 /* services count as complete without a word about it */
#define PASSES_UNFIT 5    /* services known to be complete count as lacking a measurement */
#define PASSES_MAX 30

/* Assigned Numbers, 3.8 (characteristics) and 3.7 (descriptors). */
enum {
	WEIGHT_SCALE_FEATURE = 0x2A9E,
	BODY_COMPOSITION_FEATURE = 0x2A9B,
	BATTERY_LEVEL = 0x2A19,
	CURRENT_TIME = 0x2A2B,
	WEIGHT = 0x2A98,
	PRESENTATION_FORMAT = 0x2904,
	AGGREGATE_FORMAT = 0x2905,
};

enum role { ROLE_NONE, ROLE_MEASURED, ROLE_DESCRIBED, ROLE_READ };

static bool is_declared(const struct mirror_attribute *attribute)
{
	const struct scale_host *host = attribute->device->scale->host;

	return attribute->notifies && host->ops->wanted &&
	       host->ops->wanted(host->userdata, RADIO_VALUE, attribute->uuid);
}

static enum role role_of(const struct mirror_attribute *attribute)
{
	if (attribute->descriptor)
		return ROLE_NONE;
	switch (attribute->number) {
	case WEIGHT_SCALE_FEATURE:
	case BODY_COMPOSITION_FEATURE:
	case BATTERY_LEVEL:
	case CURRENT_TIME:
		return ROLE_READ;
	case WEIGHT: /* by the User Data Service it is a value kept about a user, and then it
			doesn't notify */
		return attribute->notifies ? ROLE_MEASURED : ROLE_NONE;
	}
	if ((attribute->number != 0 && format_for(attribute->uuid, NULL)) || is_declared(attribute))
		return ROLE_MEASURED;
	return attribute->notifies ? ROLE_DESCRIBED : ROLE_NONE;
}

/* Its 0x2904 when it has exactly one, and no 0x2905: then a value is one number (facts, 3.2). */
static struct mirror_attribute *sole_description(const struct mirror_attribute *attribute)
{
	struct mirror_attribute *found = NULL;

	for (struct mirror_attribute *at = attribute->device->attributes; at; at = at->next) {
		if (!at->descriptor || !mirror_under(at->path, attribute->path))
			continue;
		if (at->number == AGGREGATE_FORMAT || (at->number == PRESENTATION_FORMAT && found))
			return NULL;
		if (at->number == PRESENTATION_FORMAT)
			found = at;
	}
	return found;
}

static bool is_resolved(const struct scale *scale)
{
	return scale->device->resolved || scale->complete;
}

static bool is_complete(const struct scale *scale)
{
	return is_resolved(scale) || scale->passes >= PASSES_COMPLETE;
}

static unsigned count_asked(const struct mirror_device *device)
{
	unsigned n = 0;

	for (struct mirror_attribute *at = device->attributes; at; at = at->next)
		n += at->asked;
	return n;
}

/* "InProgress" and the like: BlueZ is at it, or will be. */
static bool is_busy(const char *name)
{
	return strcmp(name, "org.bluez.Error.InProgress") == 0 ||
	       strcmp(name, "org.bluez.Error.NotReady") == 0 ||
	       strcmp(name, "org.bluez.Error.Busy") == 0;
}

/* Asking again at once would be answered the same, thousands of times a second. */
static void refused_or_busy(struct mirror_attribute *attribute, const char *name)
{
	attribute->state = is_busy(name) ? ATTRIBUTE_RETRY : ATTRIBUTE_REFUSED;
	attribute->rests = true;
}

static void on_notify(void *userdata, DBusMessage *reply)
{
	struct mirror_attribute *attribute = userdata;
	struct scale *scale = attribute->device->scale;
	const char *name, *text;
	bool again =
		attribute->state == ATTRIBUTE_DONE; /* it was subscribed: only a plain no counts */
	char quoted[128];

	if (!bus_failed(reply, &name, &text)) {
		attribute->state = ATTRIBUTE_DONE;
		scale->pairing_told = scale->bond_lost = false;
	} else {
		log_debug("scale %s: StartNotify of %s: %s: %s", scale->address, attribute->uuid,
			  name, log_quote(text, quoted, sizeof quoted));
		if (gatt_is_unpaired(name, text)) {
			attribute->state = ATTRIBUTE_REFUSED;
			scale_needs_pairing(scale); /* its owner may forget the scale in there */
			if (scale->forgotten)
				return;
		} else if (!again) {
			refused_or_busy(attribute, name);
		}
	}
	subscribe_look(scale);
}

static void start_notify(struct scale *scale, struct mirror_attribute *attribute)
{
	struct bus *bus = scale->host->bus;

	if (!attribute->asked && count_asked(attribute->device) >= LIMIT_CHARACTERISTICS) {
		attribute->state = ATTRIBUTE_REFUSED;
		return;
	}
	if (scale->stale && attribute->asked)
		bus_send(bus,
			 bus_method(bus, attribute->path, MIRROR_CHARACTERISTIC, "StopNotify"));
	attribute->asked = true; /* before the answer: values can overtake it (facts, 7.5) */
	attribute->early = !is_resolved(scale);
	if (attribute->state != ATTRIBUTE_DONE)
		attribute->state = ATTRIBUTE_ASKING;
	if (bus_call(bus, bus_method(bus, attribute->path, MIRROR_CHARACTERISTIC, "StartNotify"),
		     -1, on_notify, attribute, &attribute->call) < 0)
		attribute->state = ATTRIBUTE_REFUSED;
}

static void take_octets(struct scale *scale, struct mirror_attribute *attribute, struct bytes value)
{
	const struct radio_ops *ops = scale->host->ops;
	uint8_t percent;

	if (attribute->descriptor) {
		attribute->described = presentation_read(value, &attribute->description);
	} else if (attribute->number == BATTERY_LEVEL) {
		if (ops->battery && bytes_u8(&value, &percent) && percent <= 100)
			ops->battery(scale->host->userdata, scale->address, percent);
	} else if (attribute->number == CURRENT_TIME) {
		current_time_take(scale, attribute, value);
	} else if (ops->feature && value.left <= LIMIT_FRAME_BYTES) {
		ops->feature(scale->host->userdata, scale->address, attribute->number, value.at,
			     value.left);
	}
}

static void on_read(void *userdata, DBusMessage *reply)
{
	struct mirror_attribute *attribute = userdata;
	struct scale *scale = attribute->device->scale;
	const char *name, *text;
	const uint8_t *octets;
	DBusMessageIter at;
	size_t n;

	attribute->state = ATTRIBUTE_DONE;
	if (bus_failed(reply, &name, &text)) {
		log_debug("scale %s: ReadValue of %s: %s", scale->address, attribute->uuid, name);
		refused_or_busy(attribute, name);
	} else if (dbus_message_iter_init(reply, &at) && dict_octets(&at, &octets, &n)) {
		take_octets(scale, attribute, (struct bytes){ octets, n });
	}
	if (!scale->forgotten)
		subscribe_look(scale);
}

static bool is_due(const struct mirror_attribute *attribute)
{
	return attribute->state == ATTRIBUTE_NEW || (attribute->state == ATTRIBUTE_RETRY && !attribute->rests);
}

static void read_value(struct scale *scale, struct mirror_attribute *attribute)
{
	struct bus *bus = scale->host->bus;
	DBusMessage *call = gatt_read(bus, attribute->path,
				      attribute->descriptor ? MIRROR_DESCRIPTOR : MIRROR_CHARACTERISTIC);

	attribute->state = ATTRIBUTE_ASKING;
	if (bus_call(bus, call, -1, on_read, attribute, &attribute->call) < 0)
		attribute->state = ATTRIBUTE_REFUSED;
}

/* A characteristic without an assigned number that is ours: its description decides. */
static void look_described(struct scale *scale, struct mirror_attribute *attribute)
{
	struct mirror_attribute *description;

	if (!is_complete(scale))
		return; /* another 0x2904 may come yet */
	description = sole_description(attribute);
	if (!description)
		return;
	if (!description->described) {
		if (is_due(description))
			read_value(scale, description);
		return;
	}
	if (!presentation_is_mass(&description->description))
		return;
	attribute->description = description->description;
	attribute->described = true;
	start_notify(scale, attribute);
}

static void look_at(struct scale *scale, struct mirror_attribute *attribute)
{
	if (attribute->call)
		return;
	if (attribute->state == ATTRIBUTE_DONE && attribute->early && attribute->not_notifying &&
	    scale->passes > 0 && is_resolved(scale)) {
		/* asked before the services were there, BlueZ says yes at once and may fail later;
		 * ask once more */
		start_notify(scale, attribute);
		return;
	}
	if (!is_due(attribute))
		return;
	switch (role_of(attribute)) {
	case ROLE_NONE:
		break;
	case ROLE_MEASURED:
		start_notify(scale, attribute);
		break;
	case ROLE_DESCRIBED:
		look_described(scale, attribute);
		break;
	case ROLE_READ: /* after the subscription: a scale that is in a hurry must not wait for it
			 */
		if (scale->link.state == LINK_SUBSCRIBED &&
		    (attribute->number != BATTERY_LEVEL || scale->device->battery > 100))
			read_value(scale, attribute);
		break;
	}
}

struct tally {
	unsigned subscribed, refused, pending, doubtful;
};

static struct tally count(const struct scale *scale)
{
	struct tally tally = { 0 };

	for (struct mirror_attribute *at = scale->device->attributes; at; at = at->next) {
		bool waits = at->state == ATTRIBUTE_ASKING || at->state == ATTRIBUTE_RETRY;

		if (at->asked) {
			tally.subscribed += at->state == ATTRIBUTE_DONE;
			tally.refused += at->state == ATTRIBUTE_REFUSED;
			tally.doubtful +=
				at->state == ATTRIBUTE_DONE && at->early && at->not_notifying;
		}
		tally.pending += waits && (at->asked || at->descriptor);
		tally.doubtful += at->state == ATTRIBUTE_RETRY;
	}
	return tally;
}

static void reread(struct scale *scale)
{
	if (!scale->reread)
		scale->host->reload(scale->host);
	scale->reread = true;
}

static void judge(struct scale *scale)
{
	struct tally tally = count(scale);
	bool resolving = scale->link.state == LINK_RESOLVING;

	/* while the link is young, or BlueZ busy, look again by and by; link.c sets the end */
	wake_at(scale->retry, UINT64_MAX);
	if (scale->passes < PASSES_MAX &&
	    (tally.doubtful > 0 || (resolving && tally.subscribed == 0)))
		wake_in(scale->retry, PASS_US);
	if (tally.subscribed > 0) {
		if (resolving)
			scale_feed(scale, LINK_EV_SUBSCRIBED);
		/* BlueZ promises a subscription before it can hold it */
		if (resolving && !scale->forgotten && scale->device->resolves &&
		    !is_resolved(scale) && !scale->speaks)
			scale_feed(scale, LINK_EV_UNRESOLVED);
	} else if (tally.pending == 0 && tally.refused > 0) {
		scale_feed(scale, LINK_EV_SUBSCRIBE_FAILED);
	} else if (tally.pending == 0 && is_complete(scale)) {
		reread(scale); /* services said to be there and not to be seen (facts, 7.4) */
		if (scale->fruitless >= PASSES_UNFIT) {
			log_event(LOG_EVENT_SCALE_UNFIT, LOG_WARNING, "BISMAR_SCALE", scale->address,
				  "scale %s offers no measurement that can be subscribed to", scale->address);
			scale_feed(scale, LINK_EV_UNFIT);
		}
	}
}

void subscribe_look(struct scale *scale)
{
	enum link_state state = scale->link.state;

	if (!scale->device || (state != LINK_RESOLVING && state != LINK_SUBSCRIBED))
		return;
	for (struct mirror_attribute *at = scale->device->attributes; at; at = at->next)
		look_at(scale, at);
	judge(scale);
	/* what is read once a link comes when the subscription stands */
	if (state == LINK_RESOLVING && scale->link.state == LINK_SUBSCRIBED && !scale->forgotten)
		for (struct mirror_attribute *at = scale->device->attributes; at; at = at->next)
			look_at(scale, at);
}

void subscribe_news(struct scale *scale)
{
	for (struct mirror_attribute *at = scale->device ? scale->device->attributes : NULL; at; at = at->next)
		at->rests = false;
	subscribe_look(scale);
}

static int on_retry(sd_event_source *source, uint64_t at_us, void *userdata)
{
	struct scale *scale = userdata;

	(void)source, (void)at_us;
	scale->passes++;
	scale->fruitless += scale->device && is_resolved(scale);
	subscribe_news(scale);
	return 0;
}

int subscribe_init(struct scale *scale)
{
	return wake_new(scale->host->event, on_retry, scale, &scale->retry);
}

void subscribe_begin(struct scale *scale)
{
	scale->passes = 0;
	scale->fruitless = 0;
	scale->reread = false;
	scale->speaks = false;
}

void subscribe_again(struct scale *scale)
{
	if (!scale->device)
		return;
	for (struct mirror_attribute *at = scale->device->attributes; at; at = at->next)
		if (at->state == ATTRIBUTE_REFUSED)
			at->state = ATTRIBUTE_NEW;
	subscribe_look(scale);
	if (!scale->forgotten)
		consent_look(scale);
}

void subscribe_end(struct scale *scale)
{
	wake_at(scale->retry, UINT64_MAX);
	scale->complete = false;
	consent_end(scale);
	current_time_end(scale); /* its owner may forget the scale in there */
	if (!scale->device)
		return;
	for (struct mirror_attribute *at = scale->device->attributes; at; at = at->next) {
		bus_cancel(&at->call);
		at->state = ATTRIBUTE_NEW; /* `asked` stays: BlueZ keeps the subscription for the
					      next link */
	}
}

void subscribe_value(struct scale *scale, struct mirror_attribute *attribute, const uint8_t *octets,
		     size_t n, int64_t received_ms)
{
	const struct radio_ops *ops = scale->host->ops;
	struct radio_frame frame = {
		.address = scale->address,
		.uuid = attribute->uuid,
		.description = attribute->described ? &attribute->description : NULL,
		.octets = octets,
		.n = n,
		.received_ms = received_ms,
		.link = scale->link.number,
	};

	if (attribute->number == CONSENT_USER_CONTROL_POINT && !attribute->descriptor) {
		consent_value(scale, (struct bytes){ octets, n });
		return;
	}
	if (!attribute->asked || attribute->descriptor)
		return;
	if (n > LIMIT_FRAME_BYTES) {
		log_debug("scale %s: %zu octets are longer than any value can be, ignoring",
			  scale->address, n);
		return;
	}
	if (ops->frame)
		ops->frame(scale->host->userdata, &frame);
	log_debug("scale %s: %zu octets of %s", scale->address, n, attribute->uuid);
	if (scale->forgotten || scale->device != attribute->device)
		return;
	/* it speaks, so it is subscribed, whatever the answer will be */
	if (scale->link.state == LINK_RESOLVING) {
		attribute->state = ATTRIBUTE_DONE;
		scale->speaks = true;
		subscribe_look(scale);
	} else if (scale->link.state == LINK_SUBSCRIBED) {
		scale_feed(scale, LINK_EV_SUBSCRIBED);
	}
}
