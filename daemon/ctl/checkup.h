// SPDX-License-Identifier: MIT
#pragma once
/*
 * `checkup` walks the whole chain as a person would, from the kernel's Bluetooth to the newest reading, and says of
 * each link that it is good, or what to do. It changes nothing and needs no rights; what it may not see it leaves out.
 * Above: the command. Below: /sys, /proc, /etc/group under roots of the caller's choice, and struct checkup_facts.
 *
 * checkup_ask.c asks other programs and the kernel's calls once, and files what they tell in struct checkup_facts; the
 * checks themselves (checkup_radio.c, checkup_service.c, checkup_data.c) look only there and below the roots. So tests
 * make up both.
 */
#include "daemon/ctl/ctl.h"
#include <jansson.h>
#include <sqlite3.h>
#include <stddef.h>
#include <sys/types.h>

#define CHECKUP_WORD 64
#define CHECKUP_TEXT 512
#define CHECKUP_GROUPS 256

/* Our judgement where no source is named. */
#define CHECKUP_DISK_OCTETS (INT64_C(200) * 1000 * 1000) /* less is little: an update alone may take it */
#define CHECKUP_DISK_PERCENT 2
#define CHECKUP_WAL_OCTETS (INT64_C(64) * 1000 * 1000) /* the daemon keeps it at 4 MB unless a reader holds it up */
#define CHECKUP_SILENT_MS (INT64_C(48) * 3600 * 1000)  /* pups are weighed daily at the least (facts, 3) */
#define CHECKUP_BATTERY_PERCENT 15
#define CHECKUP_AHEAD_MS (INT64_C(5) * 60 * 1000) /* a reading later than now by this much: a clock was wrong */
#define CHECKUP_YEAR_MIN 2026                     /* this program is no older */
#define CHECKUP_YEAR_MAX 2199                     /* as the prompt's times */

struct checkup_facts {
	int64_t now_ms;
	/* who asks */
	uid_t uid;
	char user[CHECKUP_WORD];
	gid_t groups[CHECKUP_GROUPS]; /* of this process: since the login */
	size_t n_groups;
	/* the system bus */
	bool bus;                                                             /* it can be spoken to */
	bool bluez;                                                           /* somebody owns org.bluez */
	bool denied;                                                          /* the bus forbids us to speak to it */
	int powered;                                                          /* adapters that are; -1 not known */
	char bluez_version[CHECKUP_WORD];                                     /* "": not known */
	char load[CHECKUP_WORD], active[CHECKUP_WORD], enabled[CHECKUP_WORD]; /* bismard.service; "": no systemd */
	/* bismard */
	json_t *status;                      /* what it answers to `status`; NULL: nothing */
	int socket_error;                    /* 0, or -errno: why not */
	bool socket_denied, database_denied; /* a lack of rights, not of the thing */
	/* the database */
	sqlite3 *db; /* NULL: see db_trouble */
	char db_trouble[CHECKUP_TEXT];
	int64_t wal_octets;            /* -1: there is none */
	int64_t disk_free, disk_total; /* for this user, in octets; total 0: not known */
	/* the clock */
	bool clock_known, clock_synchronised; /* as the kernel has it */
};

struct checkup_line {
	const char *check;
	bool good;
	char say[CHECKUP_TEXT];
	char todo[CHECKUP_TEXT]; /* "" when good */
};

struct checkup {
	const struct ctl *ctl;
	const char *sys, *proc, *etc; /* "/sys", "/proc", "/etc" */
	struct checkup_facts facts;
	/* each line as it is found */
	void (*said)(void *userdata, const struct checkup_line *line);
	void *userdata;
	const char *check; /* the one that looks */
	unsigned n_todo;
};

struct checkup_check {
	const char *name;
	void (*look)(struct checkup *checkup); /* says one line or more; none where there is nothing to look at */
};
extern const struct checkup_check checkup_checks[];
extern const size_t checkup_n_checks;

/* Runs the whole table. */
void checkup_look(struct checkup *checkup);
/* Asks everybody; checkup_forget() frees what it got. Never fails: what can't be had is left as not known. */
void checkup_ask(struct checkup *checkup);
void checkup_forget(struct checkup *checkup);

/* For the checks: says a line. */
__attribute__((format(printf, 2, 3))) void checkup_good(struct checkup *checkup, const char *format, ...);
__attribute__((format(printf, 3, 4))) void checkup_todo(struct checkup *checkup, const char *todo, const char *format,
							...);

void checkup_kernel(struct checkup *checkup);
void checkup_adapter(struct checkup *checkup);
void checkup_rfkill(struct checkup *checkup);
void checkup_bluetoothd(struct checkup *checkup);
void checkup_policy(struct checkup *checkup);
void checkup_power(struct checkup *checkup);
void checkup_service(struct checkup *checkup);
void checkup_socket(struct checkup *checkup);
void checkup_group(struct checkup *checkup);
void checkup_version(struct checkup *checkup);
void checkup_database(struct checkup *checkup);
void checkup_disk(struct checkup *checkup);
void checkup_clock(struct checkup *checkup);
void checkup_scales(struct checkup *checkup);
void checkup_containers(struct checkup *checkup);
