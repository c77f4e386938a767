// SPDX-License-Identifier: MIT
#include "commands.h"
#include "adapter.h"
#include "bus.h"
#include "cts.h"
#include "discovery.h"
#include "model.h"
#include "pairing.h"
#include "pup.h"
#include "say.h"
#include "scales.h"
#include "strangers.h"
#include "words.h"

struct command {
	const char *name;
	int least, most; /* words after the name */
	const char *usage, *help;
	enum command_outcome (*run)(struct sim *sim, int n, char **words, char *text);
};

static enum command_outcome fail(char *text, const char *why)
{
	words_copy(text, COMMANDS_TEXT, why);
	return COMMAND_ERROR;
}

static bool good_adapter_name(const char *name)
{
	return !strncmp(name, "hci", 3) && name[3] && strlen(name) < 6 &&
	       strspn(name + 3, "0123456789") == strlen(name + 3);
}

static enum command_outcome adapter(struct sim *sim, int n, char **words, char *text)
{
	char address[SIM_ADDRESS];
	bool on;

	if (!strcmp(words[1], "add")) {
		if (n != 4 || !good_adapter_name(words[2]) || !words_address(words[3], address))
			return fail(text, "usage: adapter add hciN ADDR");
		return adapter_plug(sim, words[2], address) ? COMMAND_DONE
							    : fail(text, "no adapter left, or name or address in use");
	}
	struct adapter *one = model_adapter(sim, words[2]);
	if (!strcmp(words[1], "remove") && (n == 3 || !strcmp(words[3], "abrupt"))) {
		if (!one)
			return fail(text, "no such adapter");
		adapter_unplug(one, n == 4);
		return COMMAND_DONE;
	}
	if (!strcmp(words[1], "power") && n == 4 && words_switch(words[3], &on)) {
		if (!one || (on && one->blocked))
			return fail(text, "no such adapter, or rfkill blocks it");
		adapter_set_power(one, on);
		return COMMAND_DONE;
	}
	if (!strcmp(words[1], "block") && n == 4 && words_switch(words[3], &on)) {
		if (!one)
			return fail(text, "no such adapter");
		adapter_block(one, on);
		return COMMAND_DONE;
	}
	return fail(text, "usage: adapter add hciN ADDR | remove hciN [abrupt] | power|block hciN on|off");
}

static enum command_outcome strangers(struct sim *sim, int n, char **words, char *text)
{
	int64_t devices, changes;

	(void)n;
	if (!words_number(words[1], 0, SIM_STRANGERS, &devices) ||
	    !words_number(words[2], 0, INT64_C(1000000000), &changes))
		return fail(text, "usage: strangers N M, N up to 20000, M up to 1000000000");
	const char *wrong = strangers_start(sim, (size_t)devices, (uint64_t)changes);
	return wrong ? fail(text, wrong) : COMMAND_DONE;
}

static enum command_outcome scan(struct sim *sim, int n, char **words, char *text)
{
	struct adapter *one = model_adapter(sim, words[1]);
	bool on, duplicates = n == 4;

	if (!words_switch(words[2], &on) || (duplicates && strcmp(words[3], "duplicates")))
		return fail(text, "usage: scan hciN on|off [duplicates]");
	if (!one || !one->powered)
		return fail(text, "no such adapter, or it is off");
	return discovery_by_other(one, on, duplicates) ? COMMAND_DONE : fail(text, "too many clients");
}

static enum command_outcome set(struct sim *sim, int n, char **words, char *text)
{
	struct settings *s = &sim->settings;
	const struct {
		const char *key;
		int64_t *ms;
		bool *on;
	} keys[] = {
		{ "connect-ms", &s->connect_ms, NULL },
		{ "resolve-ms", &s->resolve_ms, NULL },
		{ "disconnect-ms", &s->disconnect_ms, NULL },
		{ "pair-ms", &s->pair_ms, NULL },
		{ "connect-timeout-ms", &s->connect_timeout_ms, NULL },
		{ "temporary-ms", &s->temporary_ms, NULL },
		{ "advert-ms", &s->advert_ms, NULL },
		{ "auto-enable", NULL, &s->auto_enable },
		{ "auto-connect", NULL, &s->auto_connect },
		{ "reply-resolved", NULL, &s->reply_resolved },
		{ "split-drop", NULL, &s->split_drop },
		{ "per-subscriber", NULL, &s->per_subscriber },
	};

	(void)n;
	for (size_t i = 0; i < sizeof(keys) / sizeof(*keys); i++) {
		if (strcmp(words[1], keys[i].key))
			continue;
		if (keys[i].ms ? words_number(words[2], 0, 86400000, keys[i].ms) : words_switch(words[2], keys[i].on))
			return COMMAND_DONE;
		return fail(text, keys[i].ms ? "milliseconds, up to a day" : "on or off?");
	}
	return fail(text, "no such setting; --help lists them");
}

