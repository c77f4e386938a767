// SPDX-License-Identifier: MIT
#include "objects.h"
#include "wake.h"
#include "daemon/log.h"

#define RETRY_MAX_US UINT64_C(60000000)

static void failed(struct objects *objects, const char *name, const char *text)
{
	uint64_t us = UINT64_C(1000000) << (objects->failures < 6 ? objects->failures : 6);
	char quoted[128];

	log_line(objects->failures == 0 ? LOG_WARNING : LOG_DEBUG,
		 "radio: " BUS_BLUEZ " tells no objects: %s: %s; trying again", name,
		 log_quote(text, quoted, sizeof quoted));
	objects->failures++;
	objects->denied = strcmp(name, DBUS_ERROR_ACCESS_DENIED) == 0;
	wake_in(objects->timer, us < RETRY_MAX_US ? us : RETRY_MAX_US);
}

static void on_reply(void *userdata, DBusMessage *reply)
{
	struct objects *objects = userdata;
	const char *name, *text;
	bool good = false;

	if (bus_failed(reply, &name, &text)) {
		failed(objects, name, text);
	} else if (!mirror_tree(objects->mirror, reply)) {
		failed(objects, "an answer of another type", "");
	} else {
		good = true;
		objects->loaded = true;
		objects->denied = false;
		objects->failures = 0;
	}
	if (objects->again)
		objects_read(objects);
	objects->done(objects->userdata, good ? reply : NULL);
}

static int on_timer(sd_event_source *source, uint64_t at_us, void *userdata)
{
	(void)source, (void)at_us;
	objects_read(userdata);
	return 0;
}

int objects_init(struct objects *objects, sd_event *event, struct bus *bus, struct mirror *mirror,
		 void (*done)(void *userdata, DBusMessage *reply), void *userdata)
{
	*objects = (struct objects){
		.bus = bus, .mirror = mirror, .done = done, .userdata = userdata
	};
	return wake_new(event, on_timer, objects, &objects->timer);
}

void objects_done(struct objects *objects)
{
	bus_cancel(&objects->call);
	objects->timer = sd_event_source_disable_unref(objects->timer);
}

void objects_read(struct objects *objects)
{
	DBusMessage *message;

	wake_at(objects->timer, UINT64_MAX);
	objects->again = objects->call != NULL;
	if (objects->call)
		return;
	message = bus_method(objects->bus, "/", OBJECTS_MANAGER, "GetManagedObjects");
	if (!message)
		return; /* nobody there; a new owner is read anyway */
	if (bus_call(objects->bus, message, -1, on_reply, objects, &objects->call) < 0)
		failed(objects, "not sent", "");
}

bool objects_pending(const struct objects *objects)
{
	return objects->call != NULL;
}

void objects_forget(struct objects *objects)
{
	bus_cancel(&objects->call);
	wake_at(objects->timer, UINT64_MAX);
	objects->again = false;
	objects->loaded = false;
	objects->denied = false;
	objects->failures = 0;
}
