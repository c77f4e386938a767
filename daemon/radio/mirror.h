// SPDX-License-Identifier: MIT
#pragma once
/*
 * The part of BlueZ's object tree that concerns us: adapters, and the devices of adopted scales
 * with their characteristics and descriptors. Read from GetManagedObjects, InterfacesAdded,
 * InterfacesRemoved and PropertiesChanged; nothing is ever asked of BlueZ here. Above: radio.c and
 * the files beside it. Below: dict.c, broadcast.c. mirror.c keeps it, mirror_read.c reads the messages. A
 * stranger leaves no trace in it.
 *
 * Objects come in any order, some never come, and an adapter may go without a word about its
 * children (facts, 7.1): objects belong together by the prefix of their path alone.
 */
#include "dict.h"
#include "protocols/presentation.h"
#include "radio.h"
#include <limits.h>

#define MIRROR_UUID_SIZE 37

#define MIRROR_ADAPTER "org.bluez.Adapter1"
#define MIRROR_DEVICE "org.bluez.Device1"
#define MIRROR_BATTERY "org.bluez.Battery1"
#define MIRROR_CHARACTERISTIC "org.bluez.GattCharacteristic1"
#define MIRROR_DESCRIPTOR "org.bluez.GattDescriptor1"

#define MIRROR_WEIGHT_SCALE "0000181d-0000-1000-8000-00805f9b34fb"
#define MIRROR_BODY_COMPOSITION "0000181b-0000-1000-8000-00805f9b34fb"

struct broadcast_part;
struct bus_call;
struct discovery;
struct scale;

struct mirror_adapter {
	struct mirror_adapter *next;
	unsigned mark; /* last reading of the tree that told of it */
	char address[RADIO_ADDRESS_SIZE];
	bool powered;
	bool discovering;
	/* discovery.c's own */
	struct {
		struct bus_call *call;
		struct discovery *discovery;
		int state;
		bool confirmed;
		bool borrowed; /* it runs, but perhaps only because another program's does */
		unsigned failures;
		uint64_t retry_us, paused_us, lost_us;
	} scan;
	/* profile.c's own */
	struct bus_call *profile_call;
	bool profile_asked;
	char path[];
};

enum attribute_state {
	ATTRIBUTE_NEW,     /* nothing asked yet on this link */
	ATTRIBUTE_ASKING,  /* StartNotify or ReadValue is under way */
	ATTRIBUTE_RETRY,   /* BlueZ was busy with it */
	ATTRIBUTE_DONE,    /* subscribed, or read */
	ATTRIBUTE_REFUSED, /* not on this link */
};

struct mirror_attribute {
	struct mirror_attribute *next;
	struct mirror_device *device;
	unsigned mark;
	char uuid[MIRROR_UUID_SIZE]; /* lower case */
	uint16_t number;             /* its assigned number, or 0 */
	bool descriptor;             /* else a characteristic */
	bool notifies;               /* its flags have notify or indicate */
	bool writes;                 /* ... and write, that is with response */
	bool not_notifying;          /* BlueZ says that it isn't subscribed */
	/* subscribe.c's own */
	struct bus_call *call;
	enum attribute_state state;
	bool asked;     /* StartNotify was called: values of it are ours */
	bool early;     /* ... before the services were resolved */
	bool rests;     /* ATTRIBUTE_RETRY: until the next pass, or until there is news of the link */
	bool described; /* description holds its 0x2904; on a descriptor: its own octets */
	struct presentation description;
	char path[];
};

/* What was told of a device since scale_update() looked. */
enum {
	SAID_CONNECTED = 1 << 0,
	SAID_DISCONNECTED = 1 << 1,
	SAID_RESOLVED = 1 << 2,
	SAID_HEARD = 1 << 3,
	SAID_BATTERY = 1 << 4,
	SAID_ATTRIBUTE = 1 << 5,
	SAID_UNRESOLVED = 1 << 6,
	SAID_BROADCAST = 1 << 7, /* in a signal, octets that may be a mass */
	SAID_UNHEARD = 1 << 8,   /* RSSI is gone: discovery has ended */
};

#define MIRROR_NO_RSSI INT16_MIN

struct mirror_device {
	struct mirror_device *next;
	struct scale *scale;
	unsigned mark;
	char address[RADIO_ADDRESS_SIZE];
	unsigned said;
	bool connected, resolved, trusted;
	bool paired;      /* bluetoothd holds keys for it */
	bool resolves;    /* its services have been resolved once */
	bool trust_asked; /* scale.c's own */
	bool met;         /* listen.c's own */
	bool announces;   /* that it is a scale to connect to: 0x181D or 0x181B */
	bool broadcasts;  /* octets that may be a mass */
	int16_t rssi_dbm;
	uint8_t battery; /* per cent; 255: not told */
	struct mirror_attribute *attributes;
	unsigned n_attributes;
	char path[];
};

struct mirror_ops {
	/* The adopted scale of that address, or NULL. */
	struct scale *(*adopted)(void *userdata, const char *address);
	/* Whether this part of a broadcast may be a mass. */
	bool (*wanted)(void *userdata, const struct broadcast_part *part);
	/* Just taken out of the mirror, and about to be freed: cancel its calls. */
	void (*adapter_gone)(void *userdata, struct mirror_adapter *adapter);
	void (*device_gone)(void *userdata, struct mirror_device *device);
	void (*attribute_gone)(void *userdata, struct mirror_attribute *attribute);
};

struct mirror {
	const struct mirror_ops *ops;
	void *userdata;
	struct mirror_adapter *adapters;
	struct mirror_device *devices;
	unsigned mark;
	bool reshaped; /* adapters or devices came or went; whoever looks resets it */
};

/* Reads the answer to GetManagedObjects; what it doesn't tell of is gone. false: it isn't one. */
bool mirror_tree(struct mirror *mirror, DBusMessage *reply);
/* The two signals of ObjectManager, and PropertiesChanged. true when anything of ours is concerned.
 */
bool mirror_added(struct mirror *mirror, DBusMessage *signal);
bool mirror_removed(struct mirror *mirror, DBusMessage *signal);
bool mirror_changed(struct mirror *mirror, DBusMessage *signal);
/* Forgets all; or the devices of one scale. */
void mirror_clear(struct mirror *mirror);
void mirror_drop_scale(struct mirror *mirror, const struct scale *scale);

/* NULL when there is none. */
struct mirror_adapter *mirror_adapter(const struct mirror *mirror, const char *path);
struct mirror_adapter *mirror_adapter_of(const struct mirror *mirror,
					 const struct mirror_device *device);
struct mirror_attribute *mirror_attribute(const struct mirror *mirror, const char *path);
/* Whether path lies under parent, or is parent. */
bool mirror_under(const char *path, const char *parent);

/* For mirror_read.c alone. */
struct mirror_device *mirror_device_over(const struct mirror *mirror,
					 const char *path); /* at path or above it */
struct mirror_attribute *mirror_attribute_in(const struct mirror_device *device, const char *path);
/* Zeroed, of size and the path behind it; NULL: no memory. */
void *mirror_object_new(size_t size, const char *path);
/* Drops what the last reading of the tree didn't tell of. */
void mirror_sweep(struct mirror *mirror);

/* Upper-case copy of "aa:bb:cc:dd:ee:ff"; false when it isn't an address. */
bool mirror_address(const char *text, char ret[static RADIO_ADDRESS_SIZE]);
/* The same, from Device1's or Adapter1's properties, or else from the end of a path as BlueZ makes
 * it. */
bool mirror_address_of(const char *path, DBusMessageIter *properties,
		       char ret[static RADIO_ADDRESS_SIZE]);