void commands_stop(struct sim *sim)
{
	struct bus *bus = sim->bus;

	sim->bus = NULL; /* what goes now isn't signalled: the name goes */
	for (size_t i = 0; i < SIM_ADAPTERS; i++)
		if (sim->adapters[i].used)
			adapter_reset(&sim->adapters[i]);
	sim->n_agents = 0;
	bus_close(bus);
}

bool commands_start(struct sim *sim)
{
	if (!bus_open(sim, &sim->bus))
		return false;
	say_event(sim, "ready %s", bus_name(sim->bus));
	for (size_t i = 0; i < SIM_ADAPTERS; i++)
		if (sim->adapters[i].present)
			adapter_show(&sim->adapters[i]);
	return true;
}

static enum command_outcome stop(struct sim *sim, int n, char **words, char *text)
{
	(void)n, (void)words;
	if (!sim->bus)
		return fail(text, "stopped already");
	commands_stop(sim);
	return COMMAND_DONE;
}

static enum command_outcome start(struct sim *sim, int n, char **words, char *text)
{
	(void)n, (void)words;
	if (sim->bus)
		return fail(text, "it runs");
	return commands_start(sim) ? COMMAND_DONE : fail(text, "the bus refuses");
}

static enum command_outcome restart(struct sim *sim, int n, char **words, char *text)
{
	bool old_links = n == 2;

	if (old_links && strcmp(words[1], "old-links"))
		return fail(text, "usage: restart [old-links]");
	for (size_t i = 0; old_links && i < SIM_ADAPTERS; i++)
		adapter_keep_links(&sim->adapters[i]);
	commands_stop(sim);
	for (size_t i = 0; old_links && i < SIM_ADAPTERS; i++)
		adapter_take_links(&sim->adapters[i]);
	return commands_start(sim) ? COMMAND_DONE : fail(text, "the bus refuses");
}

static enum command_outcome quiet(struct sim *sim, int n, char **words, char *text)
{
	(void)n;
	return words_switch(words[1], &sim->quiet) ? COMMAND_DONE : fail(text, "on or off?");
}

static enum command_outcome wait_client(struct sim *sim, int n, char **words, char *text)
{
	char address[SIM_ADDRESS];

	(void)sim;
	return n == 1 || words_address(words[1], address) ? COMMAND_WAIT : fail(text, "usage: wait-client [ADDR]");
}

static enum command_outcome pause_ms(struct sim *sim, int n, char **words, char *text)
{
	int64_t ms;

	(void)sim, (void)n;
	return words_number(words[1], 0, 86400000, &ms) ? COMMAND_WAIT : fail(text, "milliseconds, up to a day");
}

static enum command_outcome quit(struct sim *sim, int n, char **words, char *text)
{
	(void)n, (void)words, (void)text;
	sim->quit = true;
	return COMMAND_DONE;
}

static enum command_outcome help(struct sim *sim, int n, char **words, char *text);

