// SPDX-License-Identifier: MIT
#include "scales.h"
#include "chr.h"
#include "device.h"
#include "discovery.h"
#include "fault.h"
#include "model.h"
#include "node.h"
#include "pairing.h"
#include "props.h"
#include "put.h"
#include "table.h"
#include "words.h"
#include <stdarg.h>

static enum command_outcome error(char *text, const char *format, ...) __attribute__((format(printf, 2, 3)));

static enum command_outcome error(char *text, const char *format, ...)
{
	va_list list;

	va_start(list, format);
	vsnprintf(text, COMMANDS_TEXT, format, list);
	va_end(list);
	return COMMAND_ERROR;
}

/* NULL: text says why. */
static struct peer *scale(struct sim *sim, const char *word, char *text)
{
	char address[SIM_ADDRESS];

	if (!words_address(word, address)) {
		error(text, "not an address: %.40s", word);
		return NULL;
	}
	struct peer *peer = model_peer(sim, address);
	if (!peer)
		error(text, "no scale %s", address);
	return peer;
}

/* Reads option i of `scale`, and its values; returns how many words it took, 0 when it's wrong. */
static int option(int n, char **words, struct peer *peer, struct table_options *options)
{
	const char *word = words[0];
	struct table_described *described;
	int64_t number;

	if (!strcmp(word, "body"))
		options->body = true;
	else if (!strcmp(word, "clock"))
		options->clock = ATTR_READ | ATTR_WRITE;
	else if (!strcmp(word, "clock-read"))
		options->clock = ATTR_READ;
	else if (!strcmp(word, "clock-mute"))
		options->clock = ATTR_NOTIFY;
	else if (!strcmp(word, "info"))
		options->info = true;
	else if (!strcmp(word, "nodesc"))
		options->nodesc = true;
	else if (!strcmp(word, "beacon"))
		options->beacon = true;
	else if (!strcmp(word, "random"))
		peer->random = true;
	else if (!strcmp(word, "hidden"))
		peer->hidden = true;
	else if (!strcmp(word, "secure"))
		peer->secure = true;
	else if (n > 1 && pairing_option(peer, word, words[1]))
		return 2;
	else if (!strcmp(word, "user") && n > 2 && words_number(words[1], 0, 254, &number)) {
		peer->user.index = (uint8_t)number;
		options->user = true;
		if (!words_number(words[2], 0, 9999, &number))
			return 0;
		peer->user.code = (uint16_t)number;
		return 3;
	} else if (!strcmp(word, "battery") && n > 1 && words_number(words[1], 0, 255, &number))
		return options->battery_pct = (int)number, 2;
	else if (!strcmp(word, "feature") && n > 1)
		return words_octets(words[1], options->feature, sizeof(options->feature), &options->n_feature) ? 2 : 0;
	else if (!strcmp(word, "described") && n > 2 && options->n_described < TABLE_DESCRIBED) {
		described = &options->described[options->n_described++];
		described->formats = words[2];
		return words_uuid(words[1], described->uuid) ? 3 : 0;
	} else
		return 0;
	return 1;
}

static bool read_options(int n, char **words, struct peer *peer, char *text)
{
	struct table_options options = { .battery_pct = -1, .n_feature = 4 };
	int took;

	for (int i = 3; i < n; i += took) {
		took = option(n - i, words + i, peer, &options);
		if (!took) {
			error(text, "not an option, or its value is missing or wrong: %.40s", words[i]);
			return false;
		}
	}
	if (table_build(peer, &options))
		return true;
	error(text, "0x2904 isn't hexadecimal, or the table is too long");
	return false;
}

enum command_outcome scales_define(struct sim *sim, int n, char **words, char *text)
{
	char address[SIM_ADDRESS];
	struct peer **last = &sim->peers;
	size_t count = 0;

