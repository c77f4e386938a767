// SPDX-License-Identifier: MIT
#pragma once
/*
 * The state of scale-sim, in two halves that only meet when a radio wave would cross: the air (struct peer: what
 * scales are, advertise and answer) and what bluetoothd makes of it (struct adapter, struct device: what the bus
 * shows). Above: every file here. Below: libdbus types alone. This header has no functions.
 */
#include <dbus/dbus.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Caps: a command beyond one is answered with an error line. */
#define SIM_ADAPTERS 4
#define SIM_ATTRS 40
#define SIM_SUBS 8      /* subscribers of one characteristic */
#define SIM_SESSIONS 16 /* bus clients with a discovery session or filter, of one adapter */
#define SIM_APPS 8      /* bus clients' GATT applications, and as many agents */
#define SIM_APP_UUIDS 16
#define SIM_STORED 64 /* readings that a scale keeps until somebody subscribes */
#define SIM_PEERS 64  /* defined scales; strangers are apart */
#define SIM_STRANGERS 20000
#define SIM_VALUE 512 /* longest attribute value, Core specification vol 3 part F 3.2.9 (from memory) */
#define SIM_ADVERT 31 /* longest legacy advertisement */
#define SIM_PARTS 8   /* service and manufacturer data of one scale */

#define SIM_ADDRESS 18
#define SIM_UUID 37
#define SIM_NAME 64
#define SIM_OWNER 64 /* unique bus name; a longer one would be no client of ours */
#define SIM_PATH 160
#define SIM_NEVER INT64_MAX

enum attr_kind { ATTR_SERVICE, ATTR_CHR, ATTR_DESC };

enum attr_flag { ATTR_READ = 1, ATTR_WRITE = 2, ATTR_NOTIFY = 4, ATTR_INDICATE = 8 };

/* One row of a scale's GATT table. */
struct attr {
	enum attr_kind kind;
	char uuid[SIM_UUID];
	uint16_t handle;
	size_t service, chr; /* rows of the parents */
	unsigned flags;
	uint8_t octets[SIM_VALUE]; /* what a Read answers */
	size_t n;
};

/* Steps that can be held (as bits) and made to fail (as index). */
enum step { STEP_CONNECT, STEP_RESOLVE, STEP_SUBSCRIBE, STEP_PAIR, STEP_COUNT };

struct fault {
	unsigned left;       /* attempts that still fail */
	char name[SIM_NAME]; /* D-Bus error name */
	char text[128];
};

struct stored {
	size_t attr;
	uint8_t octets[64];
	size_t n;
};

/* Data that a device broadcasts. */
struct part {
	char uuid[SIM_UUID]; /* of service data; "": manufacturer data of company */
	uint16_t company;
	uint8_t octets[SIM_ADVERT];
	size_t n;
};

/* What a scale wants before it bonds. */
enum bond_ask {
	BOND_NOTHING, /* just works */
	BOND_PASSKEY, /* it shows six digits, to be typed at the client */
	BOND_DISPLAY, /* the client shows six digits, to be typed on the scale */
	BOND_CONFIRM, /* both show the same six digits */
};

/* A device in the air. */
struct peer {
	struct peer *next;
	char address[SIM_ADDRESS];
	char name[SIM_NAME]; /* "": tells none */
	bool random;         /* address type */
	bool hidden;         /* keeps its service UUIDs out of the advertisement */
	bool secure;         /* refuses reads and subscriptions of an unpaired client */
	struct {
		enum bond_ask ask;
		uint32_t digits;
		bool lost; /* it has thrown away the keys that bluetoothd holds */
	} bond;
	struct {
		bool runs, ignores;
		int64_t ahead_s;
	} clock;
	struct {
		uint8_t index;
		uint16_t code;
	} user;
	bool stranger;
	bool advertising; /* audible only while not connected */
	int16_t rssi_dbm;
	int battery_pct;    /* -1: has none */
	struct attr *attrs; /* owned */
	size_t n_attrs;
	struct device *link; /* who is connected to it, or NULL */
	unsigned held;       /* bits 1 << enum step */
	struct fault faults[STEP_COUNT];
	struct stored *stored; /* owned, oldest first */
	size_t n_stored;
	struct part parts[SIM_PARTS]; /* all that it has broadcast; bluetoothd keeps the last of each (from memory) */
	size_t n_parts;
};

/* A notify session of one bus client. It outlives the link; live tells whether the CCCD is written on this one. */
struct sub {
	char owner[SIM_OWNER];
	bool live;
	bool said_held;
	DBusMessage *call; /* StartNotify that waits for its answer, or NULL */
};

/* What bluetoothd knows of one attribute. */
struct attr_state {
	bool known; /* a value was seen */
	uint8_t octets[SIM_VALUE];
	size_t n;
	bool notifying;
	struct sub subs[SIM_SUBS];
	size_t n_subs;
};

