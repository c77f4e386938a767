// SPDX-License-Identifier: MIT
#include "contrib/broker/kept.h"
#include "daemon/log.h"
#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#define SAVE_MS INT64_C(1000)

static void begin(const struct kept *kept, struct lane lanes[LOG_KINDS])
{
	struct position position = { 0 };

	switch (position_load(kept->dir, kept->to, &position)) {
	case POSITION_FOUND:
		break;
	case POSITION_NONE:
		log_info("nothing was published yet: from the beginning");
		break;
	case POSITION_OTHER:
		log_info("the broker, the port or a name is another than before: from the beginning");
		break;
	case POSITION_BROKEN:
		log_warning("%s/%s isn't what it was written as: from the beginning, and so some messages come again",
			    kept->folder, POSITION_FILE);
		break;
	}
	for (size_t i = 0; i < LOG_KINDS; i++)
		lane_begin(&lanes[i], position.seq[i], position.id[i]);
}

int kept_open(struct kept *kept, const struct bridge_setup *setup, struct lane lanes[LOG_KINDS])
{
	int r;

	*kept = (struct kept){ .folder = setup->state, .dir = -1 };
	r = position_open(setup->state, &kept->dir);
	if (r == -EAGAIN)
		log_error("another bismar-broker runs with %s: give each its own --state", setup->state);
	else if (r < 0)
		log_error("%s can't be used (%s): name a folder of one's own with --state", setup->state, strerror(-r));
	if (r < 0)
		return r;
	(void)snprintf(kept->to, sizeof kept->to, "%s:%d/%s/%s", setup->link.login->host, setup->link.login->port,
		       setup->base, setup->bridge);
	begin(kept, lanes);
	return 0;
}

int64_t kept_due_ms(const struct kept *kept)
{
	return kept->unsaved ? kept->saved_ms + SAVE_MS : KEPT_NEVER;
}

void kept_save(struct kept *kept, const struct lane lanes[LOG_KINDS], int64_t now_ms)
{
	struct position position = { 0 };
	int r;

	for (size_t i = 0; i < LOG_KINDS; i++) {
		position.seq[i] = lanes[i].acked;
		memcpy(position.id[i], lanes[i].id, sizeof position.id[i]);
	}
	r = position_save(kept->dir, kept->to, &position);
	kept->saved_ms = now_ms;
	kept->unsaved = r < 0;
	if (r < 0 && !kept->told)
		log_warning("how far the broker has come can't be kept in %s (%s); what is published until that is "
			    "mended comes again after a restart",
			    kept->folder, strerror(-r));
	kept->told = r < 0;
}

void kept_close(struct kept *kept, const struct lane lanes[LOG_KINDS])
{
	if (kept->dir < 0)
		return;
	if (kept->unsaved)
		kept_save(kept, lanes, kept->saved_ms);
	(void)close(kept->dir); /* a folder */
	kept->dir = -1;
}
