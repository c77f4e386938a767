// SPDX-License-Identifier: MIT
#include "daemon/notify.h"
#include "daemon/desk/desk.h"
#include <stdio.h>
#include <systemd/sd-daemon.h>
#include <systemd/sd-event.h>

/* Without an allocation, as sd_notifyf() makes one: a READY=1 that there was no memory for would have systemd wait in
 * vain. */
static void tell(const char *what, const char *text)
{
	char line[NOTIFY_TEXT_SIZE + 32];

	(void)snprintf(line, sizeof line, "%s%s", what, text);
	(void)sd_notify(false, line);
}

/* After every turn of the loop in which something happened. */
static int on_turn(sd_event_source *source, void *userdata)
{
	struct notify *notify = userdata;
	char text[NOTIFY_TEXT_SIZE];

	(void)source;
	desk_status_text(notify->desk, text, sizeof text);
	if (strcmp(text, notify->told) == 0)
		return 0;
	memcpy(notify->told, text, sizeof text);
	tell("STATUS=", text); /* a sentence for people; the next one will come */
	return 0;
}

int notify_init(struct notify *notify, struct sd_event *event, const struct desk *desk)
{
	int r;

	*notify = (struct notify){ .desk = desk };
	if (!getenv("NOTIFY_SOCKET"))
		return 0;
	r = sd_event_add_post(event, &notify->post, on_turn, notify);
	return r < 0 ? r : 0;
}

void notify_done(struct notify *notify)
{
	notify->post = sd_event_source_disable_unref(notify->post);
}

void notify_ready(struct notify *notify)
{
	desk_status_text(notify->desk, notify->told, sizeof notify->told);
	tell("READY=1\nSTATUS=", notify->told); /* without systemd nobody waits for it */
}

void notify_reloading(void)
{
	(void)sd_notify(false, "RELOADING=1");
}

void notify_stopping(struct notify *notify)
{
	notify_done(notify);
	(void)sd_notify(false, "STOPPING=1\nSTATUS=Stopping");
}
