// SPDX-License-Identifier: MIT
#include "nursery.h"

const struct pup nursery_pups[PUPS] = {
	{ "Ash", "green", 305 }, { "Birch", "red", 315 },  { "Cedar", "blue", 290 },   { "Elm", "yellow", 330 },
	{ "Fir", "white", 275 }, { "Hazel", "pink", 320 }, { "Larch", "orange", 300 }, { "Maple", "violet", 345 },
};

void nursery_scale(struct rig *rig, struct client *client, const char *address, const char *name, const char *options)
{
	(void)rig_sim(rig, "scale %s \"%s\" %s", address, name, options);
	(void)rig_sim(rig, "advertise %s on", address);
	(void)client_call(client, "scale.adopt", "{s:s, s:s}", "address", address, "name", name);
	(void)rig_sim(rig, "wait-client %s", address);
}

void nursery_litter(struct client *client)
{
	(void)client_call(client, "litter.add", "{s:s}", "name", "amber");
	for (size_t i = 0; i < PUPS; i++)
		(void)client_call(client, "animal.add", "{s:s, s:s, s:s}", "name", nursery_pups[i].name, "litter",
				  "amber", "collar", nursery_pups[i].collar);
}

void nursery_make(struct rig *rig, struct client *client)
{
	nursery_scale(rig, client, BENCH, "bench", "");
	(void)client_call(client, "container.tare", "{s:s, s:i}", "name", "box", "mass_g", BOX_G);
	(void)client_call(client, "container.on", "{s:s, s:s}", "name", "box", "scale", "bench");
	nursery_litter(client);
}

void nursery_send(struct rig *rig, const char *address, const char *hex)
{
	(void)rig_sim(rig, "wait-client %s", address);
	(void)rig_sim(rig, "indicate %s 2a9d %s", address, hex);
}

void nursery_weigh(struct rig *rig, const char *address, int gross_g)
{
	nursery_send(rig, address, nursery_weight(gross_g));
}

/* By a search: its end comes a second later, long after what was on the bus already. */
void nursery_await_read(struct client *client)
{
	const json_t *done;

	(void)client_call(client, "follow", "{s:[s]}", "topics", "found");
	(void)client_call(client, "scale.find", "{s:i}", "seconds", 1);
	do
		done = json_object_get(client_notice(client, "found"), "done");
	while (!done);
}

void nursery_kill(struct rig *rig)
{
	rig_kill_daemon(rig);
	(void)rig_event(rig, "unsubscribed " BENCH);
}

static char *buffer(void)
{
	static char buffers[8][64];
	static unsigned next;

	return buffers[next++ % 8];
}

static unsigned raw_of(int grams)
{
	assert_int_equal(grams % 5, 0);
	return (unsigned)grams / 5;
}

const char *nursery_weight(int grams)
{
	unsigned raw = raw_of(grams);
	char *hex = buffer();

	(void)snprintf(hex, 64, "00%02x%02x", raw & 0xff, raw >> 8);
	return hex;
}

static void stamp(char *to, size_t size, int64_t utc_s, int offset_min)
{
	time_t local = (time_t)(utc_s + offset_min * 60);
	unsigned year;
	struct tm tm;

	assert_non_null(gmtime_r(&local, &tm));
	year = (unsigned)tm.tm_year + 1900;
	(void)snprintf(to, size, "%02x%02x%02x%02x%02x%02x%02x", year & 0xff, year >> 8, (unsigned)tm.tm_mon + 1,
		       (unsigned)tm.tm_mday, (unsigned)tm.tm_hour, (unsigned)tm.tm_min, (unsigned)tm.tm_sec);
}

const char *nursery_weight_at(int grams, int64_t utc_s, int offset_min)
{
	unsigned raw = raw_of(grams);
	char *hex = buffer(), date_time[32];

	stamp(date_time, sizeof date_time, utc_s, offset_min);
	(void)snprintf(hex, 64, "02%02x%02x%s", raw & 0xff, raw >> 8, date_time);
	return hex;
}

const char *nursery_body_at(int grams, int64_t utc_s, int offset_min)
{
	unsigned raw = raw_of(grams);
	char *hex = buffer(), date_time[32];

	stamp(date_time, sizeof date_time, utc_s, offset_min);
	/* flags 0x0402, body fat 200 tenths of a per cent */
	(void)snprintf(hex, 64, "0204c800%s%02x%02x", date_time, raw & 0xff, raw >> 8);
	return hex;
}

const char *nursery_body_half_at(int grams, int64_t utc_s)
{
	unsigned raw = grams ? raw_of(grams) : 24;
	char *hex = buffer(), date_time[32];

	stamp(date_time, sizeof date_time, utc_s, 0);
	/* flags 0x1402 or 0x1022, body fat 200 tenths of a per cent */
	(void)snprintf(hex, 64, "%sc800%s%02x%02x", grams ? "0214" : "2210", date_time, raw & 0xff, raw >> 8);
	return hex;
}

int64_t nursery_now_s(void)
{
	return (int64_t)time(NULL);
}
