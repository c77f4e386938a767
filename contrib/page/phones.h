// SPDX-License-Identifier: MIT
#pragma once
/*
 * The paired phones as the server has them: its folder's files, read anew when the folder has changed (looked at with
 * each request, and watched by inotify(7) for the streams that are open). Above: server.c, pair.c. Below: ctl/paired.
 */
#include "contrib/page/rate.h"
#include "daemon/ctl/paired.h"
#include <systemd/sd-event.h>

struct phones {
	int dir_fd;
	struct timespec read_at; /* the folder's time of change then */
	struct paired paired;
	struct rate rates[PAIRED_PHONES]; /* of the phones; full again when they change */
	sd_event_source *watch;
	void (*changed)(void *user); /* after it was read anew */
	void *user;
};

/* Opens, or makes, the folder. 0 or -errno of paired_open(), sd_event_add_inotify(). phones isn't moved. */
int phones_init(struct phones *phones, sd_event *event, const char *dir, void (*changed)(void *user), void *user);
/* Takes one whose phones_init() failed too. */
void phones_done(struct phones *phones);
/* The phone of a cookie's token now, or NULL; *ret_rate is its bucket. */
const struct paired_phone *phones_find(struct phones *phones, const char *token, struct rate **ret_rate);
bool phones_has(const struct phones *phones, const char *id);
