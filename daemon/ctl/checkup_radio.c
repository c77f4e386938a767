// SPDX-License-Identifier: MIT
/* From the kernel to a powered adapter. */
#include "daemon/ctl/checkup.h"
#include "daemon/ctl/field.h"
#include <ctype.h>
#include <dirent.h>
#include <fcntl.h>
#include <unistd.h>

#define PATH_SIZE 512
#define NAMES 16

/* The first line of a small file below a root; "" when it can't be read. */
static const char *read_line(const char *root, const char *dir, const char *name, const char *file, char *buffer,
			     size_t size)
{
	char path[PATH_SIZE];
	ssize_t n = 0;
	int fd;

	(void)snprintf(path, sizeof path, "%s/%s/%s/%s", root, dir, name, file);
	fd = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK | O_NOCTTY);
	if (fd >= 0) {
		n = read(fd, buffer, size - 1);
		(void)close(fd); /* only read from */
	}
	buffer[n > 0 ? n : 0] = '\0';
	buffer[strcspn(buffer, "\n")] = '\0';
	return buffer;
}

/* Calls visit for the entries of a folder, until it returns true. Returns whether it did. */
static bool each(const char *root, const char *dir, bool (*visit)(void *userdata, const char *name), void *userdata)
{
	char path[PATH_SIZE];
	bool found = false;
	DIR *stream;

	(void)snprintf(path, sizeof path, "%s/%s", root, dir);
	stream = opendir(path);
	if (!stream)
		return false;
	for (const struct dirent *entry; !found && (entry = readdir(stream));)
		found = entry->d_name[0] != '.' && visit(userdata, entry->d_name);
	(void)closedir(stream);
	return found;
}

static bool exists(const char *root, const char *path)
{
	char full[PATH_SIZE];

	(void)snprintf(full, sizeof full, "%s/%s", root, path);
	return access(full, F_OK) == 0;
}

void checkup_kernel(struct checkup *checkup)
{
	if (exists(checkup->sys, "class/bluetooth"))
		checkup_good(checkup, "Bluetooth is in the kernel.");
	else
		checkup_todo(checkup,
			     "Plug a Bluetooth adapter in; its driver loads by itself. If it is there already: `sudo "
			     "modprobe "
			     "btusb` for one at USB, and `lsusb` shows whether it is seen at all.",
			     "The kernel has no Bluetooth.");
}

/* ---- adapters ---- */

struct names {
	const struct checkup *checkup;
	char text[256];
	size_t n;
};

/* hci0 is one, hci0:12 a connection of it. */
static bool is_adapter(const char *name)
{
	if (strncmp(name, "hci", 3) != 0 || !name[3])
		return false;
	for (const char *at = name + 3; *at; at++)
		if (!isdigit((unsigned char)*at))
			return false;
	return true;
}

static bool note_adapter(void *userdata, const char *name)
{
	struct names *names = userdata;
	size_t used = strlen(names->text);

	if (!is_adapter(name))
		return false;
	(void)snprintf(names->text + used, sizeof names->text - used, "%s%s", names->n ? ", " : "", name);
	return ++names->n >= NAMES;
}

/* A USB interface of class wireless controller, subclass RF, Bluetooth (USB-IF defined class codes, E0h/01h/01h) that
 * no driver has. */
static bool is_orphan(void *userdata, const char *name)
{
	static const char *const files[][2] = {
		{ "bInterfaceClass", "e0" },
		{ "bInterfaceSubClass", "01" },
		{ "bInterfaceProtocol", "01" },
	};
	const struct checkup *checkup = userdata;
	char value[16], driver[128];

	for (size_t i = 0; i < sizeof files / sizeof *files; i++)
		if (strcmp(read_line(checkup->sys, "bus/usb/devices", name, files[i][0], value, sizeof value),
			   files[i][1]) != 0)
			return false;
	(void)snprintf(driver, sizeof driver, "bus/usb/devices/%.96s/driver", name);
	return !exists(checkup->sys, driver);
}

static void find_adapters(const struct checkup *checkup, struct names *ret)
{
	*ret = (struct names){ .checkup = checkup };
	(void)each(checkup->sys, "class/bluetooth", note_adapter, ret);
}

void checkup_adapter(struct checkup *checkup)
{
	struct names names;

	find_adapters(checkup, &names);
	if (names.n > 0)
		checkup_good(checkup, "%s %s driven.", names.text, names.n == 1 ? "is" : "are");
	else if (each(checkup->sys, "bus/usb/devices", is_orphan, checkup))
		checkup_todo(checkup,
			     "`sudo dmesg | grep -i -e bluetooth -e firmware` tells what is missing: often a package "
			     "of firmware, "
			     "or `sudo modprobe btusb`.",
			     "A Bluetooth adapter is plugged in, and no driver has taken it.");
	else
		checkup_todo(checkup, "Plug one in; any that does Bluetooth Low Energy (4.0 or later) will do.",
			     "There is no Bluetooth adapter.");
}

/* ---- switches ---- */