static const struct command commands[] = {
	{ "adapter", 2, 3, "add hciN ADDR | remove hciN [abrupt] | power|block hciN on|off",
	  "plug in, pull out, switch, rfkill; abrupt: children vanish without a signal", adapter },
	{ "scale", 2, COMMANDS_WORDS, "ADDR NAME [OPTION]...", "define a scale; options are below", scales_define },
	{ "advertise", 2, 3, "ADDR on|off [RSSI]", "it can be heard while not connected", scales_advertise },
	{ "broadcast", 3, 4, "ADDR UUID HEX | ADDR company NNNN HEX",
	  "one advertisement with these service or manufacturer data; an advertiser keeps them", scales_broadcast },
	{ "hush", 1, 1, "ADDR", "it broadcasts no data any more; what bluetoothd makes anew has none", scales_hush },
	{ "announce", 2, 2, "ADDR on|off", "its service UUIDs are in the advertisement, or hidden", scales_announce },
	{ "indicate", 3, 3, "ADDR UUID HEX", "one indication or notification", scales_indicate },
	{ "store", 3, 3, "ADDR UUID HEX", "kept until subscribed to; then sent, oldest first", scales_store },
	{ "pup", 1, 2, "GRAMS [FLAGS]", "indicate 0x2A9D of the first scale, nearest 5 g step", pup_run },
	{ "value", 3, 3, "ADDR UUID HEX", "what a ReadValue answers", scales_value },
	{ "clock", 2, 3, "ADDR SECONDS [ignores]", "its clock runs, so far ahead; ignores: a write is answered by 0x80", cts_command },
	{ "type", 2, 2, "ADDR DIGITS", "its user types the six digits that the client shows", pairing_type },
	{ "unbond", 1, 1, "ADDR", "it throws away the keys that bluetoothd holds", pairing_unbond },
	{ "battery", 2, 2, "ADDR PERCENT", "it changes", scales_battery },
	{ "drop", 1, 1, "ADDR", "the link, or the attempt, is lost", scales_drop },
	{ "mistake", 1, 1, "ADDR", "the link is lost and back at once, and bluetoothd takes it for the old one", scales_mistake },
	{ "fail", 3, 4, "ADDR connect|resolve|subscribe|pair N [ERROR]", "the next N attempts fail", scales_fail },
	{ "fail", 3, 3, "hciN power|discovery N", "the next N calls answer Busy, or InProgress", scales_fail },
	{ "hold", 2, 2, "ADDR connect|resolve|subscribe|pair", "that step hangs", scales_hold },
	{ "release", 1, 1, "ADDR", "steps go on", scales_release },
	{ "forget", 1, 1, "ADDR", "bluetoothd removes the object", scales_forget },
	{ "state", 1, 1, "ADDR", "how far its link is", scales_state },
	{ "strangers", 2, 2, "N M", "M changes of N foreign devices; 0 0 removes them", strangers },
	{ "scan", 2, 3, "hciN on|off [duplicates]", "another program discovers; duplicates: it wants every repeat", scan },
	{ "stop", 0, 0, "", "bluetoothd ends", stop },
	{ "start", 0, 0, "", "and starts, with another unique name", start },
	{ "restart", 0, 1, "[old-links]", "both; old-links: links outlive it in the kernel, and their services are never told", restart },
	{ "set", 2, 2, "KEY VALUE", "settings are below", set },
	{ "wait-client", 0, 1, "[ADDR]", "answers when a client is subscribed; later lines wait", wait_client },
	{ "pause", 1, 1, "MS", "answers after so long; later lines wait", pause_ms },
	{ "quiet", 1, 1, "on|off", "no event lines", quiet },
	{ "help", 0, 0, "", "this table, on standard error", help },
	{ "quit", 0, 0, "", "so does the end of standard input, unless --stay", quit },
};

static const char more[] =
	"\nOPTION of scale: battery PERCENT | feature HEX | body (0x181B) | clock (0x1805; clock-read, clock-mute:\n"
	"  can't be written, can only notify) | info (0x180A) | user INDEX CODE (0x181C) |\n"
	"  described UUID HEX2904[,HEX2904] (vendor service, notify) | nodesc (no descriptors) | beacon (no services) "
	"|\n"
	"  random (address) | hidden (no UUIDs in the advertisement) | secure (pair first) |\n"
	"  passkey DIGITS (it shows them) | display DIGITS (they are typed there) | confirm DIGITS (both show them)\n"
	"ERROR: a text for org.bluez.Error.Failed, or org.bluez.Error.NAME, or \"both\"\n"
	"set: connect-ms 50, resolve-ms 50, disconnect-ms 20, pair-ms 50, connect-timeout-ms 41000,\n"
	"  temporary-ms 30000, advert-ms 1000 (0: heard once), auto-enable on, auto-connect on,\n"
	"  reply-resolved off (Connect answers after resolving), split-drop off (two signals at a disconnect),\n"
	"  per-subscriber off (one signal for each subscriber)\n"
	"Answers: \"ok COMMAND ...\" or \"error ...\". Between them: \"event WORD ...\".\n";

void commands_help(FILE *out)
{
	fputs("scale-sim [--stay] [--help]: org.bluez on the bus of DBUS_SYSTEM_BUS_ADDRESS. Commands on standard "
	      "input:\n\n",
	      out);
	for (size_t i = 0; i < sizeof(commands) / sizeof(*commands); i++)
		fprintf(out, "  %s %s\n      %s\n", commands[i].name, commands[i].usage, commands[i].help);
	fputs(more, out);
}

static enum command_outcome help(struct sim *sim, int n, char **words, char *text)
{
	(void)sim, (void)n, (void)words, (void)text;
	commands_help(stderr);
	return COMMAND_DONE;
}

enum command_outcome commands_run(struct sim *sim, int n, char **words, char text[static COMMANDS_TEXT])
{
	const struct command *near = NULL;

	*text = '\0';
	for (size_t i = 0; i < sizeof(commands) / sizeof(*commands); i++) {
		const struct command *command = &commands[i];
		if (strcmp(command->name, words[0]))
			continue;
		near = near ? near : command;
		if (n - 1 >= command->least && n - 1 <= command->most)
			return command->run(sim, n, words, text);
	}
	if (near)
		snprintf(text, COMMANDS_TEXT, "usage: %s %s", near->name, near->usage);
	else
		snprintf(text, COMMANDS_TEXT, "unknown command: %.40s; help lists them", words[0]);
	return COMMAND_ERROR;
}
