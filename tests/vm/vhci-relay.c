// SPDX-License-Identifier: MIT
/*
 * One virtual Bluetooth controller a process: joins a kernel hci device, made through /dev/vhci, with one controller of
 * a "btvirt -s" server, whose controllers share the same air. Above: the guest scripts. Below: the kernel, btvirt and
 * protocols/bytes. Used in the test's virtual machine alone.
 *   usage: vhci-relay SOCKET RSSI_DBM
 * It prints hciN when the kernel has made the device, and mends what btvirt 5.66 leaves out of a radio:
 *   - reports carry RSSI 127, "not available": RSSI_DBM is put there;
 *   - peers aren't told that a controller was reset or went away: its links are dropped first.
 * SIGUSR1: the links are lost, both sides get Disconnection Complete with reason 0x08. SIGTERM: unplugged.
 * Opcodes, events and their fields: Bluetooth Core Specification, Vol 4, Part E; packets: Part A, 2 (H4).
 */
#include "protocols/bytes.h"
#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/signalfd.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

/* H4 packet types; the last is /dev/vhci's own. */
enum {
	H4_COMMAND = 1,
	H4_ACL = 2,
	H4_SCO = 3,
	H4_EVENT = 4,
	H4_ISO = 5,
	H4_VHCI = 0xff,
};

enum {
	OPCODE_DISCONNECT = 0x0406, /* 7.1.6 */
	OPCODE_RESET = 0x0c03,      /* 7.3.2 */
};

enum {
	EVENT_DISCONNECTION_COMPLETE = 0x05, /* 7.7.5 */
	EVENT_COMMAND_STATUS = 0x0f,         /* 7.7.15 */
	EVENT_LE_META = 0x3e,                /* 7.7.65 */
};

/* LE subevents (7.7.65.1, .2, .10) and values of fields. */
enum {
	LE_CONNECTION_COMPLETE = 0x01,
	LE_ADVERTISING_REPORT = 0x02,
	LE_ENHANCED_CONNECTION_COMPLETE = 0x0a,
	REASON_CONNECTION_TIMEOUT = 0x08, /* Vol 1, Part F, 2.8 */
	RSSI_NOT_AVAILABLE = 127,
};

#define MAX_LINKS 16
#define MAX_PACKET 8192
#define GOODBYE_MS 1000 /* how long an unplugged controller waits for btvirt to drop its links */

struct relay {
	int kernel; /* /dev/vhci: one packet a read and a write */
	int air;    /* to btvirt: a stream */
	int signals;
	int rssi_dbm;
	uint16_t links[MAX_LINKS]; /* connection handles */
	size_t n_links;
	unsigned own_disconnects; /* of ours, whose Command Status the kernel mustn't see */
	uint8_t held[MAX_PACKET]; /* octets from btvirt, not yet a whole packet */
	size_t n_held;
};

static int send_packet(int fd, const uint8_t *packet, size_t n)
{
	while (n > 0) {
		ssize_t sent = write(fd, packet, n);

		if (sent < 0)
			return -errno;
		packet += sent;
		n -= (size_t)sent;
	}
	return 0;
}

/* Both sides get Disconnection Complete. */
static int lose_links(struct relay *relay)
{
	int r = 0;

	for (size_t i = 0; r == 0 && i < relay->n_links; i++) {
		uint8_t low = (uint8_t)relay->links[i], high = (uint8_t)(relay->links[i] >> 8);
		const uint8_t command[] = { H4_COMMAND, 0x06, 0x04, 3, low, high, REASON_CONNECTION_TIMEOUT };

		r = send_packet(relay->air, command, sizeof command);
		if (r == 0)
			relay->own_disconnects++;
	}
	return r;
}

/* Looks at a command on its way to the air. */
static int watch_command(struct relay *relay, struct bytes b)
{
	uint16_t opcode;
	int r;

	if (!bytes_u16(&b, &opcode))
		return -EBADMSG;
	if (opcode != OPCODE_RESET)
		return 0;
	r = lose_links(relay);
	relay->n_links = 0;
	return r;
}

