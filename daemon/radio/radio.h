// SPDX-License-Identifier: MIT
#pragma once
/*
 * BlueZ, over libdbus, on an sd-event loop: adopted scales in, octets of their measured characteristics out.
 * Above: daemon/main.c and daemon/desk, by callbacks. Below: org.bluez on the system bus, protocols/formats for
 * which characteristics to subscribe to. The only user of libdbus. It knows no animal and no database.
 *
 * It never fails because the bus, bluetoothd, the adapter or a scale is missing: it waits and tries again.
 * Only adopted scales are connected to and listened to; others are looked at during radio_find() alone.
 * Files: bus.c (connection, calls), glue.c (libdbus watches and timeouts on sd-event), wake.c (timers), dict.c (reading
 * messages), mirror.c and mirror_read.c (the part of BlueZ's object tree that concerns us), objects.c (when to read it),
 * rules.c (which signals to ask for), scale.c and subscribe.c (one adopted scale), link.c (its state machine), broadcast.c and
 * listen.c (scales that broadcast), agent.c (pairing), current_time.c (a scale's clock), consent.c (its users), gatt.c (calls
 * that these share), probe.c (radio_probe),
 * discovery.c (scanning), profile.c (BlueZ connecting by itself), find.c (radio_find), trouble.c, radio.c (this interface).
 */
#include "link.h"
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct presentation;
struct radio;
struct sd_event;

#define RADIO_ADDRESS_SIZE 18 /* "AA:BB:CC:DD:EE:FF" and the NUL */

/* How octets came. */
enum radio_kind {
	RADIO_VALUE,        /* indicated or notified by a characteristic */
	RADIO_SERVICE_DATA, /* broadcast: service data, the octets after its UUID */
	RADIO_MANUFACTURER, /* broadcast: manufacturer data, the octets after the company's number */
};

struct radio_frame {
	const char *address;  /* of the adopted scale, upper case */
	enum radio_kind kind;
	const char *uuid;     /* of the characteristic or service, 36 characters, lower case; of a company: "0x04d2" */
	const struct presentation *description; /* its 0x2904 when that is what makes it a mass; or NULL */
	const uint8_t *octets;
	size_t n;             /* 0..LIMIT_FRAME_BYTES */
	int64_t received_ms;  /* wall clock, UTC, when the signal was read */
	uint32_t link;        /* number of the connection */
};

struct radio_found {
	const char *address;
	const char *name;     /* "" when it tells none; any UTF-8, as BlueZ gives it */
	bool weight_scale;    /* announces 0x181D */
	bool body_composition; /* announces 0x181B */
	bool broadcast;       /* broadcasts what is or may be a mass: BTHome, or declared in the settings */
	int rssi_dbm;         /* INT16_MIN: not heard now */
};

/* What a scale turned out to offer; for people (radio_probe(), `scale offers`). */
struct radio_offer {
	const char *uuid;     /* of a characteristic, 36 characters, lower case */
	bool notifies, indicates, reads, writes;
	const struct presentation *description; /* its 0x2904; or NULL */
};

/* Pairing, as radio_pair() goes on. */
enum radio_pairing {
	RADIO_PAIRING_NEEDED,  /* not asked for by us: a subscription was refused for want of a bond, or a bond is lost */
	RADIO_PAIRING_PASSKEY, /* the scale shows six digits: hand them to radio_pair_answer() */
	RADIO_PAIRING_SHOW,    /* type these six digits on the scale */
	RADIO_PAIRING_CONFIRM, /* does the scale show these six digits? radio_pair_answer() */
	RADIO_PAIRING_DONE,
	RADIO_PAIRING_FAILED,  /* text says why, for people */
};

/* All called from the loop, never from inside a radio_*() call of the owner's; pointers are borrowed for the
 * duration of the call. None may free the radio. Any may be NULL. */
