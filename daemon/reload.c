// SPDX-License-Identifier: MIT
#include "daemon/reload.h"
#include "daemon/config.h"
#include "daemon/desk/desk.h"
#include "daemon/log.h"
#include "daemon/notify.h"
#include <signal.h>
#include <systemd/sd-event.h>

static void take(struct reload *reload, const struct config *config)
{
	*reload->config = *config;
	log_set_level(config->log_level);
	desk_set_formats(reload->desk, reload->config->formats, reload->config->n_formats); /* not the caller's copy */
	log_event(LOG_EVENT_RELOADED, LOG_INFO, "BISMAR_FILE", config->file, "the settings have been read again");
}

static int on_hangup(sd_event_source *source, const struct signalfd_siginfo *info, void *userdata)
{
	struct reload *reload = userdata;
	struct config config;

	(void)source;
	(void)info;
	notify_reloading();
	switch (config_reload(reload->config, &config)) {
	case CONFIG_OK:
		take(reload, &config);
		break;
	case CONFIG_STOP: /* there are no arguments to answer */
	case CONFIG_WRONG: /* told */
	case CONFIG_UNREAD:
		break;
	}
	notify_ready(reload->notify);
	return 0;
}

int reload_init(struct reload *reload, struct sd_event *event, struct config *config, struct desk *desk,
		struct notify *notify)
{
	int r;

	*reload = (struct reload){ .config = config, .desk = desk, .notify = notify };
	r = sd_event_add_signal(event, &reload->hangup, SIGHUP, on_hangup, reload);
	return r < 0 ? r : 0;
}

void reload_done(struct reload *reload)
{
	reload->hangup = sd_event_source_disable_unref(reload->hangup);
}
