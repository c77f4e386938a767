// SPDX-License-Identifier: MIT
#pragma once
/*
 * What systemd is told about the service (sd_notify(3)): that it is ready, reads its settings again, or stops; and for
 * `systemctl status` a sentence, whenever it has changed. Without systemd nobody waits for it, and nothing is done.
 * Above: main.c, reload.c. Below: libsystemd, the desk for the sentence. The watchdog is sd-event's own.
 */
#include <stddef.h>

#define NOTIFY_TEXT_SIZE 256

struct desk;
struct sd_event;
struct sd_event_source;

struct notify {
	struct sd_event_source *post;
	const struct desk *desk;
	char told[NOTIFY_TEXT_SIZE];
};

/* desk is borrowed until notify_done(). 0 or -errno. notify must not be moved. */
int notify_init(struct notify *notify, struct sd_event *event, const struct desk *desk);
/* Also for a zeroed one. */
void notify_done(struct notify *notify);

/* Serving; also the end of notify_reloading(). */
void notify_ready(struct notify *notify);
void notify_reloading(void);
/* Stopping; the sentence isn't kept up any more. */
void notify_stopping(struct notify *notify);