static int from_kernel(struct relay *relay)
{
	uint8_t packet[MAX_PACKET], type;
	ssize_t n = read(relay->kernel, packet, sizeof packet);
	struct bytes b = { packet, n > 0 ? (size_t)n : 0 };
	uint16_t index;
	int r = 0;

	if (n < 0)
		return -errno;
	if (!bytes_u8(&b, &type))
		return -EPIPE;
	if (type == H4_VHCI) { /* the answer to "create": its opcode, then the device's index */
		if (!bytes_skip(&b, 1) || !bytes_u16(&b, &index))
			return -EBADMSG;
		return printf("hci%u\n", index) < 0 || fflush(stdout) != 0 ? -EIO : 0;
	}
	if (type == H4_COMMAND)
		r = watch_command(relay, b);
	return r < 0 ? r : send_packet(relay->air, packet, (size_t)n);
}

static void watch_disconnection(struct relay *relay, struct bytes b)
{
	uint16_t handle;

	if (!bytes_skip(&b, 1) || !bytes_u16(&b, &handle))
		return;
	for (size_t i = 0; i < relay->n_links; i++)
		if (relay->links[i] == handle) {
			relay->links[i] = relay->links[--relay->n_links];
			return;
		}
}

static void watch_connection(struct relay *relay, struct bytes b)
{
	uint8_t status;
	uint16_t handle;

	if (bytes_u8(&b, &status) && bytes_u16(&b, &handle) && status == 0 && relay->n_links < MAX_LINKS)
		relay->links[relay->n_links++] = handle;
}

static void watch_le_event(struct relay *relay, struct bytes b, uint8_t *last_octet)
{
	uint8_t subevent;

	if (!bytes_u8(&b, &subevent))
		return;
	if (subevent == LE_CONNECTION_COMPLETE || subevent == LE_ENHANCED_CONNECTION_COMPLETE)
		watch_connection(relay, b);
	else if (subevent == LE_ADVERTISING_REPORT && *last_octet == RSSI_NOT_AVAILABLE)
		*last_octet = (uint8_t)relay->rssi_dbm; /* btvirt sends one report an event, RSSI last */
}

/* True for the answer to one of our own. */
static bool watch_status(struct relay *relay, struct bytes b)
{
	uint16_t opcode;

	if (!bytes_skip(&b, 2) || !bytes_u16(&b, &opcode) || opcode != OPCODE_DISCONNECT || relay->own_disconnects == 0)
		return false;
	relay->own_disconnects--;
	return true;
}

/* Looks at an event on its way to the kernel. 1: swallow it. */
static int watch_event(struct relay *relay, uint8_t *packet, size_t n)
{
	struct bytes b = { packet + 1, n - 1 };
	uint8_t event;

	if (!bytes_u8(&b, &event) || !bytes_skip(&b, 1))
		return -EBADMSG;
	switch (event) {
	case EVENT_LE_META:
		watch_le_event(relay, b, packet + n - 1);
		return 0;
	case EVENT_DISCONNECTION_COMPLETE:
		watch_disconnection(relay, b);
		return 0;
	case EVENT_COMMAND_STATUS:
		return watch_status(relay, b);
	}
	return 0;
}

/* Octets of the whole packet that begins here. 1: too few yet to tell. -EBADMSG: no packet begins so. */
static int packet_length(struct bytes b, size_t *ret)
{
	uint8_t type, u8;
	uint16_t u16;

	if (!bytes_u8(&b, &type))
		return 1;
	switch (type) {
	case H4_COMMAND:
	case H4_SCO:
		if (!bytes_skip(&b, 2) || !bytes_u8(&b, &u8))
			return 1;
		*ret = 4u + u8;
		return 0;
	case H4_ACL:
	case H4_ISO:
		if (!bytes_skip(&b, 2) || !bytes_u16(&b, &u16))
			return 1;
		*ret = 5u + u16;
		return 0;
	case H4_EVENT:
		if (!bytes_skip(&b, 1) || !bytes_u8(&b, &u8))
			return 1;
		*ret = 3u + u8;
		return 0;
	}
	return -EBADMSG;
}

static int pass_to_kernel(struct relay *relay, uint8_t *packet, size_t n)
{
	int r = *packet == H4_EVENT ? watch_event(relay, packet, n) : 0;

	return r == 0 ? send_packet(relay->kernel, packet, n) : r;
}

