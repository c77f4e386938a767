// SPDX-License-Identifier: MIT
#pragma once
/*
 * SIGHUP: reads the configuration file again. The log's level and the declared formats take effect at once; what needs
 * a restart is told by config_reload(). A file with a mistake changes nothing.
 * Above: main.c. Below: config, log, the desk, notify.
 */
struct config;
struct desk;
struct notify;
struct sd_event;
struct sd_event_source;

struct reload {
	struct sd_event_source *hangup;
	struct config *config; /* what is in force */
	struct desk *desk;
	struct notify *notify;
};

/* SIGHUP must be blocked. All are borrowed until reload_done(); reload must not be moved. 0 or -errno. */
int reload_init(struct reload *reload, struct sd_event *event, struct config *config, struct desk *desk,
		struct notify *notify);
/* Also for a zeroed one. */
void reload_done(struct reload *reload);