	if (!words_address(words[1], address))
		return error(text, "not an address: %.40s", words[1]);
	if (model_peer(sim, address))
		return error(text, "%s is defined already", address);
	if (strlen(words[2]) >= SIM_NAME || !dbus_validate_utf8(words[2], NULL))
		return error(text, "a name is UTF-8, shorter than %d octets", SIM_NAME);
	for (; *last; last = &(*last)->next)
		count++;
	if (count >= SIM_PEERS)
		return error(text, "no more than %d scales", SIM_PEERS);
	struct peer *peer = model_peer_new(address, words[2]);
	if (!read_options(n, words, peer, text)) {
		free(peer);
		return COMMAND_ERROR;
	}
	*last = peer;
	snprintf(text, COMMANDS_TEXT, "%s", address);
	return COMMAND_DONE;
}

enum command_outcome scales_advertise(struct sim *sim, int n, char **words, char *text)
{
	struct peer *peer = scale(sim, words[1], text);
	int64_t rssi;

	if (!peer)
		return COMMAND_ERROR;
	if (n == 4 && !words_number(words[3], -127, 20, &rssi))
		return error(text, "RSSI is -127..20");
	if (!words_switch(words[2], &peer->advertising))
		return error(text, "on or off?");
	if (n == 4)
		peer->rssi_dbm = (int16_t)rssi;
	discovery_hear_all(sim, peer);
	/* A device that isn't heard any more, and isn't known, goes after a while. */
	for (size_t i = 0; i < SIM_ADAPTERS && !peer->advertising; i++) {
		struct device *device = model_device(&sim->adapters[i], peer->address);
		if (device && device->temporary)
			device->vanish_ms = model_now_ms() + sim->settings.temporary_ms;
	}
	return COMMAND_DONE;
}

enum command_outcome scales_broadcast(struct sim *sim, int n, char **words, char *text)
{
	struct peer *peer = scale(sim, words[1], text);
	bool service = n == 4;
	char uuid[SIM_UUID] = "";
	uint8_t company[2] = { 0 }, octets[SIM_ADVERT];
	size_t n_company = sizeof(company), n_octets;

	if (!peer)
		return COMMAND_ERROR;
	if (service && !words_uuid(words[2], uuid))
		return error(text, "not a UUID: %.40s", words[2]);
	if (!service && (strcmp(words[2], "company") ||
			 !words_octets(words[3], company, sizeof(company), &n_company) || n_company != sizeof(company)))
		return error(text, "usage: broadcast ADDR UUID HEX | ADDR company NNNN HEX");
	if (!words_octets(words[n - 1], octets, sizeof(octets), &n_octets))
		return error(text, "not hexadecimal octets, at most %d", SIM_ADVERT);
	struct part *part = model_part(peer, uuid, (uint16_t)(company[0] << 8 | company[1]));
	if (!part)
		return error(text, "no more than %d kinds of data", SIM_PARTS);
	bool changed = n_octets != part->n || memcmp(octets, part->octets, n_octets);
	memcpy(part->octets, octets, n_octets);
	part->n = n_octets;
	discovery_hear_data(sim, peer, service, changed);
	return COMMAND_DONE;
}

enum command_outcome scales_hush(struct sim *sim, int n, char **words, char *text)
{
	struct peer *peer = scale(sim, words[1], text);

	(void)n;
	if (!peer)
		return COMMAND_ERROR;
	peer->n_parts = 0;
	return COMMAND_DONE;
}

enum command_outcome scales_announce(struct sim *sim, int n, char **words, char *text)
{
	struct peer *peer = scale(sim, words[1], text);
	bool on;

	(void)n;
	if (!peer)
		return COMMAND_ERROR;
	if (!words_switch(words[2], &on))
		return error(text, "on or off?");
	peer->hidden = !on;
	for (size_t i = 0; i < SIM_ADAPTERS; i++) {
		struct device *device = model_device(&sim->adapters[i], peer->address);
		if (device && model_audible(peer))
			props_changed(node_device(device), PROPS_DEVICE, "UUIDs", NULL);
	}
	discovery_hear_all(sim, peer);
	return COMMAND_DONE;
}