static int from_air(struct relay *relay)
{
	ssize_t n = read(relay->air, relay->held + relay->n_held, sizeof relay->held - relay->n_held);
	uint8_t *packet = relay->held;
	size_t length;
	int r;

	if (n <= 0)
		return n < 0 ? -errno : -EPIPE;
	relay->n_held += (size_t)n;
	while ((r = packet_length((struct bytes){ packet, relay->n_held }, &length)) == 0 && length <= relay->n_held) {
		r = pass_to_kernel(relay, packet, length);
		if (r < 0)
			return r;
		packet += length;
		relay->n_held -= length;
	}
	memmove(relay->held, packet, relay->n_held);
	if (r >= 0 && relay->n_held == sizeof relay->held)
		return -EMSGSIZE;
	return r < 0 ? r : 0;
}

/* The kernel's device goes at once, then the peers hear of it: btvirt would never tell them. */
static int unplug(struct relay *relay)
{
	struct pollfd answered = { relay->air, POLLIN, 0 };
	int r;

	(void)close(relay->kernel); /* nothing is buffered there */
	relay->kernel = open("/dev/null", O_WRONLY | O_CLOEXEC);
	if (relay->kernel < 0)
		return -errno;
	r = lose_links(relay);
	while (r >= 0 && relay->own_disconnects > 0 && poll(&answered, 1, GOODBYE_MS) > 0)
		r = from_air(relay);
	return r < 0 ? r : 1;
}

/* 1: the end. */
static int from_signals(struct relay *relay)
{
	struct signalfd_siginfo info;

	if (read(relay->signals, &info, sizeof info) != sizeof info)
		return -EIO;
	return info.ssi_signo == SIGUSR1 ? lose_links(relay) : unplug(relay);
}

static int run(struct relay *relay)
{
	enum { KERNEL, AIR, SIGNALS, N };
	int r = 0;

	while (r == 0) {
		struct pollfd ready[N] = {
			[KERNEL] = { relay->kernel, POLLIN, 0 },
			[AIR] = { relay->air, POLLIN, 0 },
			[SIGNALS] = { relay->signals, POLLIN, 0 },
		};

		if (poll(ready, N, -1) < 0)
			r = -errno;
		if (r == 0 && ready[SIGNALS].revents)
			r = from_signals(relay);
		if (r == 0 && ready[KERNEL].revents)
			r = from_kernel(relay);
		if (r == 0 && ready[AIR].revents)
			r = from_air(relay);
	}
	return r;
}

static bool open_signals(struct relay *relay)
{
	sigset_t set;

	(void)sigemptyset(&set); /* can't fail with valid signals */
	(void)sigaddset(&set, SIGUSR1);
	(void)sigaddset(&set, SIGTERM);
	(void)sigprocmask(SIG_BLOCK, &set, NULL);
	relay->signals = signalfd(-1, &set, SFD_CLOEXEC);
	return relay->signals >= 0;
}

static bool open_air(struct relay *relay, const char *path)
{
	struct sockaddr_un to = { .sun_family = AF_UNIX };

	if ((size_t)snprintf(to.sun_path, sizeof to.sun_path, "%s", path) >= sizeof to.sun_path) {
		errno = ENAMETOOLONG;
		return false;
	}
	relay->air = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
	return relay->air >= 0 && connect(relay->air, (struct sockaddr *)&to, sizeof to) == 0;
}

static bool open_kernel(struct relay *relay)
{
	static const uint8_t create[] = { H4_VHCI, 0 }; /* a primary controller */

	relay->kernel = open("/dev/vhci", O_RDWR | O_CLOEXEC);
	return relay->kernel >= 0 && write(relay->kernel, create, sizeof create) == sizeof create;
}

static bool parse_int(const char *text, int min, int max, int *ret)
{
	char *end;
	long value;

	errno = 0;
	value = strtol(text, &end, 10);
	if (errno != 0 || end == text || *end != '\0' || value < min || value > max)
		return false;
	*ret = (int)value;
	return true;
}

static int fail(const char *what)
{
	(void)fprintf(stderr, "vhci-relay: %s: %s\n", what, strerror(errno));
	return 1;
}

int main(int argc, char **argv)
{
	struct relay relay = { 0 };
	int r;

	if (argc != 3 || !parse_int(argv[2], -127, 20, &relay.rssi_dbm)) { /* 7.7.65.2 */
		(void)fprintf(stderr, "usage: vhci-relay SOCKET RSSI_DBM\n");
		return 2;
	}
	if (!open_signals(&relay))
		return fail("signalfd");
	if (!open_air(&relay, argv[1]))
		return fail(argv[1]);
	if (!open_kernel(&relay))
		return fail("/dev/vhci");
	r = run(&relay);
	errno = -r;
	return r < 0 ? fail("relaying") : 0;
}
