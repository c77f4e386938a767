// SPDX-License-Identifier: MIT
#include "current_time.h"
#include "gatt.h"
#include "daemon/log.h"
#include <time.h>

/* A machine without a battery for its clock begins in 1970, and must not spread that. */
#define TRUST_FROM_YEAR 2026

bool current_time_is_off(struct bytes value, const struct date_time *now)
{
	struct date_time shown;
	int64_t off_s;

	if (!date_time_read(&value, &shown) || !date_time_valid(&shown))
		return true;
	off_s = date_time_seconds(&shown) - date_time_seconds(now);
	return off_s > CURRENT_TIME_OFF_S || off_s < -CURRENT_TIME_OFF_S;
}

/* Local time, to the nearest second, and the wall clock in ms. false: ours isn't set. */
static bool local_now(struct date_time *ret, int64_t *ret_ms)
{
	struct timespec now;
	time_t seconds;
	struct tm tm;

	(void)clock_gettime(CLOCK_REALTIME, &now); /* always there on Linux */
	*ret_ms = (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
	seconds = now.tv_sec + (now.tv_nsec >= 500000000);
	if (!localtime_r(&seconds, &tm) || tm.tm_year + 1900 < TRUST_FROM_YEAR || tm.tm_year + 1900 > 9999)
		return false;
	*ret = (struct date_time){ .year = (uint16_t)(tm.tm_year + 1900), .month = (uint8_t)(tm.tm_mon + 1),
				   .day = (uint8_t)tm.tm_mday, .hour = (uint8_t)tm.tm_hour, .minute = (uint8_t)tm.tm_min,
				   .second = (uint8_t)(tm.tm_sec < 60 ? tm.tm_sec : 59) };
	return true;
}

static void tell(struct scale *scale, bool set)
{
	const struct radio_ops *ops = scale->host->ops;

	scale->clock.waits = false;
	if (ops->clock && !scale->forgotten)
		ops->clock(scale->host->userdata, scale->address, scale->clock.octets, scale->clock.n,
			   scale->clock.received_ms, scale->clock.link, set);
}

static void on_written(void *userdata, DBusMessage *reply)
{
	struct mirror_attribute *attribute = userdata;
	struct scale *scale = attribute->device->scale;
	const char *name, *text;
	char quoted[128];

	attribute->state = ATTRIBUTE_DONE;
	/* ATT error 0x80, "Data field ignored": it took the time, and not the day of the week, say (facts, 5.2) */
	if (bus_failed(reply, &name, &text) && !strstr(text, "0x80")) {
		log_debug("scale %s: its clock can't be set: %s: %s, ignoring", scale->address, name,
			  log_quote(text, quoted, sizeof quoted));
		tell(scale, false);
		return;
	}
	log_debug("scale %s: its clock was off, and was set to local time", scale->address);
	tell(scale, true);
}

void current_time_take(struct scale *scale, struct mirror_attribute *attribute, struct bytes value)
{
	struct bus *bus = scale->host->bus;
	uint8_t octets[CURRENT_TIME_LENGTH];
	struct date_time now;
	bool trusted;

	if (value.left > sizeof scale->clock.octets) {
		log_debug("scale %s: its clock has %zu octets, ignoring", scale->address, value.left);
		return;
	}
	scale->clock.waits = true;
	scale->clock.n = value.left;
	scale->clock.link = scale->link.number;
	if (value.left)
		memcpy(scale->clock.octets, value.at, value.left);
	trusted = local_now(&now, &scale->clock.received_ms);
	if (!trusted || !attribute->writes || !current_time_is_off(value, &now)) {
		tell(scale, false);
		return;
	}
	current_time_write(&now, octets);
	attribute->state = ATTRIBUTE_ASKING;
	if (bus_call(bus, gatt_write(bus, attribute->path, octets, sizeof octets), -1, on_written, attribute,
		     &attribute->call) < 0) {
		attribute->state = ATTRIBUTE_DONE;
		tell(scale, false);
	}
}

void current_time_end(struct scale *scale)
{
	if (scale->clock.waits)
		tell(scale, false);
}