/* The characteristic and octets of `indicate`, `store` and `value`. */
static bool read_value(const struct peer *peer, char **words, size_t *attr, uint8_t *octets, size_t size, size_t *n,
		       char *text)
{
	char uuid[SIM_UUID];

	if (!words_uuid(words[2], uuid) || !model_chr(peer, uuid, attr)) {
		error(text, "no characteristic %.40s", words[2]);
		return false;
	}
	if (!words_octets(words[3], octets, size, n)) {
		error(text, "not hexadecimal octets, at most %zu", size);
		return false;
	}
	return true;
}

enum command_outcome scales_indicate(struct sim *sim, int n, char **words, char *text)
{
	struct peer *peer = scale(sim, words[1], text);
	uint8_t octets[SIM_VALUE];
	size_t attr, n_octets;

	(void)n;
	if (!peer || !read_value(peer, words, &attr, octets, sizeof(octets), &n_octets, text))
		return COMMAND_ERROR;
	if (!peer->link || !chr_deliver(peer->link, attr, octets, n_octets))
		return error(text, "not subscribed");
	return COMMAND_DONE;
}

enum command_outcome scales_store(struct sim *sim, int n, char **words, char *text)
{
	struct peer *peer = scale(sim, words[1], text);
	struct stored one;

	(void)n;
	if (!peer || !read_value(peer, words, &one.attr, one.octets, sizeof(one.octets), &one.n, text))
		return COMMAND_ERROR;
	if (!peer->stored)
		peer->stored = put_alloc(SIM_STORED, sizeof(*peer->stored));
	if (peer->n_stored == SIM_STORED)
		return error(text, "no more than %d stored readings", SIM_STORED);
	peer->stored[peer->n_stored++] = one;
	snprintf(text, COMMANDS_TEXT, "%zu", peer->n_stored);
	return COMMAND_DONE;
}

enum command_outcome scales_value(struct sim *sim, int n, char **words, char *text)
{
	struct peer *peer = scale(sim, words[1], text);
	uint8_t octets[SIM_VALUE];
	size_t attr, n_octets;

	(void)n;
	if (!peer || !read_value(peer, words, &attr, octets, sizeof(octets), &n_octets, text))
		return COMMAND_ERROR;
	memcpy(peer->attrs[attr].octets, octets, n_octets);
	peer->attrs[attr].n = n_octets;
	return COMMAND_DONE;
}

enum command_outcome scales_battery(struct sim *sim, int n, char **words, char *text)
{
	struct peer *peer = scale(sim, words[1], text);
	int64_t pct;
	size_t attr;

	(void)n;
	if (!peer)
		return COMMAND_ERROR;
	if (peer->battery_pct < 0)
		return error(text, "it was defined without battery");
	if (!words_number(words[2], 0, 255, &pct))
		return error(text, "per cent is 0..255 (above 100 is reserved)");
	peer->battery_pct = (int)pct;
	if (model_chr(peer, "00002a19-0000-1000-8000-00805f9b34fb", &attr))
		peer->attrs[attr].octets[0] = (uint8_t)pct;
	if (peer->link && peer->link->battery_shown)
		props_changed(node_device(peer->link), PROPS_BATTERY, "Percentage", NULL);
	return COMMAND_DONE;
}

enum command_outcome scales_drop(struct sim *sim, int n, char **words, char *text)
{
	struct peer *peer = scale(sim, words[1], text);
	bool dropped = false;

	(void)n;
	if (!peer)
		return COMMAND_ERROR;
	for (size_t i = 0; i < SIM_ADAPTERS; i++) {
		struct device *device = model_device(&sim->adapters[i], peer->address);
		if (!device || device->link == LINK_DOWN)
			continue;
		device_down(device);
		dropped = true;
	}
	return dropped ? COMMAND_DONE : error(text, "not connected");
}