struct radio_ops {
	/* A value arrived. bluetoothd has confirmed it already: commit it before anything else. */
	void (*frame)(void *userdata, const struct radio_frame *frame);
	/* An adopted scale's link changed its state. */
	void (*link)(void *userdata, const char *address, enum link_state state);
	/* 0..100 per cent. */
	void (*battery)(void *userdata, const char *address, unsigned percent);
	/* Octets of 0x2A9E or 0x2A9B, read once a link; uuid16 tells which. */
	void (*feature)(void *userdata, const char *address, uint16_t uuid16, const uint8_t *octets, size_t n);
	/* Octets of Current Time (0x2A2B), read once a link before anything is set; link is the connection's number. set:
	 * it was off and has been set to local time just now. For results stored in the scale the clock as read counts. */
	void (*clock)(void *userdata, const char *address, const uint8_t *octets, size_t n, int64_t received_ms,
		      uint32_t link, bool set);
	/* Pairing with an adopted scale. passkey: 0..999999 where one is shown, else 0. text: "" or for people. */
	void (*pairing)(void *userdata, const char *address, enum radio_pairing what, uint32_t passkey,
			const char *text);
	/* Whether octets of this kind and UUID (as in radio_frame) are a declared format's; asked, never told. */
	bool (*wanted)(void *userdata, enum radio_kind kind, const char *uuid);
	/* radio_probe(): one for each characteristic, then NULL with ok true; NULL with ok false when it can't be reached. */
	void (*offer)(void *userdata, const char *address, const struct radio_offer *offer, bool ok);
	/* A device in reach during radio_find(); once for each that looks like a scale. */
	void (*found)(void *userdata, const struct radio_found *found);
	void (*find_done)(void *userdata);
	/* What is wrong with bus, bluetoothd or adapter changed; see radio_trouble(). */
	void (*trouble)(void *userdata);
};

/* What stands between us and any scale, worst first. */
enum radio_trouble {
	RADIO_FINE = 0,
	RADIO_NO_BUS,       /* no system bus */
	RADIO_DENIED,       /* the bus's policy forbids talking to org.bluez */
	RADIO_NO_BLUEZ,     /* nobody owns org.bluez */
	RADIO_NO_ADAPTER,
	RADIO_ADAPTER_OFF,  /* there are adapters, none is powered */
	RADIO_STARTING,     /* not known yet: the first look isn't over */
};

/* Creates it and starts connecting. ops is copied; userdata is the owner's. event is referenced. -ENOMEM or
 * another -errno of sd-event. */
int radio_new(struct sd_event *event, const struct radio_ops *ops, void *userdata, struct radio **ret);
/* Ends all calls and sources; no callback fires any more. Takes NULL; returns NULL. Links are left to BlueZ. */
struct radio *radio_free(struct radio *radio);

/* Listens to a scale from now on. address as above, any case; -EINVAL when it isn't one, -EEXIST when adopted
 * already, -ENOSPC at LIMIT_SCALES, -ENOMEM. It need not be in reach. */
int radio_adopt(struct radio *radio, const char *address);
/* ops.wanted answers otherwise from now on: looks again at what the connected scales have. The others are looked at when
 * they connect, and broadcasts when they come. */
void radio_look_again(struct radio *radio);
/* No longer; disconnects it. -ENOENT when it isn't adopted. */
int radio_forget(struct radio *radio, const char *address);
/* Looks for scales for some seconds (1..120); found and find_done follow. A second call while one runs extends it
 * and reports all again. 0, or -EINVAL. Without a powered adapter find_done follows at once. */
int radio_find(struct radio *radio, unsigned seconds);

enum radio_trouble radio_trouble(const struct radio *radio);
/* A sentence for people: what is wrong and what to do. Static storage; "" for RADIO_FINE. */
const char *radio_trouble_text(enum radio_trouble trouble);
/* State of an adopted scale's link; LINK_AWAY for an address that isn't adopted. */
enum link_state radio_link(const struct radio *radio, const char *address);
/* The number of its newest connection, as in radio_frame.link; 0: none yet, or not adopted. */
uint32_t radio_link_number(const struct radio *radio, const char *address);

/* Connects to a device, adopted or not, and tells by ops.offer what it offers; ends a link it made. 0, -EINVAL, -EBUSY
 * when one runs, -ENODEV when bus or adapter are missing. ops.offer follows within 30 s. */
int radio_probe(struct radio *radio, const char *address);

/* Pairs with an adopted scale, only ever because a person asked for it; waits for it to be in reach, a minute at most for
 * all of it. An agent is registered for that time alone. A bond that the scale has lost is removed first.
 * ops.pairing follows, and ends with DONE or FAILED. -ENOENT not adopted, -EBUSY one pairing at a time, -ENODEV. */
int radio_pair(struct radio *radio, const char *address);
/* yes with the passkey asked for (CONFIRM: any), or no. -ENOENT when nothing waits for it, -EINVAL over 999999. */
int radio_pair_answer(struct radio *radio, bool yes, uint32_t passkey);

/* User Data Service: the index and consent code (0..9999) to use on each link with this scale (User Control Point, op
 * 0x02, facts 5.5); index 0xff: none. -ENOENT, -EINVAL. */
int radio_consent(struct radio *radio, const char *address, uint8_t index, unsigned code);