enum link_state {
	LINK_DOWN,
	LINK_CONNECTING,
	LINK_UP, /* connected, services not resolved */
	LINK_RESOLVED,
	LINK_CLOSING, /* local Disconnect under way */
};

/* A device object on the bus. */
struct device {
	struct device *next;
	struct adapter *adapter;
	struct peer *peer;
	bool temporary; /* never connected nor paired: vanishes */
	bool heard;     /* RSSI is shown */
	bool paired, trusted;
	bool resolved_once; /* services are known from a former connection */
	bool exported;      /* GATT objects are on the bus */
	bool battery_shown; /* Battery1 is on the bus */
	bool no_auto;       /* Disconnect() of an untrusted device stops auto connection */
	bool mistaken;      /* the link is taken for the one before: no services, and subscribed as it was then */
	bool outlives;      /* its link is to outlive a crash of bluetoothd, as the kernel keeps it */
	bool said_held;
	char alias[SIM_NAME];
	enum link_state link;
	int64_t due_ms, timeout_ms, vanish_ms, pair_ms, auto_ms; /* monotonic; SIM_NEVER: not running */
	DBusMessage *connect_call, *disconnect_call, *pair_call;
	struct { /* of the client's agent, for this Pair */
		bool yet;
		int outcome; /* enum pairing_outcome */
		DBusPendingCall *pending;
		char owner[SIM_OWNER], path[SIM_PATH];
	} asked;
	struct attr_state *states; /* owned, one for each row, while exported */
};

/* One bus client's discovery: it may set a filter without discovering. */
struct session {
	char owner[SIM_OWNER];
	bool discovering;
	bool duplicates;
	bool not_le; /* Transport "bredr" */
	int rssi_min_dbm;
	char uuids[SIM_APP_UUIDS][SIM_UUID];
	size_t n_uuids;
};

/* RegisterApplication: uuids are those of its GattProfile1 objects, which BlueZ connects to by itself. */
struct app {
	char owner[SIM_OWNER];
	char path[SIM_PATH];
	char uuids[SIM_APP_UUIDS][SIM_UUID];
	size_t n_uuids;
	bool ready;
	DBusMessage *call; /* waits for the client's objects */
	DBusPendingCall *pending;
	struct adapter *adapter;
};

struct agent {
	char owner[SIM_OWNER];
	char path[SIM_PATH];
};

struct adapter {
	struct sim *sim;
	bool used;    /* the slot holds an adapter, plugged in or not */
	bool present; /* plugged in; its known devices are kept while it isn't */
	bool powered, discoverable, pairable;
	bool blocked;    /* by rfkill */
	char name[16]; /* "hci0" */
	char address[SIM_ADDRESS];
	char alias[SIM_NAME];
	unsigned busy_left;      /* Powered still answers Busy so often */
	unsigned discovery_left; /* StartDiscovery still fails so often */
	int64_t advert_ms;       /* next time that advertisers are heard */
	struct device *devices;  /* owned */
	struct session sessions[SIM_SESSIONS];
	size_t n_sessions;
	struct app *apps[SIM_APPS]; /* owned */
};

struct settings {
	int64_t connect_ms, resolve_ms, disconnect_ms, pair_ms;
	int64_t connect_timeout_ms; /* of a silent scale */
	int64_t temporary_ms;
	int64_t advert_ms;   /* 0: an advertiser is heard once */
	bool auto_enable;    /* adapters come up powered (main.conf AutoEnable) */
	bool auto_connect;   /* GattProfile1 makes BlueZ connect by itself */
	bool reply_resolved; /* Connect answers after resolving, not after the link */
	bool split_drop;     /* two signals at a disconnect, not one */
	bool per_subscriber; /* an indication is signalled once for each subscriber */
};

/* A storm of foreign advertisements. */
struct storm {
	struct device **devices; /* owned array; the devices belong to the adapter */
	size_t n;
	uint64_t left, sent;
};

struct sim {
	struct settings settings;
	struct adapter adapters[SIM_ADAPTERS];
	struct peer *peers;     /* owned; in the order of their definition, strangers apart */
	struct peer *strangers; /* owned */
	struct agent agents[SIM_APPS];
	size_t n_agents;
	struct storm storm;
	struct bus *bus; /* NULL while bluetoothd "is stopped" */
	bool quiet;      /* no event lines */
	bool quit;
	int exit_status;
};

/* A place in the object tree. Fields below its kind are NULL or 0. */
enum node_kind { NODE_ROOT, NODE_BLUEZ, NODE_ADAPTER, NODE_DEVICE, NODE_SERVICE, NODE_CHR, NODE_DESC };

struct node {
	enum node_kind kind;
	struct sim *sim;
	struct adapter *adapter;
	struct device *device;
	size_t attr;
};