enum command_outcome scales_mistake(struct sim *sim, int n, char **words, char *text)
{
	struct peer *peer = scale(sim, words[1], text);

	(void)n;
	if (!peer)
		return COMMAND_ERROR;
	if (!peer->link || peer->link->link != LINK_RESOLVED)
		return error(text, "not connected");
	device_mistake(peer->link);
	return COMMAND_DONE;
}

/* `fail hciN power|discovery N` */
static enum command_outcome fail_adapter(struct adapter *adapter, char **words, char *text)
{
	int64_t count;

	if (!words_number(words[3], 0, UINT32_MAX, &count))
		return error(text, "not a count: %.40s", words[3]);
	if (!strcmp(words[2], "power"))
		adapter->busy_left = (unsigned)count;
	else if (!strcmp(words[2], "discovery"))
		adapter->discovery_left = (unsigned)count;
	else
		return error(text, "an adapter can fail at: power discovery");
	return COMMAND_DONE;
}

enum command_outcome scales_fail(struct sim *sim, int n, char **words, char *text)
{
	struct adapter *adapter = model_adapter(sim, words[1]);
	struct peer *peer;
	enum step step;
	int64_t count;

	if (adapter)
		return fail_adapter(adapter, words, text);
	peer = scale(sim, words[1], text);
	if (!peer)
		return COMMAND_ERROR;
	if (!fault_step(words[2], &step))
		return error(text, "a scale can fail at: connect resolve subscribe pair");
	if (!words_number(words[3], 0, UINT32_MAX, &count))
		return error(text, "not a count: %.40s", words[3]);
	if (!fault_set(peer, step, (unsigned)count, n == 5 ? words[4] : NULL))
		return error(text, "not an error: a text, or org.bluez.Error.NAME, or both in double quotes");
	return COMMAND_DONE;
}

enum command_outcome scales_hold(struct sim *sim, int n, char **words, char *text)
{
	struct peer *peer = scale(sim, words[1], text);
	enum step step;

	(void)n;
	if (!peer)
		return COMMAND_ERROR;
	if (!fault_step(words[2], &step))
		return error(text, "steps are: connect resolve subscribe pair");
	peer->held |= 1u << step;
	return COMMAND_DONE;
}

enum command_outcome scales_release(struct sim *sim, int n, char **words, char *text)
{
	struct peer *peer = scale(sim, words[1], text);

	(void)n;
	if (!peer)
		return COMMAND_ERROR;
	peer->held = 0;
	return COMMAND_DONE;
}

enum command_outcome scales_forget(struct sim *sim, int n, char **words, char *text)
{
	struct peer *peer = scale(sim, words[1], text);
	bool known = false;

	(void)n;
	if (!peer)
		return COMMAND_ERROR;
	for (size_t i = 0; i < SIM_ADAPTERS; i++) {
		struct device *device = model_device(&sim->adapters[i], peer->address);
		if (device)
			device_remove(device);
		known = known || device;
	}
	return known ? COMMAND_DONE : error(text, "bluetoothd doesn't know it");
}

enum command_outcome scales_state(struct sim *sim, int n, char **words, char *text)
{
	static const char *const states[] = {
		[LINK_DOWN] = "known",        [LINK_CONNECTING] = "connecting", [LINK_UP] = "connected",
		[LINK_RESOLVED] = "resolved", [LINK_CLOSING] = "closing",
	};
	struct peer *peer = scale(sim, words[1], text);
	struct device *best = NULL;

	(void)n;
	if (!peer)
		return COMMAND_ERROR;
	for (size_t i = 0; i < SIM_ADAPTERS; i++) {
		struct device *device = model_device(&sim->adapters[i], peer->address);
		if (device && (!best || device->link > best->link))
			best = device;
	}
	snprintf(text, COMMANDS_TEXT, "%s %s subscribed %zu stored %zu", peer->address,
		 best ? states[best->link] : "unknown", best ? chr_live(best) : 0, peer->n_stored);
	return COMMAND_DONE;
}