struct switches {
	const struct checkup *checkup;
	char soft[CHECKUP_WORD], hard[CHECKUP_WORD]; /* the first that blocks */
};

static bool note_switch(void *userdata, const char *name)
{
	struct switches *switches = userdata;
	char value[32], label[CHECKUP_WORD];
	const char *sys = switches->checkup->sys;

	if (strcmp(read_line(sys, "class/rfkill", name, "type", value, sizeof value), "bluetooth") != 0)
		return false;
	if (!*read_line(sys, "class/rfkill", name, "name", label, sizeof label))
		(void)snprintf(label, sizeof label, "%.*s", CHECKUP_WORD - 1, name);
	if (strcmp(read_line(sys, "class/rfkill", name, "hard", value, sizeof value), "1") == 0)
		memcpy(switches->hard, label, sizeof label);
	if (strcmp(read_line(sys, "class/rfkill", name, "soft", value, sizeof value), "1") == 0)
		memcpy(switches->soft, label, sizeof label);
	return false;
}

void checkup_rfkill(struct checkup *checkup)
{
	struct switches switches = { .checkup = checkup };
	struct names names;

	(void)each(checkup->sys, "class/rfkill", note_switch, &switches);
	if (*switches.hard)
		checkup_todo(checkup, "Turn the radio on by the machine's switch or key, or in its firmware's setup.",
			     "%s is switched off by hardware.", switches.hard);
	if (*switches.soft)
		checkup_todo(checkup, "`sudo rfkill unblock bluetooth`", "%s is switched off by software.",
			     switches.soft);
	find_adapters(checkup, &names);
	if (!*switches.hard && !*switches.soft && names.n > 0)
		checkup_good(checkup, "No radio switch is off.");
}

/* ---- bluetoothd ---- */

static bool is_bluetoothd(void *userdata, const char *name)
{
	const struct checkup *checkup = userdata;
	char comm[32];

	return isdigit((unsigned char)*name) &&
	       strcmp(read_line(checkup->proc, ".", name, "comm", comm, sizeof comm), "bluetoothd") == 0;
}

/* The daemon's word for what is wrong with its radio; "" when it isn't there to tell. */
static const char *trouble(const struct checkup *checkup)
{
	return field_text(json_object_get(checkup->facts.status, "radio"), "trouble");
}

void checkup_bluetoothd(struct checkup *checkup)
{
	const struct checkup_facts *facts = &checkup->facts;
	bool runs = each(checkup->proc, ".", is_bluetoothd, checkup);

	if (!facts->bus)
		checkup_todo(checkup, "`sudo systemctl start dbus`", "There is no system bus to speak to bluetoothd.");
	else if (facts->bluez && strcmp(trouble(checkup), "no-bluez") != 0)
		checkup_good(checkup, "bluetoothd %s%sruns.", facts->bluez_version, *facts->bluez_version ? " " : "");
	else if (runs)
		checkup_todo(checkup, "`sudo systemctl restart bluetooth`; `journalctl -u bluetooth` tells more.",
			     "bluetoothd runs, but isn't on the system bus.");
	else if (*facts->bluez_version)
		checkup_todo(checkup, "`sudo systemctl enable --now bluetooth`", "bluetoothd doesn't run.");
	else
		checkup_todo(checkup, "`sudo apt-get install bluez`, then `sudo systemctl enable --now bluetooth`",
			     "bluetoothd doesn't run, and doesn't seem to be installed.");
}

/* The daemon's right to speak counts; ours stands in for it where it can't be asked. */
void checkup_policy(struct checkup *checkup)
{
	const struct checkup_facts *facts = &checkup->facts;

	if (strcmp(trouble(checkup), "denied") == 0)
		checkup_todo(checkup,
			     "`sudo usermod -aG bluetooth bismar`, then `sudo systemctl restart bismard`; and look at "
			     "/etc/dbus-1/system.d for a rule that forbids it.",
			     "The bus forbids bismard to speak to bluetoothd.");
	else if (facts->status && facts->bluez)
		checkup_good(checkup, "bismard may speak to bluetoothd.");
	else if (facts->bluez && facts->denied)
		checkup_todo(checkup, "Start bismard, which is in the group bluetooth, and look again.",
			     "The bus forbids you to speak to bluetoothd; whether bismard may isn't known.");
}

void checkup_power(struct checkup *checkup)
{
	const struct checkup_facts *facts = &checkup->facts;
	const char *word = trouble(checkup);

	if (strcmp(word, "adapter-off") == 0 || (!*word && facts->powered == 0))
		checkup_todo(checkup,
			     "`bluetoothctl power on`; AutoEnable=true in /etc/bluetooth/main.conf, under [Policy], "
			     "keeps it so.",
			     "The adapter is off.");
	else if (strcmp(word, "fine") == 0 || (!*word && facts->powered > 0))
		checkup_good(checkup, "The adapter is on.");
	else if (strcmp(word, "no-adapter") == 0)
		checkup_todo(checkup, "See `adapter` above; if it is good there, `sudo systemctl restart bluetooth`.",
			     "bluetoothd has no adapter.");
}
